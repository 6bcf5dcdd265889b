"""The same wall as a solid of revolution: elasticity of any order m without a word on thin walls.

1. `shapes`    functions of the cells, `cells`: stiffness and mass of these; `inside`: what a cell has to itself
2. `lines`     functionals on faces and mid-line, points for pictures; `support`: what an edge is in a solid
3. `solid`     all of it together
"""
