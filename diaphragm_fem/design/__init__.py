"""From files to one frozen `Design` in SI: a meridian with its walls, zones, coil, edges and surroundings.

Read in this order, which is that of imports too; a file that bears the name of its folder is the way into it.

1. `units/`       a text such as "75 um" becomes SI: `grammar`, then `units`
2. `files/`       what comes from outside: `input_file` reads it and tells its kind, `key_path` its places
3. `material/`    what a substance is; `viscoelastic`: stiffness and loss over frequency
4. `spec/`        what a design file may say, key by key; `refusal`: what is said of a file that says something else
   `measured/`    curves over frequency from a measurement
5. `library/`     materials with their sources, packaged or a user's own; `evidence`: how far to trust them
   `driver/`      air, motor, chambers and exit
6. `meridian/`    `curve`s in the (r, z) half-plane; a `wall` and a `zone` along each; the `outline` with sharp corners
   `rounding`     a `fillet` in every corner that asks for one; `zone_walls`: which wall a zone has
7. `design`       what all of this ends in
8. `profile/`     shapes from few numbers: `dome`, `v_profile`, `free_meridian`, with `steps` and `surround`
9. `drawing/`     shapes from a DXF: `dxf`, `curves`, `chain`, `drawing`; a wall drawn by its two `faces`
10. `glued/`      what is glued on: `coil` and former, `bead`s of glue, walls that `overlap`
11. `read/`       a file from its text to the `Design`: `read`, `build`, `checks`; `usual`: what is asked about

Beside it, of a finished design: `wall_choice` changes its walls; `stroke_plan`, `zone_sizes`.

SI throughout: m, kg, N, Pa, Hz; z toward the listener; arc length s from the inner edge outward.
"""
