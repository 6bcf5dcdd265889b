"""From equations of motion to figures: linear algebra on a `Structure`, whoever made it.

`solve` of `solution` is the main path in ten lines. What it calls, in order; a file that bears the name of its folder
is the way into it:

1. `response`     the equations, D(f) u = drive, and the plain way: solved as they stand at each frequency
   `factors`      of symmetric matrices, which solve and count; `span`: vectors orthonormal in the mass
2. `modes/`       K x = (2 pi f)^2 M x below a frequency
   `eigen`        all modes, proved by counts of negative pivots; `lanczos` finds them
   `own_modulus`  each at the storage modulus of its own frequency, sought `in_span`
3. `curve/`       the area over frequency (`curve`), quicker than by 1.
   `reduced`      some 60 vectors that speak for all unknowns, the structure on them, and its error
   `windows`      fewer still between neighbouring knots
   `resonances`   poles, which guide `sampling`: where to solve
4. `static`       the answers at rest: areas, moving mass, stiffness

Beside it, and left at a first reading:

   `modes/modes`  the table of modes: masses, areas, shares; `loss` factors; `label`, `pairing`: names, who is who
   `modes/damped` complex modes of a small structure with its loads on
   `figures/`     what a choice can rest on: `definitions`; `read_figures` reads them off a scan, zone by zone in
                  `zones`, peaks and shelves in `response_bands` by `stretches` of a level, each crossing solved for by
                  `reading`
   `large_stroke/`  paths of equilibrium, and periodic motion about one

Shapes: n unknowns, M modes, F frequencies, Z zones, K terms of different laws. SI; exp(+i omega t).
"""
