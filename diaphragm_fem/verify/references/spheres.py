"""Complete spherical shells and thick hollow spheres, free: closed forms.

Omega = omega R sqrt(rho/E) throughout, R the mid radius.
"""

from functools import cache

import numpy as np
from scipy.special import spherical_jn, spherical_yn

from diaphragm_fem.arrays import Array
from diaphragm_fem.verify.references.roots import determinant_roots


def membrane_sphere(n: int, nu: float = 0.3) -> Array:
    """Omega of the membrane modes of harmonic n >= 1: (1 - nu^2) X^2 - (N + 1 + 3 nu) X + N - 2 = 0, X = Omega^2.

    N = n (n + 1). Source: H. Lamb, Proc. London Math. Soc. 14 (1882) 50. Bending is left out: a limit for h -> 0.
    n = 0 breathes at Omega^2 = 2/(1 - nu).
    """
    if n == 0:
        return np.array([np.sqrt(2 / (1 - nu))])
    big = n * (n + 1)
    roots = np.roots((1 - nu**2, -(big + 1 + 3 * nu), big - 2))
    return np.sort(np.sqrt(np.maximum(roots.real, 0)))


def _wave(n: int, k: float, r: float) -> Array:
    """Value, first and second derivative of j_n(k r) and y_n(k r), columns."""
    z = k * r
    f = np.array((spherical_jn(n, z), spherical_yn(n, z)))
    d = k * np.array((spherical_jn(n, z, derivative=True), spherical_yn(n, z, derivative=True)))
    return np.vstack((f, d, -(k**2) * f - 2 * d / r + n * (n + 1) / r**2 * f))


@cache
def hollow_sphere(n: int, inner: float, outer: float, count: int, nu: float = 0.3) -> Array:
    """omega sqrt(rho/E) of the first `count` spheroidal modes of a free hollow sphere, exact elasticity.

    u = grad phi + curl curl (r psi) with phi = z_n(k r), psi = z_n(p r), k and p the longitudinal and shear wave
    numbers; both stresses vanish on both faces: a 4 x 4 determinant, 2 x 2 for the radial modes n = 0.
    Source: H. Lamb (1882) and A. E. H. Love, Mathematical Theory of Elasticity, ch. XII.
    """
    mu = 1 / (2 * (1 + nu))
    lam = nu / ((1 + nu) * (1 - 2 * nu))
    fast, slow = np.sqrt(lam + 2 * mu), np.sqrt(mu)

    def faces(w: float, r: float) -> Array:
        k, p = w / fast, w / slow
        f, f1, f2 = _wave(n, k, r)
        g, g1, g2 = _wave(n, p, r)
        big = n * (n + 1)
        normal = np.concatenate((-lam * k**2 * f + 2 * mu * f2, 2 * mu * big * (g1 / r - g / r**2)))
        tangential = np.concatenate(
            (2 * (f1 / r - f / r**2), (g1 / r - g / r**2 + g2) - (g / r**2 + g1 / r) + big * g / r**2)
        )
        return normal[None, :2] if n == 0 else np.vstack((normal, mu * tangential))

    step = 0.1 / outer
    return determinant_roots(lambda w: np.vstack((faces(w, inner), faces(w, outer))), count, 0.1 / outer, step)
