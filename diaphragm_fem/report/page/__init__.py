"""Pages that move: one file that opens from disk, its script solving the reduced model."""
