"""Axisymmetric finite-element modal analysis of loudspeaker diaphragms."""

__version__ = "0.1.0"
