"""What one design says: figures with an estimate of their error, what to change, and how others compare.

Read in this order, which is that of imports too; a file that bears the name of its folder is the way into it.

1. `machine/`     how work runs: `cores`, one thread on each and signals held back; `room` for linear algebra
2. `quick`        one design on one mesh, to its figures: what a sweep runs
   `face`         how the front moves, point by point; `mode_shapes`: how alike two are; `better`: which way a figure is
3. `driver/`      `loaded`: the diaphragm with its surroundings on; then `radiated`, `losses`, `curve`, `figures`
   `driver`       all of it together, with the second opinions of its air
4. `trust/`       `convergence` of the mesh, `second_opinion` of the solid, `cautions`, `doubts` about materials
   `change/`      `levers` of a file; `sensitivities`: how each moves every figure; `named_levers` of a verdict
   `walls/`       one design in every material and thickness, on what they share: `line`, `matrices`, `family`, `grid`
   `stroke/`      the coil moved far: `path`; then what changes, yields or ends along it
   `measured`     measured curves beside their prediction
   `explored`     one variant while somebody waits; `datasets`: answers with named axes, for use from Python
5. `evaluate`     one design, everything: 2 to 4 put together in an `Answer`
6. `comparison/`  `variants`, each with its `Answer`, side by side

SI throughout; exp(+i omega t).
"""
