"""How far to trust an answer: errors of the mesh, another model, limits of both, doubtful numbers.

`convergence`     finer and finer meshes, and how far the last is off
`second_opinion`  the same by the solid
`cautions`        what a drawing or a result gives reason to doubt; `poor_joints`: what joints do
`doubts`          figures that hang on a number without a source
"""
