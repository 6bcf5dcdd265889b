"""The shell as it moves far: exact equilibrium of the meridian, and small motion of any order about it.

1. `bent_meridian`  a state of the meridian: where it went, how its director turned, how it is strained
2. `drawn_order`    what one order makes of the drawn shell, `bent_joints`: what ends and joints change of that,
   `bent_rings`: what sits on circles and moves far with them
3. `bent_shell`     forces, tangent and swept volume of a state, with a pressure that follows the wall
4. `strain_about`   small motion about a state, to first and second order; `about_state`: the `Structure` of it
5. `fibres`         strain and stress through the wall
6. `bent_solid`     the section as a solid that moves far, m = 0: the second opinion
"""
