"""What a page needs to solve a design's motion by itself: the reduced model, its laws over frequency, its surface.

The page solves (sum of factor(f) A_k + loads) y = drive, N unknowns of a few dozen, at any frequency; nothing is read
between stored answers. What is read between points is smooth: the moduli and the channels of the slots, on a grid of
96 points an octave.
"""

from typing import Any

import numpy as np

from diaphragm_fem.analysis.curve.reduced import Reduced
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import Structure, Surface
from diaphragm_fem.report.page.packing import Packed, packed, packed_rows

PER_OCTAVE = 96


def frequency_grid(from_hz: float, up_to_hz: float) -> Array:
    """Frequencies in Hz, evenly spaced on a logarithmic axis, both ends among them."""
    return np.geomspace(from_hz, up_to_hz, int(np.ceil(np.log2(up_to_hz / from_hz) * PER_OCTAVE)) + 1)


def motion_of(reduced: Reduced, from_hz: float) -> dict[str, Any]:
    """The reduced model (N unknowns, Z zones, P surface points) as packed arrays.

    terms: each a symmetric matrix by its upper triangle, row by row, how often its motion is differentiated, and its
    factor over the grid (one value where it is constant); drive, pickup (N,), volume (Z, N) in m2; surface and motion
    (N, 2, P), radial and axial, per unknown in m, in 16-bit steps.
    """
    small, grid = reduced.small, frequency_grid(from_hz, reduced.up_to_hz)
    surface = reduced.structure.surface
    sides = [np.asarray(each @ reduced.basis).T for each in (surface.motion_r, surface.motion_z)]
    return {
        "from_hz": from_hz, "up_to_hz": reduced.up_to_hz, "grid": len(grid), "terms": _terms(small, grid),
        **{name: packed(getattr(small, name)) for name in ("drive", "pickup", "volume", "zone_area")},
        "surface": surface_of(surface), "motion": packed_rows(np.stack(sides, axis=1)),
    }  # fmt: skip


def surface_of(surface: Surface) -> dict[str, Packed]:
    """Where the surface points are, in m, the zone and the run of each, and its share of the front's area in m2."""
    kinds = {"r": "f4", "z": "f4", "normal": "f4", "area": "f4", "zone": "u1", "run": "u1"}
    return {name: packed(getattr(surface, name), kind) for name, kind in kinds.items()}


def _terms(small: Structure, grid: Array) -> list[dict[str, Any]]:
    upper = np.triu_indices(small.size)
    terms = []
    for term in small.merged:
        factor = term.law(grid[:1] if term.law.constant else grid)
        matrix, kind = packed(np.asarray(term.matrix)[upper]), "f8" if term.law.constant else "f4"
        terms.append({"derivatives": term.derivatives, "matrix": matrix, "factor": packed(factor, kind)})
    return terms
