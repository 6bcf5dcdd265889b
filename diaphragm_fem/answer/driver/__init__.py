"""A diaphragm with motor, chambers, exit or free air around it."""
