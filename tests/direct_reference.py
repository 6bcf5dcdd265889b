"""Area curves that owe nothing to a basis: two direct factorisations, and direct solves placed by their own refinement.

Where losses are below 1e-3 no single factorisation is a reference: the scatter of two tells what can be known.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh, solve_banded
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import reverse_cuthill_mckee

from diaphragm_fem.analysis.curve.curve import Curve, curve_of, picked
from diaphragm_fem.analysis.solution import direct_area
from diaphragm_fem.model.structure import MASS, Structure, multipliers

Array = NDArray[np.float64]

STRAIGHT = 0.03  # a stretch whose middle is that near to the geometric mean of its ends, relative, is left
NARROWEST = 1e-7  # of the frequency: shorter stretches are left
PER_DECADE = 100
HALF_WIDTHS = np.array([-6.0, -2.0, -1.0, -0.4, 0.0, 0.4, 1.0, 2.0, 6.0])
MOST_SPREAD = 12  # rounds of halving
DB = 20 / np.log(10)
STANDS_OUT_DB, MISSED_DB = 0.5, 0.2


def banded_area(structure: Structure, frequency_hz: Array) -> Curve:
    """The area curve by banded LU with partial pivoting, unknowns in reverse Cuthill-McKee order; no loads."""
    terms = structure.merged
    union = csr_matrix(sum(abs(term.matrix) for term in terms))
    union.eliminate_zeros()
    order = reverse_cuthill_mckee(union, symmetric_mode=True)
    parts = [csr_matrix(term.matrix)[order][:, order].tocoo() for term in terms]
    width = max(int(abs(part.row - part.col)[part.data != 0].max(initial=0)) for part in parts)
    bands = np.zeros((len(parts), 2 * width + 1, structure.size))
    for band, part in zip(bands, parts, strict=True):
        some = part.data != 0
        band[width + part.row[some] - part.col[some], part.col[some]] = part.data[some]
    weight, drive = multipliers(terms, frequency_hz), structure.drive[order].astype(complex)
    motion = np.empty((structure.size, len(frequency_hz)), complex)
    for k in range(len(frequency_hz)):
        whole = np.tensordot(weight[:, k], bands, axes=1)
        motion[order, k] = solve_banded((width, width), whole, drive, overwrite_ab=True, check_finite=False)
    return curve_of(structure, frequency_hz, motion, np.full(len(structure.zones), np.nan))


@dataclass(frozen=True)
class Extreme:
    """A peak (+1) or dip (-1) of |S|: index into the reference, and between which frequencies it is the extreme."""

    sign: int
    index: int
    begin_hz: float
    end_hz: float


@dataclass(frozen=True, eq=False)
class Reference:
    """Direct solves, dense enough to know every peak and dip."""

    curve: Curve

    @cached_property
    def level(self) -> Array:
        return np.asarray(DB * np.log(np.abs(self.curve.total)))

    def extremes(self, prominence_db: float) -> list[Extreme]:
        """Peaks and dips that stand out by that much, each with the stretch to its opposite neighbours."""
        from scipy.signal import find_peaks  # half a second, in each process that collects the tests

        f, found = self.curve.frequency_hz, []
        places = {sign: find_peaks(sign * self.level, prominence=prominence_db)[0] for sign in (1, -1)}
        for sign, own in places.items():
            ends = np.concatenate(([0], places[-sign], [len(f) - 1]))
            for index in own:
                begin, end = ends[ends < index].max(), ends[ends > index].min()
                found.append(Extreme(sign, int(index), float(f[begin]), float(f[end])))
        return sorted(found, key=lambda extreme: extreme.index)


def reference(structure: Structure, from_hz: float, up_to_hz: float) -> Reference:
    """Direct solves at an even grid and about the resonances of the whole structure with its coil held; stretches are
    halved until the area in their middle is what their ends say; then parabolas at peaks and dips.
    """
    even = np.geomspace(from_hz, up_to_hz, int(PER_DECADE * np.log10(up_to_hz / from_hz)) + 2)
    seeds = _resonances(structure, from_hz, up_to_hz)
    start = np.unique(np.concatenate((even, seeds[(seeds > from_hz) & (seeds < up_to_hz)])))
    curve = direct_area(structure, start)
    bent = np.ones(len(start) - 1, bool)
    for _ in range(MOST_SPREAD):
        f, value = curve.frequency_hz, curve.total
        begin = np.flatnonzero(bent & (np.diff(f) > NARROWEST * f[1:]))
        if not len(begin):
            break
        middle = (f[begin] + f[begin + 1]) / 2
        extra = direct_area(structure, middle)
        told = value[begin] * np.sqrt(value[begin + 1] / value[begin])
        off = np.abs(extra.total / told - 1) > STRAIGHT
        curve = curve.joined(extra)
        left = np.searchsorted(curve.frequency_hz, middle[off])
        bent = np.zeros(len(curve.frequency_hz) - 1, bool)
        bent[left] = bent[left - 1] = True
    for _ in range(2):
        if len(tops := _tops(curve)):
            curve = curve.joined(direct_area(structure, tops))
    return Reference(curve)


def _resonances(structure: Structure, from_hz: float, up_to_hz: float) -> Array:
    """Places about each resonance of the whole structure, coil held by a stiff spring, in half-widths."""
    mass, coil = structure.mass.toarray(), structure.pickup
    stops = np.geomspace(from_hz, up_to_hz, 5) if structure.modulus_varies else np.array([from_hz, up_to_hz])
    found = []
    for begin, end in pairwise(stops):
        at = np.array([np.sqrt(begin * end)])
        terms = [term for term in structure.merged if term.derivatives != MASS]
        weight = multipliers(terms, at)[:, 0]
        dynamic = sum(w * term.matrix for w, term in zip(weight, terms, strict=True)).toarray()
        hold = 1e3 * (2 * np.pi * up_to_hz) ** 2 * (coil @ (mass @ coil)) / (coil @ coil) ** 2
        window = ((2 * np.pi * begin / 1.1) ** 2, (2 * np.pi * end * 1.1) ** 2)
        squares, shapes = eigh(dynamic.real + hold * np.outer(coil, coil), mass, subset_by_value=window)
        loss = np.einsum("nm,nm->m", shapes, dynamic.imag @ shapes) / squares
        f = np.sqrt(squares) / (2 * np.pi)
        found.append((f[:, None] * (1 + HALF_WIDTHS * loss[:, None] / 2)).ravel())
    return np.concatenate(found)


def _tops(curve: Curve) -> Array:
    """Vertices of the parabolas of log |S| through each extreme and its neighbours."""
    f, level = curve.frequency_hz, np.log(np.abs(curve.total))
    rise = np.sign(np.diff(level))
    i = np.flatnonzero(rise[1:] * rise[:-1] < 0) + 1
    before, after, down, up = f[i] - f[i - 1], f[i + 1] - f[i], level[i] - level[i + 1], level[i] - level[i - 1]
    vertex = f[i] - (before**2 * down - after**2 * up) / (2 * (before * down + after * up))
    return np.asarray(np.unique(vertex[(vertex > f[i - 1]) & (vertex < f[i + 1])]))


def chosen(found: Reference, count: int) -> NDArray[np.int64]:
    """`count` indices of a reference: its extremes, at most half, and others evenly among its points."""
    marked = np.array([extreme.index for extreme in found.extremes(0.5)], int)
    marked = marked[np.unique(np.linspace(0, len(marked) - 1, count // 2).astype(int))] if len(marked) else marked
    spread = np.linspace(0, len(found.curve.frequency_hz) - 1, count).astype(int)
    others = np.setdiff1d(spread, marked)
    take = np.unique(np.linspace(0, len(others) - 1, count - len(marked)).astype(int))
    return np.union1d(marked, others[take])


def missed(curve: Curve, found: Reference, structure: Structure, uncertain: float) -> list[str]:
    """Extremes of the reference that the curve does not reach within 0.2 dB between their neighbours."""
    level, lost = DB * np.log(np.abs(curve.total)), []
    for one in found.extremes(STANDS_OUT_DB):
        inside = (curve.frequency_hz >= one.begin_hz) & (curve.frequency_hz <= one.end_hz)
        reached = one.sign * np.max(one.sign * level[inside], initial=-np.inf)
        off = abs(reached - found.level[one.index])
        if off > MISSED_DB:
            at = picked(found.curve, np.array([one.index]))
            scatter = abs(DB * np.log(abs(banded_area(structure, at.frequency_hz).total[0] / at.total[0])))
            if off > MISSED_DB + uncertain * scatter:
                kind = "peak" if one.sign > 0 else "dip"
                lost.append(f"{kind} at {at.frequency_hz[0]:.6g} Hz by {off:.2g} dB, scatter {scatter:.1g} dB")
    return lost
