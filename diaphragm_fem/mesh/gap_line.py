"""The thin gap along a face as a line of elements: the middle between face and plug, cut at slots and bends.

The gap lies on the side of the face's normal n = (-t_z, t_r). Its middle line has an arc length of its own, so that a
curved or bent gap has its true length and volume: ds_mid = (1 - kappa g/2) ds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.units.units import show, show_place
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.gap_face import CHORD, STRAIGHT, GapFace, nearest_of_chain

WIDENS = 1.15  # over an element, whose air is that of its mean width
LIKE = 1e-6  # widths by which a gap is even
SHARP = 1.1 * CHORD  # a turn above this is a corner with vertices of its own; below, a smooth curve cut into chords


@dataclass(frozen=True)
class SlotMouth:
    """Where a ring slot opens: distance of its centre along the middle line and its width, both in m."""

    place: float
    width: float


@dataclass(frozen=True)
class GapLine:
    """Elements of the gap, from its inner to its outer end.

    vertex (E+1,) distance along the middle line in m; point (E+1, 2) its (r, z); width (E, 2) of the gap at both ends
    of each element; bend (B, 2) distance along the middle line in m and turning angle in rad, positive toward the gap,
    of each corner of the face, those between chords of its curves among them; slot (E,) index of the slot whose mouth
    the element lies under (-1 elsewhere); slot_vertex (J,) vertices at slot centres.
    """

    vertex: Array
    point: Array
    width: Array
    bend: Array
    slot: Index
    slot_vertex: Index

    @property
    def length(self) -> float:
        return float(self.vertex[-1])

    @property
    def slot_radius(self) -> Array:
        """Radius (J,) in m of each slot's centre."""
        return np.asarray(self.point[self.slot_vertex, 0])

    @cached_property
    def slot_width(self) -> Array:
        """Width (J,) in m of each slot."""
        return np.array([np.diff(self.vertex)[self.slot == j].sum() for j in range(len(self.slot_vertex))])

    @cached_property
    def slot_gap(self) -> Array:
        """Width (J,) in m of the gap over each slot."""
        return np.array([self.width[self.slot == j].mean() for j in range(len(self.slot_vertex))])

    def place_of(self, points: Array) -> Array:
        """Distance (P,) along the line of the nearest place to each point (P, 2) of the face."""
        number = np.arange(len(self.vertex), dtype=float)
        return np.asarray(np.interp(nearest_of_chain(self.point, points)[0], number, self.vertex))


def cut_gap(face: GapFace, slots: Sequence[SlotMouth] = (), element: float = 2.5e-3, widest: float = 2.0) -> GapLine:
    """Cut the gap into elements of about `element` metres at most, nearer where it widens, with vertices at corners,
    slot edges and slot centres.

    Raises MeshError for slots that cross, leave the face, lie over a bend, or are wider than `widest` times the gap.
    """
    corners = _corners(face)
    _check_slots(face, slots, corners, widest)
    mouths = [slot.place + slot.width * np.array((-0.5, 0.0, 0.5)) for slot in slots]
    marks = [face.place, np.ravel(corners), *mouths]
    line = _spread(np.unique(np.concatenate(marks)), element, face)
    middle = (line[:-1] + line[1:]) / 2
    owner = np.full(len(middle), -1)
    for j, slot in enumerate(slots):
        owner[np.abs(middle - slot.place) < slot.width / 2] = j
    ends = np.stack((line[:-1], line[1:]), axis=1)
    bend = np.stack((face.place, face.turn), axis=1)[1:-1]
    return GapLine(
        vertex=line,
        point=np.stack([np.interp(line, face.place, face.middle[:, k]) for k in range(2)], axis=1),
        width=np.interp(ends, face.place, face.width),
        bend=bend[np.abs(bend[:, 1]) > STRAIGHT],  # where the width alone changes its course nothing turns
        slot=owner,
        slot_vertex=np.array([int(np.argmin(np.abs(line - slot.place))) for slot in slots], dtype=np.int64),
    )


def _corners(face: GapFace) -> list[tuple[float, float]]:
    """Corner pieces (begin, end): half of g tan(theta/2) on each flank, at most half the flank."""
    found = []
    flank = np.diff(face.place)
    for k in np.flatnonzero(np.abs(face.turn) > SHARP):
        half = face.width[k] / 2 * np.tan(abs(face.turn[k]) / 2)
        before, after = min(half, flank[k - 1] / 2), min(half, flank[k] / 2)
        found.append((face.place[k] - before, face.place[k] + after))
    return found


def _check_slots(face: GapFace, slots: Sequence[SlotMouth], corners: list[tuple[float, float]], widest: float) -> None:
    def where(place: float) -> str:
        return show_place([float(np.interp(place, face.place, face.middle[:, k])) for k in range(2)])

    over = []
    for number, slot in enumerate(slots):
        begin, end = slot.place - slot.width / 2, slot.place + slot.width / 2
        gap = float(np.interp(slot.place, face.place, face.width))
        if slot.width > widest * gap * (1 + 1e-9):
            raise MeshError(
                f"a slot may be at most {widest:g} times as wide as the gap, received {show(slot.width)} over a gap of "
                f"{show(gap)} at {where(slot.place)}: divide it into several slots"
            )
        if begin < 0 or end > face.place[-1]:
            raise MeshError(
                f"a slot must lie within the face, received one at {where(slot.place)} that passes the edge"
            )
        if any(begin < stop - 1e-12 and end > start + 1e-12 for start, stop in corners):
            clear = [where(x) for x in _clear_of(corners, slot, float(face.place[-1]))]
            fits = f"; as wide as it is, it fits at {' or at '.join(clear)}" if clear else ""
            over.append(f"slots[{number}] over one at {where(slot.place)}{fits}")
    if over:
        raise MeshError(f"a slot must keep clear of bends of the gap, received {'; '.join(over)}")
    order = sorted(slots, key=lambda slot: slot.place)
    for one, two in pairwise(order):
        if one.place + one.width / 2 > two.place - two.width / 2:
            raise MeshError(f"slots must not cross, received two that do near {where(one.place)}: move them apart")


SPARED = 1e-5  # m: places are told to a hundredth of a millimetre


def _clear_of(corners: list[tuple[float, float]], slot: SlotMouth, end: float) -> list[float]:
    """The nearest places on either side at which a slot keeps clear of all corners, within the line up to its end."""
    found, half = [], slot.width / 2
    for way in (-1, 1):
        place = slot.place
        while over := [c for c in corners if place - half < c[1] and place + half > c[0]]:
            place = min(c[0] for c in over) - half - SPARED if way < 0 else max(c[1] for c in over) + half + SPARED
        if half <= place <= end - half:
            found.append(place)
    return found


def _spread(marks: Array, element: float, face: GapFace) -> Array:
    """Marks, without twins closer than a micrometre's thousandth, and points between them about `element` apart at most
    and by no more than a factor WIDENS of the gap's width."""
    marks = marks[(marks >= -1e-12) & (marks <= face.place[-1] + 1e-12)]
    marks = marks[np.concatenate(([True], np.diff(marks) > 1e-9))]
    width = np.interp(marks, face.place, face.width)
    widens = np.abs(np.diff(np.log(width))) / np.log(WIDENS)
    count = np.ceil(np.maximum(np.diff(marks) / element, widens) - 1e-9).astype(int)
    pieces = [_cut(*ends, *wide, n) for ends, wide, n in zip(pairwise(marks), pairwise(width), count, strict=True)]
    return np.append(np.concatenate(pieces), marks[-1])


def _cut(begin: float, end: float, first: float, last: float, count: int) -> Array:
    """Where (count,) pieces begin of which each widens by the same factor, from a width to another; even ones where
    these are alike."""
    share = np.arange(count) / count
    if abs(last / first - 1) > LIKE:
        share = ((last / first) ** share - 1) / (last / first - 1)
    return begin + share * (end - begin)
