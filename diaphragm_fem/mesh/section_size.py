"""How long the cells of a wall section may be along the meridian, and where their ends fall.

Fifth-order cells resolve a bending wave with two or three of them; near kinks, joints, supports and jumps of the wall
the stress changes within about one thickness, so cells begin there with one thickness and grow from cell to cell.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.mesh.sizing import bending_wavelength, edge_effect_length
from diaphragm_fem.mesh.strip import Strip

PER_EDGE = 0.6  # cells per decay length of the edge effect, next to ends of pieces
_NEAR = np.geomspace(1e-4, 0.5, 24)
_LOOKED_AT = np.concatenate(([0.0], _NEAR, 1 - _NEAR[-2::-1], [1.0]))  # of a stretch: where sizes are asked for


@dataclass(frozen=True)
class Grading:
    """Sizing of the section: top frequency in Hz and how finely to cut.

    corner      factor on the first cell at a singular place (one wall thickness)
    growth      length ratio of neighbouring cells
    per_wave    cells per bending wavelength at the top frequency
    turn        largest turn of the tangent within a cell, in radians
    refine      divides every length
    levels      of smaller cells about the middle that holds a thick wall by its end
    """

    up_to_hz: float = 20e3
    corner: float = 1.0
    growth: float = 1.5
    per_wave: float = 2.5
    turn: float = 0.6
    refine: float = 1.0
    levels: int = 1


def seeds_of(strips: list[Strip]) -> list[tuple[float, float]]:
    """Singular places of a chain: (arc length from the chain's begin, length of the first cell there)."""
    found, at = [], 0.0
    for strip in strips:
        if strip.begin.first_cell < np.inf:
            found.append((at, strip.begin.first_cell))
        at += strip.length
    if strips[-1].end.first_cell < np.inf:
        found.append((at, strips[-1].end.first_cell))
    return found


def cut_strip(
    strip: Strip, start: float, seeds: list[tuple[float, float]], breaks: list[float], grading: Grading
) -> Array:
    """Arc lengths (N + 1,) of the stations of a strip that begins at `start` on its chain.

    Stations fall on every one of `breaks` (arc lengths within the strip) and between them as the sizes ask.
    """
    borders = [0.0, *sorted(b for b in breaks if 0 < b < strip.length), strip.length]
    parts = [np.array([0.0])]
    for a, b in pairwise(borders):
        s = a + (b - a) * _LOOKED_AT
        parts.append(evenly(s, 1 / _cell_length(strip, s, start, seeds, grading))[1:])
    return np.concatenate(parts)


def evenly(s: Array, density: Array) -> Array:
    """Places (N + 1,) from the first to the last of s (Q,), N of `density` (Q,) per length, equally many between each
    and the next."""
    needed = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(s))))
    count = max(1, int(np.ceil(needed[-1] - 0.1)))
    return np.interp(np.linspace(0, needed[-1], count + 1), needed, s)


def _cell_length(strip: Strip, s: Array, start: float, seeds: list[tuple[float, float]], grading: Grading) -> Array:
    """Longest allowed cell in metres at arc lengths s of the strip."""
    piece, fraction = strip.piece, s / strip.length
    length = bending_wavelength(piece, fraction, grading.up_to_hz) / grading.per_wave
    decay = edge_effect_length(piece, fraction)
    length = np.minimum(length, decay / PER_EDGE + (grading.growth - 1) * np.minimum(s, strip.length - s))
    with np.errstate(divide="ignore"):
        length = np.minimum(length, grading.turn / np.abs(piece.curve.curvature(s)))
    if seeds:
        place, first = np.array(seeds).T[:, :, None]
        far = np.log(grading.growth) * np.abs(start + s - place)
        length = np.minimum(length, (grading.corner * first + far).min(axis=0))
    return length / grading.refine
