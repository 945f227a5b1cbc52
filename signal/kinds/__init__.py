"""Signal kinds: what a wire carries, its limits and its checks, one file each."""
