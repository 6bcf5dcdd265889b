"""How far to trust an answer: errors of the mesh, another model, limits of both, doubtful numbers."""
