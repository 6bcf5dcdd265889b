"""Modes followed from design to design by their shapes, whatever place in the list they take."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.analysis.modes.pairing import match_shapes
from diaphragm_fem.answer.mode_shapes import common_stretches, modal_assurance, shapes_at
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.errors import StudyError
from diaphragm_fem.model.structure import Structure

SURE_LIKENESS = 0.9  # above it two shapes count as one (common practice, no source)


APART = {Role.DRIVEN, Role.SURROUND}
"""A mode that the driven zones lead is never the same as one that a surround leads, however alike their shapes."""


@dataclass(frozen=True)
class Track:
    """One mode through all designs, D of them.

    index: its place in each design's list of modes, counted from 0, None where it is lost or lies beyond the top
    frequency; frequency_hz the same; likeness: the modal assurance criterion with the shape it was laid against, None
    at its first design; label: its plain words where it was first seen.
    """

    order: int
    index: tuple[int | None, ...]
    frequency_hz: tuple[float | None, ...]
    likeness: tuple[float | None, ...]
    label: str
    first: int


def follow_modes(structures: Sequence[Structure], modes: Sequence[Modes], *, baseline: int = 0) -> tuple[Track, ...]:
    """Tracks of the modes of one order through D designs: the baseline's in their order, then those that appear later.

    From the baseline outward, to both ends of the list, each design's modes are laid against the last shape that every
    track had. A mode like none of them begins its own track.
    Raises StudyError for a baseline that is not among the designs.
    """
    if not 0 <= baseline < len(modes):
        raise StudyError(f"the baseline must be one of the {len(modes)} designs, counted from 0, received {baseline}")
    tracks = [_Growing(len(modes), baseline, k) for k in range(len(modes[baseline]))]
    for direction in (range(baseline + 1, len(modes)), range(baseline - 1, -1, -1)):
        for design in direction:
            _lay_on(structures, modes, tracks, design, baseline)
    return tuple(track.finish(modes) for track in tracks)


class _Growing:
    """A track while it is being followed."""

    def __init__(self, designs: int, first: int, index: int) -> None:
        self.first = first
        self.index: list[int | None] = [None] * designs
        self.likeness: list[float | None] = [None] * designs
        self.index[first] = index

    def reference(self, design: int, baseline: int) -> tuple[int, int]:
        """The design and mode to lay the next one against: the nearest already seen on the way from the baseline."""
        seen = [d for d, place in enumerate(self.index) if place is not None]
        way = [d for d in seen if min(baseline, design) <= d <= max(baseline, design)] or [self.first]
        near = min(way, key=lambda d: abs(d - design))
        place = self.index[near]
        assert place is not None
        return near, place

    def finish(self, modes: Sequence[Modes]) -> Track:
        frequency = tuple(
            None if place is None else float(modes[d].frequency_hz[place]) for d, place in enumerate(self.index)
        )
        begin = self.index[self.first]
        assert begin is not None
        label = modes[self.first].labels[begin]
        return Track(modes[self.first].order, tuple(self.index), frequency, tuple(self.likeness), label, self.first)


def _leading_role(modes: Modes, k: int) -> Role:
    """Role of the zone with most kinetic energy."""
    return modes.zones[int(modes.kinetic_share[k].argmax())].role


def _lay_on(
    structures: Sequence[Structure],
    modes: Sequence[Modes],
    tracks: list[_Growing],
    design: int,
    baseline: int,
) -> None:
    """Give each mode of one design to a track, or begin a new one."""
    likeness = np.zeros((len(tracks), len(modes[design])))
    references = [track.reference(design, baseline) for track in tracks]
    for near in sorted({reference[0] for reference in references}):
        rows = [row for row, reference in enumerate(references) if reference[0] == near]
        stretches = common_stretches(structures[near].zones, structures[design].zones)
        if all(structures[near].zones[z].role is Role.COIL for here, _ in stretches for z in here):
            continue  # a dome and a V share the coil at most, and on it all their modes look alike
        vectors = modes[near].vectors[:, [references[row][1] for row in rows]]
        there = shapes_at(structures[near], vectors, [s[0] for s in stretches])
        here = shapes_at(structures[design], modes[design].vectors, [s[1] for s in stretches])
        likeness[rows] = modal_assurance(there, here)
        leads = [_leading_role(modes[near], references[row][1]) for row in rows]
        others = [_leading_role(modes[design], k) for k in range(len(modes[design]))]
        for row, lead in zip(rows, leads, strict=True):
            likeness[row, [{lead, other} == APART for other in others]] = 0.0
    taken = set()
    for row, column in match_shapes(likeness):
        tracks[row].index[design] = column
        tracks[row].likeness[design] = float(likeness[row, column])
        taken.add(column)
    tracks += [_Growing(len(modes), design, k) for k in range(len(modes[design])) if k not in taken]
