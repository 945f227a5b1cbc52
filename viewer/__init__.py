"""The window and the command line: they show stages and start work, and compute nothing of their own."""
