"""The walls of a shell with what corrects them, as matrices of elements: of one shell, or of several side by side.

Side by side, shells of a sweep share what numpy takes for each call, which is most of what joints take: their arrays
are small. Nothing joins them, and only those are put beside one another whose arrays alone would be of the same shapes
but for how many there are: so each has the matrices that it has alone, to the bit.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from itertools import accumulate, pairwise
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.joint.correction import JointChanges, PartChanges, all_of
from diaphragm_fem.model.shell.assembly import element_matrices
from diaphragm_fem.model.shell.elasticity import WallRows, inertia_law, stiffness_law, turn_to_meridian
from diaphragm_fem.model.shell.line import OrderTerms, Quadrature, by_rule, side_by_side
from diaphragm_fem.model.shell.numbering import living
from diaphragm_fem.model.shell.thick_wall import thicken, thicken_inertia
from diaphragm_fem.model.shell.wave_inertia import wave_inertia


@dataclass(frozen=True, eq=False)
class Walls:
    """The R rows of `WallRows`: elements and numbers of materials (R,), law (8, 8, R, 2), inertia (5, 5, R, 3), and the
    first moments (R, 3) of thick walls."""

    elements: Index
    material: Index
    law: Array
    inertia: Array
    moment: Array | None = None


def walls_of(line: Quadrature, rows: WallRows, thick: bool) -> Walls:
    """The walls of a meridian, `thick` with what their thickness does."""
    moments, count = np.array(rows.moments(line.points.at.fraction)), line.stiff.z.shape[1]
    law = stiffness_law(rows, line.stiff.at.fraction, moments[..., :count])
    inertia, moment = inertia_law(rows, line.heavy.at, moments[..., count:]), None
    if thick:
        thicken(law, line.stiff.at, rows)
        moment = thicken_inertia(inertia, line.heavy.at, rows)
    turn_to_meridian(law, rows, line.stiff.at.fraction)
    return Walls(rows.elements, rows.material, law, inertia, moment)


class WallMatrices(NamedTuple):
    """Stiffness and mass (R, F, F) of all rows of walls, and what joints change, like ones together."""

    elastic: Array
    moving: Array
    changes: Sequence[PartChanges] = ()


@dataclass(frozen=True, eq=False)
class ShellWalls:
    """The walls of a shell, or of several side by side, `thick` or not, and what their joints change."""

    line: Quadrature
    rows: WallRows
    thick: bool
    changes: JointChanges | None

    @cached_property
    def walls(self) -> Walls:
        """The walls with what corrects them."""
        walls = walls_of(self.line, self.rows, self.thick)
        if self.changes:
            self.changes.sections.change(walls)
        return walls

    @property
    def shape(self) -> Hashable:
        """What decides in which shapes arrays are laid out, but for the number of elements, rows and joints."""
        stacked = len(self.rows.elements) > len(self.line.stiff.z)
        return self.thick, stacked, self.rows.begin.shape[1], self.changes and self.changes.shape

    def matrices(self, order: OrderTerms) -> WallMatrices:
        """Those of an order."""
        walls, stiff, heavy, every = self.walls, self.line.stiff.at, self.line.heavy.at, len(self.line.stiff.z)
        pick = slice(None) if len(walls.elements) == every else walls.elements  # a view is had for nothing
        band = (order.around * heavy.weight * heavy.r)[pick]
        moving = element_matrices(order.motion[:, :, pick], walls.inertia, band)
        moving += wave_inertia(living(order.m), (walls.inertia[0, 0] * band).sum(axis=1))
        if walls.moment is not None:
            self._add_moments(moving, walls.moment * band, walls.elements, order)
        strained = (order.around * stiff.weight * stiff.r)[pick]
        elastic = element_matrices(order.strain[:, :, pick], walls.law, strained)
        if not self.changes:
            return WallMatrices(elastic, moving)
        changes = self.changes.of_order(order, elastic)
        self.changes.add_rings(order, elastic, moving)
        return WallMatrices(elastic, moving, changes)

    def _add_moments(self, mass: Array, moment: Array, pick: Index, order: OrderTerms) -> None:
        """Add first moments (R, 3), weighed, to the mass (R, F, F) of elements, between a motion and its rotation at
        each node.

        In the elements' own matrices: as matrices of their own at the nodes they took 0.3 ms more of a stepped V.
        """
        heavy, live = self.line.heavy, living(order.m)
        shape = heavy.shape[:, pick]
        nodal = np.einsum("rfngn->rfgn", mass.reshape(-1, *2 * (len(live), 3)))  # a view
        for motion, rotation, way in (("u", "b", heavy.at.t_r[pick]), ("w", "b", heavy.at.t_z[pick]), ("v", "q", 1.0)):
            if motion in live:
                moves, turns = live.index(motion), live.index(rotation)
                gain = (shape * (moment * way)).sum(axis=-1).T
                nodal[:, moves, turns] += gain
                nodal[:, turns, moves] += gain


def matrices_of_each(shells: Sequence[ShellWalls], orders: Sequence[OrderTerms]) -> list[WallMatrices]:
    """The matrices of several shells of one order, those of like shapes made side by side."""
    alike = dict[Hashable, list[int]]()
    for k, shell in enumerate(shells):
        alike.setdefault(shell.shape, []).append(k)
    found = dict[int, WallMatrices]()
    for group in alike.values():
        found.update(zip(group, _beside([shells[k] for k in group], [orders[k] for k in group]), strict=True))
    return [found[k] for k in range(len(shells))]


def _beside(shells: Sequence[ShellWalls], orders: Sequence[OrderTerms]) -> list[WallMatrices]:
    """The matrices of shells of like shapes."""
    if len(shells) == 1:
        return [shells[0].matrices(orders[0])]
    begins = [0, *accumulate(len(shell.line.stiff.z) for shell in shells)]
    line = by_rule(side_by_side([shell.line.points for shell in shells]))
    rows = _rows_of([shell.rows for shell in shells], begins)
    changes = [shell.changes for shell in shells if shell.changes]
    whole = ShellWalls(line, rows, shells[0].thick, all_of(changes, line, rows, begins) if changes else None)
    elastic, moving, changed = whole.matrices(_orders_of(orders))
    ends = pairwise((0, *accumulate(len(shell.rows.elements) for shell in shells)))
    return [WallMatrices(elastic[a:b], moving[a:b], [own.picked(a, b) for own in changed]) for a, b in ends]


def _rows_of(each: Sequence[WallRows], begins: Sequence[int]) -> WallRows:
    """The rows of several shells whose elements begin at some numbers."""
    found = {x.name: [getattr(rows, x.name) for rows in each] for x in fields(WallRows)}
    found["elements"] = [elements + begin for elements, begin in zip(found["elements"], begins, strict=False)]
    return WallRows(**{name: np.concatenate(x, axis=int(name == "lift")) for name, x in found.items()})


def _orders_of(each: Sequence[OrderTerms]) -> OrderTerms:
    """What an order makes of the elements of several shells; each keeps its own numbering, nothing asks for one."""
    strain, motion = (np.concatenate(x, axis=2) for x in ([o.strain for o in each], [o.motion for o in each]))
    return each[0]._replace(strain=strain, motion=motion, dofs=np.concatenate([o.dofs for o in each]))
