"""Thin compression chamber along a face: one-dimensional air between face and plug, with slots as ring sinks.

 (1/r_m) d/ds(r_m g v) + i omega C_e g p = i omega u_n (r/r_m) - sum_j U_j delta(s - s_j)/(2 pi r_m),
 v = -p'/(i omega rho_e).
Weak form, weights 2 pi r_m ds, v = 0 at closed ends:
 K_g/(i omega rho_e) p + i omega C_e M_g p + E Y E^T p = i omega C^T u,     structure: D(omega) u + C p = f,
C_ab = sum over the face of phi_a.n psi_b 2 pi r ds, so that C 1 is the swept volume. Eliminating the air leaves the
dynamic stiffness Z = i omega A(omega)^-1 on the face's pressure patterns psi. rho_e, C_e belong to each element's own
width: `slit`. Bends and slots carry the corrections of `junction`. Valid for k g < 0.3, walls rigid and
isothermal, m = 0, excursion small against the gap. exp(+i omega t).
"""

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike
from scipy.special import roots_jacobi

from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.load.air import SOUND_SPEED, Air
from diaphragm_fem.load.junction import relief, slot_through_flow
from diaphragm_fem.load.slit import slit
from diaphragm_fem.load.slot_network import SlotNetwork
from diaphragm_fem.mesh.gap_line import GapLine

ORDER = 4
SHORT = 0.6e-3  # m
MOST_RELIEF = 0.9  # of an element's resistance, for bends that crowd
ANSWERED_AT = 2 * np.pi * 5e3 / SOUND_SPEED  # wave number in 1/m at which the gap answers to its slots: at 5 kHz


@dataclass(frozen=True)
class ThinChamber:
    """Matrices of the gap on its pressure patterns.

    width (G,) the different widths in m; conductance (G, N, N) K_g and volume (G, N, N) M_g of the elements of each;
    slots (N, J) value of each pattern at the slots; patterns (B, N) values on the elements' basic functions.
    """

    line: GapLine
    width: Array
    conductance: Array
    volume: Array
    slots: Array
    patterns: Array

    @cached_property
    def even_volumes(self) -> Array:
        """Volume in m3 of each width (G,), as the patterns hold it: what an even pressure meets."""
        ones = np.linalg.lstsq(self.patterns, np.ones(len(self.patterns)), rcond=None)[0]
        return np.asarray(self.volume @ ones @ ones)

    def shapes(self, place: Array) -> Array:
        """Values (P, N) of the patterns at distances (P,) along the line's middle."""
        return _shapes(self.line, place) @ self.patterns

    def air_matrix(self, air: Air, omega: Array, network: SlotNetwork | None) -> Complex:
        """A (F, N, N), the air's own matrix: volume flow in = A p."""
        rest, push = self.factors(air, omega)
        matrix = np.einsum("fg,gab->fab", rest, self.conductance) + np.einsum("fg,gab->fab", push, self.volume)
        if network is not None:
            matrix += self.slots @ network.admittance @ self.slots.T
        return matrix

    def factors(self, air: Air, omega: Array) -> tuple[Complex, Complex]:
        """1/(i omega rho_e) and i omega C_e, both (F, G)."""
        media = [slit(air, float(width), omega) for width in self.width]
        rest = np.stack([1 / (1j * omega * medium.density) for medium in media], axis=1)
        return rest, np.stack([1j * omega * medium.compliance for medium in media], axis=1)

    def stiffness(self, air: Air, omega: ArrayLike, network: SlotNetwork) -> Complex:
        """Z (F, N, N) in Pa/m3 on the patterns: generalised pressure per generalised swept volume, i omega A^-1.

        On modes of an even gap K_g and M_g are diagonal and the slots have rank J: 400 frequencies of 30 patterns take
        3 ms so, 27 ms by the plain inverse.
        """
        omega, first = np.asarray(omega, float), self.conductance[0]
        if len(self.width) > 1 or np.count_nonzero(first - np.diag(np.diagonal(first))):
            return np.asarray(1j * omega[:, None, None] * np.linalg.inv(self.air_matrix(air, omega, network)))
        rest, store = self.factors(air, omega)
        inverse = 1 / (rest * np.diagonal(first) + store * np.diagonal(self.volume[0]))
        held = inverse[:, :, None] * self.slots
        small = np.linalg.inv(network.admittance) + self.slots.T @ held
        push = 1j * omega[:, None]
        whole = held @ (-push[:, :, None] * np.linalg.solve(small, np.swapaxes(held, 1, 2)))
        patterns = np.arange(inverse.shape[1])
        whole[:, patterns, patterns] += push * inverse
        return np.asarray(whole)


def thin_chamber(line: GapLine, *, corrected: bool = True) -> ThinChamber:
    """The chamber on all functions of the line's elements (fourth order, N of them).

    corrected False leaves the bends' and slots' conduction as a plain one-dimensional gap would have it.
    """
    nodes, points, weights = _rule()
    shape, slope = _lagrange(nodes, points), _lagrange_slope(nodes, points)
    length, radius = np.diff(line.vertex), line.point[:, 0]
    fraction = (points + 1) / 2
    r = radius[:-1, None] + fraction * np.diff(radius)[:, None]
    g = line.width[:, :1] + fraction * np.diff(line.width, axis=1)
    band = 2 * np.pi * r * g * weights / 2
    ease = conduction(line) if corrected else np.ones_like(length)
    flow = np.einsum("eq,qa,qb->eab", band * (4 * ease / length)[:, None], slope, slope)
    store = np.einsum("eq,qa,qb->eab", band, shape, shape) * length[:, None, None]
    mean = line.width.mean(axis=1)
    width, group = np.unique(np.round(mean, 9), return_inverse=True)
    place, spread, size = _numbering(length)
    turned = spread.transpose(0, 2, 1)
    at = group[:, None, None], place[:, :, None], place[:, None, :]
    K, M = np.zeros((len(width), size + 1, size + 1)), np.zeros((len(width), size + 1, size + 1))
    np.add.at(K, at, turned @ flow @ spread)
    np.add.at(M, at, turned @ store @ spread)
    K, M = K[:, :size, :size], M[:, :size, :size]
    slots = np.zeros((size, len(line.slot_vertex)))
    slots[place[line.slot_vertex, 0], np.arange(len(line.slot_vertex))] = 1
    return ThinChamber(line, width, K, M, slots, np.eye(size))


def on_modes(chamber: ThinChamber, count: int) -> ThinChamber:
    """The chamber on its first `count` rigid-wall modes and its answers to a flow from each slot.

    The answers at ANSWERED_AT hold what lies between the modes: with them the flow near a slot is
    exact at any count. The patterns keep the constant one, so C 1 stays the swept volume.
    """
    from scipy.linalg import eigh

    K, M = chamber.conductance.sum(axis=0), chamber.volume.sum(axis=0)
    count = min(count, len(K))
    _, modes = eigh(K, M, subset_by_index=(0, count - 1))
    if chamber.slots.shape[1]:
        answers = np.linalg.solve(K + ANSWERED_AT**2 * M, chamber.slots)
        answers /= np.sqrt(np.einsum("nj,nm,mj->j", answers, M, answers))
        answers -= modes @ (modes.T @ M @ answers)
        size, turn = eigh(answers.T @ M @ answers)
        keep = size > 1e-12
        modes = np.hstack((modes, answers @ turn[:, keep] / np.sqrt(size[keep])))
    _, mix = eigh(modes.T @ K @ modes, modes.T @ M @ modes)
    modes = modes @ mix
    reduced = replace(
        chamber,
        conductance=modes.T @ chamber.conductance @ modes,
        volume=modes.T @ chamber.volume @ modes,
        slots=modes.T @ chamber.slots,
        patterns=chamber.patterns @ modes,
    )
    if len(chamber.width) > 1:
        return reduced
    diagonal = np.eye(modes.shape[1])
    return replace(reduced, conductance=reduced.conductance * diagonal, volume=reduced.volume * diagonal)


def rigid_wall_modes(chamber: ThinChamber, count: int) -> tuple[Array, Array]:
    """Wave numbers (count,) in 1/m and patterns (N, count) of the closed gap with rigid walls; f = k c/(2 pi)."""
    from scipy.linalg import eigh

    values, modes = eigh(chamber.conductance.sum(axis=0), chamber.volume.sum(axis=0), subset_by_index=(0, count - 1))
    return np.sqrt(np.maximum(values, 0)), modes


def conduction(line: GapLine) -> Array:
    """How much better each element (E,) conducts than a plain gap: at bends, over g tan(theta/2), and under slots."""
    width, length = line.width.mean(axis=1), np.diff(line.vertex)
    place, turn = line.bend.T
    around = np.interp(place, line.vertex, np.append(line.width[:, 0], line.width[-1, 1]))
    less = relief(turn, 2 * np.abs(place[:, None] - place) / (around[:, None] + around))
    half = around / 2 * np.tan(np.abs(turn) / 2)
    begin, end = np.maximum(place - half, 0), np.minimum(place + half, line.length)
    over = np.minimum(end[:, None], line.vertex[1:]) - np.maximum(begin[:, None], line.vertex[:-1])
    share = np.maximum(over, 0) / (end - begin)[:, None]
    ease = 1 / (1 - np.minimum((less @ share) * width / length, MOST_RELIEF))
    for j in range(len(line.slot_vertex)):
        under = line.slot == j
        n = line.slot_width[j] / (2 * width[under])
        ease[under] = 1 / (1 + slot_through_flow(n) / n)
    return ease


@cache
def _rule() -> tuple[Array, Array, Array]:
    """Nodes of the functions (ends and zeros of P', those of a Jacobi polynomial), points and weights of the integrals
    on (-1, 1)."""
    inside, _ = roots_jacobi(ORDER - 1, 1, 1)
    points, weights = legendre.leggauss(ORDER + 2)
    return np.concatenate(([-1.0], inside, [1.0])), points, weights


def _lagrange(nodes: Array, x: Array) -> Array:
    """Values (P, ORDER + 1) at x (P,) of the functions that are 1 at one node."""
    return np.asarray(legendre.legvander(x, ORDER) @ np.linalg.inv(legendre.legvander(nodes, ORDER)))


def _lagrange_slope(nodes: Array, x: Array) -> Array:
    slopes = np.stack([legendre.Legendre.basis(k).deriv()(x) for k in range(ORDER + 1)], axis=1)
    return np.asarray(slopes @ np.linalg.inv(legendre.legvander(nodes, ORDER)))


def _numbering(length: Array) -> tuple[Index, Array, int]:
    """Unknowns (E, ORDER + 1) of each element, ends first and last; how its ORDER + 1 functions follow from them
    (E, ORDER + 1, ORDER + 1); and how many there are. An unknown that an element lacks has that number itself.

    Elements shorter than SHORT are parabolas: half the unknowns of a V with rolls, a third of the time of its modes.
    """
    nodes, _, _ = _rule()
    short = length < SHORT
    inside = np.where(short, 1, ORDER - 1)
    begin = np.concatenate(([0], np.cumsum(inside + 1)))
    size = int(begin[-1]) + 1
    step = np.arange(ORDER + 1)
    place = begin[:-1, None] + step
    place[short, 2:ORDER] = size
    place[short, ORDER] = begin[1:][short]
    parabola = np.zeros((ORDER + 1, ORDER + 1))
    parabola[:, 0], parabola[:, 1] = nodes * (nodes - 1) / 2, 1 - nodes**2
    parabola[:, ORDER] = nodes * (nodes + 1) / 2
    return place, np.where(short[:, None, None], parabola, np.eye(ORDER + 1)), size


def _shapes(line: GapLine, at: Array) -> Array:
    nodes, _, _ = _rule()
    length = np.diff(line.vertex)
    place, spread, size = _numbering(length)
    element = np.clip(np.searchsorted(line.vertex, at, side="right") - 1, 0, len(length) - 1)
    local = _lagrange(nodes, 2 * (at - line.vertex[element]) / length[element] - 1)
    values = np.zeros((len(at), size + 1))
    np.put_along_axis(values, place[element], np.einsum("pa,pab->pb", local, spread[element]), axis=1)
    return values[:, :size]
