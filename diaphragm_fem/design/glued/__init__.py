"""What is glued on a diaphragm: coil and former, beads of glue, walls that overlap."""
