"""Equilibrium and periodic motion of what moves far; nothing here knows a shell."""
