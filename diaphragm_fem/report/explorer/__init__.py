"""Trying variants of a design in a page on this machine alone: sliders, and what follows from them."""
