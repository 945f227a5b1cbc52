"""The five places of the window: Job, Captures, Compare, Proof, Library."""
