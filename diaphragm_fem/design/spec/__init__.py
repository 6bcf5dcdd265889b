"""What a design file may say: one pydantic model per table, every key described for the editor's completion."""
