"""Thin (Kirchhoff) circular and annular plates: natural frequencies from their Bessel determinants.

Outer radius a = 1. A mode of n nodal diameters is w(r) cos(n theta) with
    w = A J_n(x r) + B Y_n(x r) + C I_n(x r) + D K_n(x r),   x^2 = omega a^2 sqrt(rho h / D).
Edge quantities, all per -D:
    slope w',   moment w'' + nu (w'/r - n^2 w/r^2),   effective shear (lap w)' - (1 - nu) n^2/r^2 (w' - w/r).
Source: Leissa, Vibration of Plates, NASA SP-160 (1969), ch. 2; annular plates: Vogel and Skinner, J. Appl. Mech. 32
(1965) 926; a ring of mass makes the effective shear jump.
"""

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
from scipy.special import iv, ive, jn_zeros, jv, kve, yv

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.verify.references.roots import determinant_roots

DOWN, UP_DOWN = np.array((-1.0, -1.0)), np.array((1.0, -1.0))  # of the next order in the slopes of J, Y and of I, K
SIGNS = np.array((-1.0, -1.0, 1.0, 1.0))  # of the Laplacian of J, Y, I, K


def radial(n: int, k: complex, r: float, ordinary: bool, span: tuple[float, float]) -> Array | Complex:
    """Value, first and second derivative (rows) of two Bessel functions of k r, r > 0: J and Y, or I and K.

    I and K are scaled to about 1 at the far and near end of `span`, so that no column overflows.
    """
    z, orders = k * r, (n, n + 1)
    if ordinary:
        f, following = np.array((jv(orders, z), yv(orders, z))).T
        curve, step = -(k**2), DOWN
    else:
        scale = np.exp(np.real(z) - k * span[1]), np.exp(k * span[0] - z)
        f, following = np.array((ive(orders, z) * scale[0], kve(orders, z) * scale[1])).T
        curve, step = k**2, UP_DOWN
    slope = n / r * f + k * step * following
    return np.array((f, slope, (curve + n**2 / r**2) * f - slope / r))


def columns(n: int, x: complex, r: float, nu: float, span: tuple[float, float]) -> Any:
    """Deflection, slope, moment over x^2 and effective shear over x^3 (rows) of J, Y, I, K (columns) at radius r."""
    w, slope, second = np.hstack([radial(n, x, r, ordinary, span) for ordinary in (True, False)])
    moment = second + nu * (slope / r - n**2 / r**2 * w)
    shear = SIGNS * x**2 * slope - (1 - nu) * n**2 / r**2 * (slope - w / r)
    return np.array((w, slope, moment / x**2, shear / x**3))


EDGE_ROWS = {"C": (0, 1), "S": (0, 2), "F": (2, 3), "G": (1, 3)}  # clamped, supported, free, guided (slope held)


def chain(inner: str, outer: str, begin: Sequence[Any], end: Sequence[Any]) -> Any:
    """Conditions (4 P, 4 P) on the four functions of each of P rings end to end, whose quantities (4, 4) at both radii
    are given: at the inner edge, outside less inside at every joint, and the outer edge, less what is inside it.

    inner "": a disc, whose second and fourth function have no part, for they are singular at its centre.
    """
    count = len(end)
    found = np.zeros((4 * count, 4 * count), np.result_type(*end))
    found[0, 1] = found[1, 3] = not inner
    if inner:
        found[:2, :4] = begin[0][list(EDGE_ROWS[inner])]
    for p in range(1, count):
        rows = slice(4 * p - 2, 4 * p + 2)
        found[rows, 4 * p - 4 : 4 * p], found[rows, 4 * p : 4 * p + 4] = -end[p - 1], begin[p]
    found[-2:, -4:] = -end[-1][list(EDGE_ROWS[outer])]
    return found


def shear_row(inner: str, outer: str, count: int, joint: int) -> int:
    """Which condition of a chain tells the jump of the shear at a joint; 0: the inner edge, `count`: the outer one."""
    if joint in (0, count):
        return EDGE_ROWS[outer].index(3) + 4 * count - 2 if joint else EDGE_ROWS[inner].index(3)
    return 4 * joint + 1


@cache
def circular_plate(edge: str, n: int, count: int, nu: float = 0.3) -> Array:
    """x^2 of the first `count` elastic modes of a solid disc; edge C, S, F or G."""
    if edge == "G" and n == 0:  # slope and shear vanish together, at the zeros of J_1
        return np.asarray(jn_zeros(1, count) ** 2)
    kept = np.ix_(EDGE_ROWS[edge], (0, 2))
    return determinant_roots(lambda x: columns(n, x, 1.0, nu, (0.0, 1.0))[kept], count, 0.3, 0.5) ** 2


@cache
def annular_plate(outer: str, inner: str, b: float, n: int, count: int, nu: float = 0.3) -> Array:
    """x^2 of the first `count` elastic modes of an annulus b < r < 1; edges C, S, F or G."""

    def matrix(x: float) -> Array:
        begin, end = (columns(n, x, r, nu, (b, 1.0)) for r in (b, 1.0))
        return chain(inner, outer, [begin], [end])

    return np.asarray(determinant_roots(matrix, count, 0.3, 0.5) ** 2)


@cache
def plate_with_ring(edge: str, b: float, mass_ratio: float, n: int, count: int, nu: float = 0.3) -> Array:
    """x^2 of a disc that carries a ring of mass at r = b: mass_ratio = ring mass / (rho h pi a^2).

    Deflection, slope and moment are continuous; the effective shear jumps by mass_ratio x^4 w / (2 b). The ring has
    no rotary inertia and no stiffness.
    """

    def matrix(x: float) -> Array:
        inside, outside, rim = (
            columns(n, x, r, nu, span) for r, span in ((b, (0.0, b)), (b, (b, 1.0)), (1.0, (b, 1.0)))
        )
        outside[3] -= mass_ratio * x / (2 * b) * outside[0]
        return chain("", edge, [None, outside], [inside, rim])

    return np.asarray(determinant_roots(matrix, count, 0.3, 0.5) ** 2)


@cache
def plate_with_point_mass(edge: str, mass_ratio: float, count: int, nu: float = 0.3) -> Array:
    """x^2 of the axisymmetric modes of a disc with a point mass at its centre (mass / (rho h pi a^2)).

    The combination Y_0 + (2/pi) K_0 is finite at r = 0 and its flux 2 pi r (lap w)' tends to -8 x^2 there; the mass
    asks for a flux of mass_ratio pi x^4 w(0).
    """
    rows = list(EDGE_ROWS[edge])

    def matrix(x: float) -> Array:
        at_edge = columns(0, x, 1.0, nu, (0.0, 1.0))
        regular = at_edge[:, 1] + 2 / np.pi * at_edge[:, 3]
        a = np.zeros((3, 3))
        a[:2] = np.column_stack((at_edge[rows, 0], at_edge[rows, 2], regular[rows]))
        a[2] = mass_ratio * np.pi * x**2 * np.array((1.0, np.exp(-x), 0.0)) + np.array((0.0, 0.0, 8.0))
        return a

    return np.asarray(determinant_roots(matrix, count, 0.3, 0.5) ** 2)


@cache
def plate_with_boss(edge: str, b: float, mass_ratio: float, count: int, nu: float = 0.3) -> Array:
    """x^2 of the axisymmetric modes of a disc whose centre r < b is a rigid boss of mass_ratio rho h pi a^2."""
    rows = list(EDGE_ROWS[edge])

    def matrix(x: float) -> Array:
        near = columns(0, x, b, nu, (b, 1.0))
        return np.vstack(
            (columns(0, x, 1.0, nu, (b, 1.0))[rows], near[1], near[3] - mass_ratio * x / (2 * b) * near[0])
        )

    return np.asarray(determinant_roots(matrix, count, 0.3, 0.5) ** 2)


def mode_mean_over_centre(edge: str, order: int, nu: float = 0.3) -> float:
    """Mean deflection over the disc divided by the centre deflection, axisymmetric mode number `order` (from 1).

    w = J_0(x r) + c I_0(x r): mean = 2 (J_1(x) + c I_1(x))/x, centre = 1 + c. Every elastic mode of a free plate has
    the mean 0 exactly, since it is orthogonal to the rigid motion.
    """
    x = float(np.sqrt(circular_plate(edge, 0, order, nu)[order - 1]))
    table = columns(0, x, 1.0, nu, (0.0, 1.0))
    row = {"C": 0, "S": 0, "F": 2, "G": 1}[edge]
    c = float(-table[row, 0] / (table[row, 2] * np.exp(x)))
    return float(2 * (jv(1, x) + c * iv(1, x)) / x / (1 + c))
