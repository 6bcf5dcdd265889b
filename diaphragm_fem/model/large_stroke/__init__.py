"""The shell as it moves far: exact equilibrium of the meridian, and small motion of any order about it."""
