"""The library of materials: numbers, sources, and words on how far to trust them."""
