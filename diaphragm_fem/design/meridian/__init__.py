"""The meridian: curves, walls, zones and edges in the (r, z) half-plane, and its corners, sharp or rounded."""
