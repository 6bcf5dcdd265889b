"""The walls of the shell: law and inertia of every element, whatever the order m."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.elasticity import WallRows, inertia_law, stiffness_law
from diaphragm_fem.model.numbering import AXISYMMETRIC, FIELDS
from diaphragm_fem.model.shell_line import OrderTerms, ShellLine
from diaphragm_fem.model.thick_wall import thicken, thicken_inertia


@dataclass(frozen=True, eq=False)
class Walls:
    """The R rows of `WallRows`: elements and numbers of materials (R,), law (8, 8, R, 2), inertia (5, 5, R, 3), and the
    first moments (R, 3) of thick walls."""

    elements: Index
    material: Index
    law: Array
    inertia: Array
    moment: Array | None = None

    def add_moments(self, mass: Array, line: ShellLine, order: OrderTerms) -> None:
        """Add the first moments to the mass (R, F, F) of rows, between a motion and its rotation at each node.

        In the elements' own matrices: as matrices of their own at the nodes they took 0.3 ms more of a stepped V.
        """
        if self.moment is None:
            return
        pick, heavy, fields = self.elements, line.heavy, FIELDS if order.m else AXISYMMETRIC
        moment = self.moment * (order.around * heavy.at.weight * heavy.at.r)[pick]
        for motion, rotation, way in (("u", "b", heavy.at.t_r[pick]), ("w", "b", heavy.at.t_z[pick]), ("v", "q", 1.0)):
            if motion in fields:
                moves, turns = (3 * fields.index(x) + np.arange(3) for x in (motion, rotation))
                gain = (heavy.shape[:, pick] * (moment * way)).sum(axis=-1).T
                mass[:, moves, turns] += gain
                mass[:, turns, moves] += gain


def walls_of(line: ShellLine, rows: WallRows, thick: bool) -> Walls:
    """The walls of a meridian, `thick` with what their thickness does."""
    law, inertia = stiffness_law(rows, line.stiff.at.fraction), inertia_law(rows, line.heavy.at)
    moment = None
    if thick:
        thicken(law, line.stiff.at, rows)
        moment = thicken_inertia(inertia, line.heavy.at, rows)
    return Walls(rows.elements, rows.material, law, inertia, moment)
