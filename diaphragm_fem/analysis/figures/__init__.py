"""What a choice between designs can rest on, read off one curve, its modes and its answers at rest."""
