"""Numbers, curves, shapes and drawings for other programs."""
