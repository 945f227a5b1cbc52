"""Made signals with their ground truth, one module a signal kind; they share no code with what judges them."""
