"""Quantities with units: the grammar of an amount, and the one door to SI."""
