"""One design in many materials and thicknesses, on one mesh and small bases that they share.

1. `line`      walls that differ in thickness alone: what their joints yield is read between `places` on it
2. `motion`    what one wall moves like, and how far two sets of equations for it are from one another
   `matrices`  small matrices that are read along a line as well
3. `family`    all walls on one mesh, and the span of those of one material, held against some of them
4. `quick_walls`  figures of walls on either, in `steps` that several parts can be solved in
5. `grid`      every material in every thickness
"""
