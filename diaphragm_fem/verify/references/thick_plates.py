"""Moderately thick (Mindlin) circular and annular plates: exact natural frequencies, shear and rotary inertia included.

Outer radius a = 1, thickness h, shear correction kappa = 5/6. With R = h^2/12, S = D/(kappa G h) and
L = omega^2 rho h/D (all for a = 1) the deflection is w_1 + w_2, the rotations derive from them and a potential H,
    d_1^2, d_2^2 = L/2 (R + S +- sqrt((R - S)^2 + 4/L)),   d_3^2 = 2 (R L - 1/S)/(1 - nu),   s_i = d_j^2/(R L - 1/S),
    psi_r = sum (s_i - 1) w_i' + n H/r,   psi_th = -sum (s_i - 1) n w_i/r - H'.
Source: Mindlin and Deresiewicz, J. Appl. Phys. 25 (1954) 1329; Irie, Yamada and Takagi, J. Appl. Mech. 49 (1982) 633.
Valid below the first thickness-shear frequency (R L < 1/S), where d_2^2 and d_3^2 are negative.

Edges, outer or inner: C clamped with every rotation held, S supported with the rotation about the meridian held, F
free; c and s are their soft kin, where the twisting moment vanishes and that rotation is free.
"""

from functools import cache

import numpy as np
from scipy.special import jv, yv

from diaphragm_fem.arrays import Array
from diaphragm_fem.verify.references.plates import radial
from diaphragm_fem.verify.references.roots import determinant_roots

SHEAR_CORRECTION = 5 / 6


def columns(n: int, x: float, r: float, h: float, nu: float, span: tuple[float, float]) -> Array:
    """Rows w, psi_r, psi_th, M_r/D, M_rth/D, Q_r S/D; columns the pairs of w_1, w_2, H. x^2 = omega sqrt(rho h/D)."""
    load = x**4
    inertia, shear = h**2 / 12, h**2 / (6 * (1 - nu) * SHEAR_CORRECTION)
    spread = np.sqrt((inertia - shear) ** 2 + 4 / load)
    d1, d2 = load / 2 * (inertia + shear + spread), load / 2 * (inertia + shear - spread)
    cut = inertia * load - 1 / shear
    d3 = 2 * cut / (1 - nu)
    if d2 >= 0 or d3 >= 0:
        raise ValueError("above the first thickness-shear frequency")
    factors = (d2 / cut - 1, d1 / cut - 1)
    table = np.empty((6, 6))
    for block, (f, d, ordinary) in enumerate(((factors[0], d1, True), (factors[1], -d2, False))):
        w, slope, second = radial(n, float(np.sqrt(d)), r, ordinary, span)
        psi_r, psi_t = f * slope, -n * f * w / r
        psi_r_r, psi_t_r = f * second, -n * f * (slope / r - w / r**2)
        moment = psi_r_r + nu * (psi_r + n * psi_t) / r
        twist = (1 - nu) / 2 * ((-n * psi_r - psi_t) / r + psi_t_r)
        table[:, 2 * block : 2 * block + 2] = w, psi_r, psi_t, moment, twist, psi_r + slope
    w, slope, second = radial(n, float(np.sqrt(-d3)), r, False, span)
    psi_r, psi_t = n * w / r, -slope
    psi_r_r, psi_t_r = n * (slope / r - w / r**2), -second
    moment = psi_r_r + nu * (psi_r + n * psi_t) / r
    twist = (1 - nu) / 2 * ((-n * psi_r - psi_t) / r + psi_t_r)
    table[:, 4:] = 0 * w, psi_r, psi_t, moment, twist, psi_r
    return table


def in_plane_annulus(inner: float, outer: float, count: int, nu: float = 0.3) -> Array:
    """k = omega sqrt(rho (1 - nu^2)/E) of the radial in-plane modes of a free annulus: u = A J_1(k r) + B Y_1(k r).

    Both edges are free of radial force: u' + nu u/r = 0. Source: Love, Theory of Elasticity, section 314 (from memory).
    """

    def matrix(k: float) -> Array:
        rows = [[k * f(0, k * r) - (1 - nu) * f(1, k * r) / r for f in (jv, yv)] for r in (inner, outer)]
        return np.array(rows)

    return determinant_roots(matrix, count, 0.05 / outer, 0.25 / outer)


_EDGE_ROWS = {"C": (0, 1, 2), "c": (0, 1, 4), "S": (0, 2, 3), "s": (0, 3, 4), "F": (3, 4, 5)}
_TORSION_ROWS = (2, 4)  # for n = 0 the in-plane rotation decouples: leave it out


@cache
def circular_plate(edge: str, n: int, count: int, h: float, nu: float = 0.3) -> Array:
    """x^2 = omega a^2 sqrt(rho h/D) of the first `count` flexural modes of a disc of thickness h (a = 1)."""
    rows = [i for i in _EDGE_ROWS[edge] if n or i not in _TORSION_ROWS]
    cols = (0, 2, 4) if n else (0, 2)

    def matrix(x: float) -> Array:
        return columns(n, x, 1.0, h, nu, (0.0, 1.0))[np.ix_(rows, cols)]

    return np.asarray(determinant_roots(matrix, count, 0.5, 0.5) ** 2)


@cache
def annular_plate(outer: str, inner: str, b: float, n: int, count: int, h: float, nu: float = 0.3) -> Array:
    """x^2 of the first `count` flexural modes of an annulus b < r < 1 of thickness h."""
    cols = slice(None) if n else slice(0, 4)

    def matrix(x: float) -> Array:
        blocks = []
        for edge, r in ((outer, 1.0), (inner, b)):
            rows = [i for i in _EDGE_ROWS[edge] if n or i not in _TORSION_ROWS]
            blocks.append(columns(n, x, r, h, nu, (b, 1.0))[rows, cols])
        return np.vstack(blocks)

    return np.asarray(determinant_roots(matrix, count, 0.5, 0.5) ** 2)
