"""Measured curves over frequency, from tables of text and universal files."""
