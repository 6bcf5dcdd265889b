"""Where a small structure resonates, free or with its coil held: real frequencies, and complex ones with their widths.

The peaks of an area curve stand at the poles of the structure whose coil is held, those of the response per newton at
the poles of the free one. Poles are found with all laws and loads taken at a few frequencies, each for its own stretch
of the band: good enough to say where to look.
"""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from diaphragm_fem.analysis.response import frozen
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.projected import projected
from diaphragm_fem.model.structure import Structure

NEAR = 1.2  # of the top frequency: what resonates beyond it is left out of the poles
LOWEST = 0.5  # of the lowest undamped mode: no pole is looked for below
BESIDE = 4.0  # times or part of a stretch's ends: what resonates beyond has no say in its poles
_STRETCH = 8.0  # ratio of frequencies over which laws and loads are taken at one


class Poles(NamedTuple):
    """Frequencies (P,) in Hz, rising, and half the widths at half power (P,) in Hz."""

    frequency_hz: Array
    half_width_hz: Array


def coil_at_rest(small: Structure) -> Array:
    """The motions (N, N - 1) of a small structure that leave the coil where it is, orthonormal."""
    mirror = small.pickup / np.linalg.norm(small.pickup)
    mirror[0] += np.copysign(1.0, mirror[0])
    mirror /= np.linalg.norm(mirror)
    # Householder: only the first column moves the coil
    return np.asarray((np.eye(small.size) - 2 * np.outer(mirror, mirror))[:, 1:])


def modal(small: Structure, up_to_hz: float, motions: Array | None = None) -> tuple[Array, Structure]:
    """Frequencies (M,) in Hz of a small structure, its mass the identity, up to 1.2 times a frequency, and
    the structure on their modes; with orthonormal motions (N, P) those that are made of them. Materials are at their
    storage modulus of half that frequency."""
    stiffness = small.stiffness_at(up_to_hz / 2)
    squares, shapes = np.linalg.eigh(stiffness if motions is None else motions.T @ stiffness @ motions)
    near = int(np.searchsorted(squares, (2 * np.pi * NEAR * up_to_hz) ** 2))
    shapes = shapes[:, :near]
    frequency = np.sqrt(np.maximum(squares[:near], 0)) / (2 * np.pi)
    return frequency, projected(small, shapes if motions is None else motions @ shapes)


def poles(modes: Structure, from_hz: float, up_to_hz: float) -> Poles:
    """Poles of a structure on its modes between two frequencies in Hz."""
    if not modes.size:
        return Poles(np.zeros(0), np.zeros(0))
    lowest = float(np.sqrt(max(float(np.asarray(modes.stiffness)[0, 0]), 0.0)) / (2 * np.pi))
    begin = min(max(from_hz, LOWEST * lowest), up_to_hz)
    stretches = _stretches(modes, begin, up_to_hz)
    found = []
    for matrix, (a, _, b) in zip(frozen(modes, np.array([at for _, at, _ in stretches])), stretches, strict=True):
        own = np.sqrt(matrix.diagonal()).real / (2 * np.pi)
        near = (own > a / BESIDE) & (own < b * BESIDE)  # half the time, and modes so far away hardly move a pole
        root = np.sqrt(np.linalg.eigvals(matrix[np.ix_(near, near)])) / (2 * np.pi)
        found.append(root[(root.real > a) & (root.real <= b)])
    root = np.concatenate(found)
    root = root[np.argsort(root.real)]
    return Poles(root.real, np.maximum(root.imag, 0.0))


def _stretches(modes: Structure, from_hz: float, up_to_hz: float) -> list[tuple[float, float, float]]:
    """Begin, frequency at which laws are taken, and end of each stretch."""
    if not modes.loads and all(term.law.constant for term in modes.merged):
        return [(from_hz, up_to_hz, up_to_hz)]
    count = max(1, int(np.ceil(np.log(up_to_hz / from_hz) / np.log(_STRETCH))))
    ends = [*(from_hz * (up_to_hz / from_hz) ** (k / count) for k in range(count)), up_to_hz]
    return [(a, (a * b) ** 0.5, b) for a, b in pairwise(ends)]
