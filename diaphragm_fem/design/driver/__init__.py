"""What surrounds a diaphragm: air, motor, chambers, slots and exit, as numbers."""
