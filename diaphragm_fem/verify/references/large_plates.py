"""Clamped circular plates beyond small deflection: tension in their plane, and von Karman's equations under pressure.

Outer radius a = 1, Poisson ratio nu.
"""

from functools import cache

import numpy as np
from scipy.special import ive, jn_zeros, jv, jvp

from diaphragm_fem.arrays import Array
from diaphragm_fem.verify.references.roots import determinant_roots

BUCKLING = -(float(jn_zeros(1, 1)[0]) ** 2)  # T a^2/D of a clamped plate, m = 0: J1(x) = 0


@cache
def tensioned_plate(tension: float, m: int, count: int = 3) -> Array:
    """omega a^2 sqrt(rho h/D) of the first modes of m nodal diameters at the edge tension T a^2/D (positive pulls).

    J_m(p) q I_m'(q) - p J_m'(p) I_m(q) = 0 with q^2 - p^2 = T a^2/D and omega = p q, thin plate, edge clamped
    (problem of Wah, J. Acoust. Soc. Am. 34 (1962) 275, named from memory; the equation is derived here: D lap^2 w -
    T lap w = rho h omega^2 w, w = J_m(p r) and I_m(q r)).
    """

    def matrix(p: float) -> Array:
        q = np.sqrt(p * p + tension)
        slope = (ive(m - 1, q) + ive(m + 1, q)) / 2
        return np.array(((jv(m, p), ive(m, q)), (p * jvp(m, p), q * slope)))

    p = determinant_roots(matrix, count, np.sqrt(max(-tension, 0.0)) + 2e-6, 0.1)
    return p * np.sqrt(p * p + tension)


@cache
def pressed_plate(deflection: float, nu: float = 0.3) -> float:
    """q a^4/(E h^4) of a clamped plate with immovable edge at a centre deflection in thicknesses, by von Karman.

    With slope w' = r y, radial force r N and h = E = 1: D (y'' + 3 y'/r) = N y + q/2 and N'' + 3 N'/r = -y^2/2, y = 0
    and N' + (1 - nu) N = 0 at the edge. Source: von Karman (1910) as in Timoshenko and Woinowsky-Krieger, Theory of
    Plates and Shells (1959), section 97, solved here by collocation.
    """
    from scipy.integrate import solve_bvp

    rigidity, r = 1 / 12 / (1 - nu**2), np.linspace(0, 1, 65)

    def rates(r: Array, x: Array, load: Array) -> Array:
        y, bent, n, pulled, _ = x
        return np.array((bent, (n * y + load[0] / 2) / rigidity, pulled, -(y**2) / 2, r * y))

    def ends(axis: Array, edge: Array, _: Array) -> Array:
        return np.array((axis[1], axis[3], axis[4] - deflection, edge[0], edge[3] + (1 - nu) * edge[2], edge[4]))

    begin = deflection * np.array((4 * r**2 - 4, 8 * r, 0 * r, 0 * r, (1 - r**2) ** 2))
    over_r = np.diag((0.0, -3.0, 0.0, -3.0, 0.0))
    found = solve_bvp(rates, ends, r, begin, [64 * rigidity * deflection], over_r, tol=1e-9, max_nodes=20_000)
    if not found.success:
        raise ValueError(found.message)
    return float(found.p[0])
