"""What to change: the numbers of a design file, and how each moves every figure."""
