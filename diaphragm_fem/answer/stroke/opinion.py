"""The force at a few strokes once more by the solid model, which shares no assumption about thin walls."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.analysis.large_stroke.equilibrium import Equilibrium, Gauge, Loading, Unsettled, walk
from diaphragm_fem.answer.machine.cores import one_thread
from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.stroke_plan import StrokePlan
from diaphragm_fem.errors import AnalysisError, MeshError
from diaphragm_fem.model.large_stroke.fibres import fibres, wall_faces

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

    from diaphragm_fem.model.large_stroke.bent_solid import BentSolid

AGREE_WITHIN = 0.01  # of the force: 0.3 % is found where fibre strains stay below 5 %
THICK_BEND = 0.8  # of the squared fibre strain: by so much a wall with thickness bends more softly (see `bent_solid`)
MESH_HZ = 120e3  # cells short enough for tight bends: cut for 5 kHz, a corrugated disc came out 8 % too soft
SHARES = (0.5, 1.0)  # of the way to either end
MOST_WORK = 2_000_000  # unknowns times corrections to an end, 11 us each: 0.4 million for a union of 24,000 unknowns


@dataclass(frozen=True)
class StrokeOpinionRow:
    """Forces in N by shell and solid at a stroke in m; difference = shell/solid - 1."""

    stroke: float
    shell: float
    solid: float

    @property
    def difference(self) -> float:
        return self.shell / self.solid - 1


@dataclass(frozen=True)
class StrokeOpinion:
    """Rows by rising stroke, and remarks: why some or all are missing, or where the two disagree."""

    rows: tuple[StrokeOpinionRow, ...]
    remarks: tuple[str, ...]


@one_thread
def ask_stroke_opinion(path: StrokePath, plan: StrokePlan) -> StrokeOpinion:
    """Walk a solid to both ends of a path and compare the forces on the coil half-way and there.

    The solid knows no pressure, pull or pre-strain: with those there is no opinion.
    """
    from diaphragm_fem.model.large_stroke.bent_solid import BentSolid
    from diaphragm_fem.model.solid.solid import build_solid

    if plan.pressure or plan.pre_strain or plan.edge_tension:
        words = "it moves the part without pressure, pull and pre-strain, and this one has some"
        return StrokeOpinion((), (f"no second opinion on the stroke: {words}",))
    try:
        solid = BentSolid(build_solid(path.shell.model.design, up_to_hz=MESH_HZ), path.shell.at_hz)
    except MeshError as problem:
        return StrokeOpinion((), (f"no second opinion on the stroke: {problem}",))
    drawn = Equilibrium(np.zeros(solid.size), 0.0)
    rows: list[StrokeOpinionRow] = []
    remarks = []
    for end in (float(path.stroke[0]), float(path.stroke[-1])):
        stops = [share * end for share in SHARES if end]
        loading = Loading(solid.forces, _counted(solid), lambda _: solid.drive, ordering="MMD_AT_PLUS_A")
        try:
            for stop, state in zip(stops, walk(loading, drawn, Gauge(solid.drive), stops), strict=True):
                if solid.least_volume(state.unknowns) <= 0:
                    remarks.append(
                        f"no second opinion at {1e3 * stop:.3g} mm and beyond: in a corner of the solid a soft wall is "
                        "pressed inside out there"
                    )
                    break
                rows.append(StrokeOpinionRow(stop, path.state_at(stop).factor, state.factor))
        except Unsettled as trouble:
            remarks.append(
                f"no second opinion at {1e3 * end:.3g} mm: no balance of the solid was found beyond "
                f"{1e3 * (trouble.reached or 0.0):.3g} mm on the way there, however small the step"
            )
        except _Spent:
            remarks.append(
                f"no second opinion at {1e3 * end:.3g} mm: a solid of {solid.size:,} unknowns was given up on the way "
                f"there after {MOST_WORK // solid.size} corrections, lest it take minutes"
            )
    rows.sort(key=lambda row: row.stroke)
    return StrokeOpinion(tuple(rows), (*remarks, *_apart(path, rows)))


class _Spent(AnalysisError):
    """All the work that an end may take is done."""


def _counted(solid: BentSolid) -> Callable[[Array], csr_matrix]:
    """The tangent of a solid, asked for as often as it may be: then _Spent."""
    left = iter(range(MOST_WORK // solid.size))

    def tangent(unknowns: Array) -> csr_matrix:
        if next(left, None) is None:
            raise _Spent("the work that an end may take is done")
        return solid.tangent(unknowns)

    return tangent


def _apart(path: StrokePath, rows: Sequence[StrokeOpinionRow]) -> Iterator[str]:
    """Where the two differ most, if by much, and why."""
    worst = max(rows, key=lambda row: abs(row.difference), default=None)
    if worst is None or abs(worst.difference) <= AGREE_WITHIN:
        return
    state = path.state_at(worst.stroke).unknowns
    strain = float(np.nanmax(fibres(path.shell, state, wall_faces(path.shell)).strain))
    yields = THICK_BEND * strain**2
    why = "a wall is thick for its bend, or a corner sharp"
    if worst.difference > 0 and yields > worst.difference / 2:
        why = (
            f"at {100 * strain:.2g} % of fibre strain a wall with thickness yields {100 * yields:.2g} % more in its "
            "bend, and the law of the material, which both take as linear, may count as much"
        )
    words = f"shell and solid differ by {100 * worst.difference:+.2f} % in the force at {1e3 * worst.stroke:.3g} mm"
    yield f"{words}: {why}; there believe the solid"
