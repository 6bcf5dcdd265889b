"""The shell of revolution: unknowns, strains, walls and their sum, for any circumferential order m.

1. `strain`      eight strains of five unknowns
   `elasticity`  what a wall of layers holds and weighs, `thick_wall`: what its thickness does to that
2. `line`        quadratic elements along the meridian, `wave_inertia`: what their bulge weighs
   `numbering`   axis, joints and held edges, `assembly`: sums of matrices of elements
3. `walls`       stiffness and mass of all walls, with what joints change
   `added`       ring, winding, glue and springs; `front_face`: swept volume; `motion`: coil and pictures
4. `shell`       all of it together
"""
