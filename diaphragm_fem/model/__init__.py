"""From a drawn design to equations of motion: one `Structure` for each circumferential order m.

The main path is `build_shell(design).structure(m)`: 1. and 2., in this order; 3. to 6. may be left at a first reading.
The first words of each folder say in what order to read it; a file that bears its name is the way into it.

1. `structure`    the equations themselves, D(f) u = drive: terms, loads on ports, swept volume
   `law`          what multiplies a term over frequency: a complex modulus
   `projected`    the same on the span of a few motions; `aligned`: sums of sparse matrices; `quadrature`

2. `shell/`       the wall as a line in the meridian plane, five unknowns a node: `build_shell`
   beside it      `rings`: coil, ring, glue and springs, alike for both models
3. `joint/`       what shell theory leaves out at ends and joints
4. `solid/`       the same wall without any assumption about thin walls, the second opinion: `build_solid`
5. `large_stroke/`  the shell moved far: equilibrium, and small motion about it as a `Structure` again
6. `air/`         air in two dimensions: in the gap, and free before a baffle

Letters: u, v, w motion along r, theta, z in m; b, q turns in the meridian plane and about the meridian in rad; u, w, b
~ cos(m theta), v, q ~ sin(m theta); t = (t_r, t_z) tangent, n = (-t_z, t_r) normal, s arc length, kappa curvature of
the meridian. Shapes: E elements, F local functions, Q quadrature points, R walls of one material on one element,
n free unknowns. SI throughout; exp(+i omega t).
"""
