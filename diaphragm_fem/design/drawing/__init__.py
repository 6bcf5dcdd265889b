"""Shapes from drawings: mid-lines, or the middle between two faces of a wall, and those faces again."""
