"""From equations of motion to figures: linear algebra on a `Structure`, whoever made it.

Read in this order; a file that bears the name of its folder is the way into it.

1. `response`     D(f) u = drive, solved as it stands at each frequency; `factors` of symmetric matrices do so
2. `static`       the answers at rest: areas, moving mass, stiffness
3. `modes/`       K x = (2 pi f)^2 M x below a frequency
   `eigen`        all of them, proved by counts of negative pivots; `lanczos` finds them, `../span` widens them
   `own_modulus`  each at the storage modulus of its own frequency
   `loss`         their loss factors; `damped`: complex modes of a small structure with its loads on
   `modes`        the table of modes: masses, areas, shares; `label`, `pairing`: what they are called, which is which
4. `curve/`       the area over frequency, quicker than by 1.
   `curve`        what is asked for
   `basis`        some 60 vectors that speak for all unknowns; `reduced`: the structure on them, and its error
   `windows`      fewer still between neighbouring knots
   `resonances`   poles, which guide `sampling`: where to solve
5. `solution`     `solve`: 2 to 4 put together
6. `figures/`     what a choice can rest on: `definitions`; `figures` reads them off a `Solution`, zone by zone in
   `zones`, peaks and shelves in `response_bands`, each crossing solved for by `reading`
7. `large_stroke/`  paths of equilibrium, and periodic motion about one

Shapes: n unknowns, M modes, F frequencies, Z zones, K terms of different laws. SI; exp(+i omega t).
"""
