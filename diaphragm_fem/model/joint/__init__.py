"""What ends and joints of walls yield beyond shell theory, from patches of the solid.

1. `joints`      where a design has joints and held ends, `kind`: what each is; `moduli`: those that it is solved with
   `mesh`        a node where the stretches of wall beside some of them end
2. `cut`         the patch of a kind as the solid draws it, where its walls are united in `triangles`
   `patch`       what it yields, less what its `walls` do; `layers`: the law of laminates, `far_ends`: what acts on arms
   `torsion`     what it holds of a twist, and how what flows around it turns
3. `kinds`       patches kept by their proportions: a `table` comes with the package, processes share a `book` that
                 earns `trust`, and many parts read theirs over a `range`
4. `stretches`   the elements beside joints, `parts`: all that an arm has of one material there
   `shares`      what each of them has of what the joint yields, `stiffness`: the change that this makes
   `sections`    the section that a joint has more or less than its walls
5. `correction`  all of it together: what joints change in the matrices of a shell
beside it: `lying_wall`, a surround along its former
"""
