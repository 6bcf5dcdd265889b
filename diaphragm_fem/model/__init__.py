"""From a drawn design to equations of motion: one `Structure` for each circumferential order m.

The main path is `build_shell(design).structure(m)`: 1. and 2., in this order; 3. to 6. may be left at a first reading.
A file that bears the name of its folder is the way into it.

1. `structure`    the equations themselves, D(f) u = drive: terms, loads on ports, swept volume
   `law`          what multiplies a term over frequency: a complex modulus
   `projected`    the same on the span of a few motions; `aligned`: sums of sparse matrices; `quadrature`

2. `shell/`       the wall as a line in the meridian plane, five unknowns a node
   `strain`       eight strains of u, v, w, b, q for any m, as in the textbooks
   `elasticity`   stress resultants and inertia of a wall of layers
   `line`         quadratic elements of the meridian, their quadrature
   `assembly`     sums of element matrices, of the solid's cells as well; `numbering`: axis, joints, held edges
   `shell`        all of it together: `build_shell(design).structure(m)`
   beside it: `rings` and `added` (coil, ring, glue, springs), `front_face` (swept volume), `wave_inertia`, `motion`

3. `joint/`       what shell theory leaves out: `../shell/thick_wall` between ends, here what ends and joints yield
   `joints`       where a design has them, `kind` what each is; then `patch`, `shares`, `stiffness`, `correction`; the
                  rest keeps patches

4. `solid/`       the same wall without any assumption about thin walls: the second opinion
   `cells`        elasticity on hierarchic quadrilaterals, `shapes`; `support`: what an edge is in a solid
   `solid`        all of it together: `build_solid(design).structure(m)`

5. `large_stroke/`  the shell moved far: equilibrium, and small motion about it as a `Structure` again
6. `air/`         air in two dimensions: in the gap, and free before a baffle

Letters: u, v, w motion along r, theta, z in m; b, q turns in the meridian plane and about the meridian in rad; u, w, b
~ cos(m theta), v, q ~ sin(m theta); t = (t_r, t_z) tangent, n = (-t_z, t_r) normal, s arc length, kappa curvature of
the meridian. Shapes: E elements, F local functions, Q quadrature points, R walls of one material on one element,
n free unknowns. SI throughout; exp(+i omega t).
"""
