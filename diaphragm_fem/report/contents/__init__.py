"""What a page holds, block by block: one design, a stroke, a comparison, walls, a morning, a verification."""
