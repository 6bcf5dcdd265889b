"""Mode shapes of different designs on common points of the meridian, and how alike two of them are.

Designs differ in mesh, size and profile, so a shape is read at equal fractions of the arc length, stretch by stretch.
A stretch is a zone that both designs have, or a whole side of the coil where they are divided differently.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.model.structure import Structure, Surface

Stretch = tuple[tuple[int, ...], tuple[int, ...]]

POINTS = 160  # of a stretch: ten for each bending wave where a stretch holds sixteen of them
SAME_POINT = 1e-9  # metres


@dataclass(frozen=True)
class Shapes:
    """Mode shapes of one design at P common points: motion (2 P, M), radial rows above the axial ones.

    area (P,): surface area in m2 that each point stands for, 2 pi r ds, on the face and on the former.
    """

    motion: Array
    area: Array


def modal_assurance(one: Shapes, other: Shapes) -> Array:
    """Modal assurance criterion (A, B) of the A shapes of one design with the B shapes of another.

    MAC_ab = (x_a^T W x_b)^2 / ((x_a^T W x_a) (x_b^T W x_b)), W the area of each point as a share of its design's whole,
    averaged over both designs; 1: the same shape whatever its size and sign, 0: shapes at right angles.
    Radial and axial motion enter; the circumferential one, for m > 0, does not.
    Source: Allemang and Brown, Proc. 1st Int. Modal Analysis Conf. (1982) 110 (named from memory); the area as weight
    is ours.
    """
    weight = (one.area / one.area.sum() + other.area / other.area.sum()) / 2
    both = np.concatenate((weight, weight))[:, None]
    cross = one.motion.T @ (both * other.motion)
    size_one = (both * one.motion**2).sum(axis=0)
    size_other = (both * other.motion**2).sum(axis=0)
    product = np.outer(size_one, size_other)
    return np.divide(cross**2, product, out=np.zeros_like(cross), where=product > 0)


def common_stretches(one: Sequence[Zone], other: Sequence[Zone]) -> tuple[Stretch, ...]:
    """Pairs of zone groups, as indices into each list, that take each other's place.

    Each side of the coil has two parts, flank and surround, and the coil is a part of its own. Where both designs
    divide a part into the same roles, zone meets zone; elsewhere the whole part meets the whole part. A part that only
    one design has is left out; parts that share none have no pair.
    """
    parts_one, parts_other = _parts(one), _parts(other)
    found: list[Stretch] = []
    for part, here in parts_one.items():
        there = parts_other.get(part)
        if there is None:
            continue
        if _division(one, here) == _division(other, there):
            found += [((a,), (b,)) for a, b in zip(here, there, strict=True)]
        else:
            found.append((tuple(here), tuple(there)))
    return tuple(found)


def shapes_at(structure: Structure, vectors: Array, groups: Sequence[Sequence[int]]) -> Shapes:
    """Shapes (n, M) of a structure read at equal fractions of the arc length of each group of zones.

    A group's zones are put end to end in the order of the meridian. Raises ModelError for a structure without surface.
    """
    radial, axial = structure.surface.motion_r @ vectors, structure.surface.motion_z @ vectors
    rows_r: list[Array] = []
    rows_z: list[Array] = []
    areas: list[Array] = []
    for group in groups:
        before, share, radius, length = _read_places(structure.surface, group)
        for rows, motion in ((rows_r, radial), (rows_z, axial)):
            rows.append(motion[before[:, 0]] * (1 - share)[:, None] + motion[before[:, 1]] * share[:, None])
        areas.append(2 * np.pi * radius * length / POINTS)
    return Shapes(np.vstack((*rows_r, *rows_z)), np.concatenate(areas))


def _parts(zones: Sequence[Zone]) -> dict[tuple[str, str], list[int]]:
    parts: dict[tuple[str, str], list[int]] = {}
    for index, zone in enumerate(zones):
        kind = zone.role.value if zone.role in (Role.SURROUND, Role.COIL) else "flank"
        parts.setdefault((zone.side, kind), []).append(index)
    return parts


def _division(zones: Sequence[Zone], indices: Sequence[int]) -> list[tuple[str, int, str]]:
    """What makes zones of two designs the same: role and step, and the name where the role says nothing."""
    return [
        (zones[i].role.value, zones[i].step, zones[i].name if zones[i].role in (Role.OTHER, Role.COIL) else "")
        for i in indices
    ]


def _read_places(surface: Surface, group: Sequence[int]) -> tuple[Index, Array, Array, float]:
    """Neighbours (P, 2) and share (P,) of the second at equal fractions of a group's arc; radius (P,), whole length."""
    chosen = np.flatnonzero(np.isin(surface.zone, list(group)))
    step = np.hypot(np.diff(surface.r[chosen]), np.diff(surface.z[chosen]))
    arc = np.concatenate(([0.0], np.cumsum(step)))
    keep = np.concatenate(([True], step > SAME_POINT))
    chosen, arc = chosen[keep], arc[keep]
    place = (np.arange(POINTS) + 0.5) / POINTS * arc[-1]
    right = np.clip(np.searchsorted(arc, place), 1, len(arc) - 1)
    share = (place - arc[right - 1]) / (arc[right] - arc[right - 1])
    radius = np.interp(place, arc, surface.r[chosen])
    return np.stack((chosen[right - 1], chosen[right]), axis=1), share, radius, float(arc[-1])
