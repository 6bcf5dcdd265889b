"""Where a design is cut: the line of its meridian for the shell, the section of its wall for the solid.

1. `meridian`     line elements from the inner edge outward, then the former; `sizing`: how long they may be
2. `section`      cells of the wall: walls laid end to end, else tied into a union about a former
   `section_plan` what is laid: points, sides, cells, and which of them are faces and middle
   `strip`        a wall in `rows`, `strip_ends`: its ends by what it meets; `section_size`: where its cells end
   `chain`        strips end to end; `lips`: odd ends
   `branch`       a former that hangs from its `former_top`, beside the lip of a thick wall too
   `knot`         all other joints with a former: `knot_*` draw, `union` and `orientation` cut, `glued` glues,
                  `knot_join` leads to the walls beyond
   `corners`      smaller cells about singular corners
3. Beside them: the gap before a face (`gap_face`, `gap_line`, `gap_section`); free air (`open_contour`,
   `open_section`); a file for others (`solid_file`); gmsh is behind `gmsh_model` alone.
"""
