"""Modes: frequencies with proof that none is missing, their losses, shares and names."""
