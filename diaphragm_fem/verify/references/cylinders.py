"""Circular cylinders between shear diaphragms (radial and circumferential motion held, axial free).

Mode: u_x ~ cos(k x) cos(n theta), u_th ~ sin(k x) sin(n theta), u_r ~ sin(k x) cos(n theta), k = j pi/L.
Omega = omega R sqrt(rho/E), R the mid radius.
"""

import numpy as np
from numpy.polynomial import Legendre
from scipy.linalg import eigh

from diaphragm_fem.arrays import Array


def fluegge_cylinder(n: int, j: int, length: float, h: float, nu: float = 0.3) -> Array:
    """Omega of the families of n waves and j axial half-waves (j = 0: axial motion alone); length and h per R.

    Source: W. Fluegge, Stresses in Shells (1960); the matrix as in Leissa, Vibration of Shells, NASA SP-288 (1973),
    ch. 2. Thin shell: no shear, no rotary inertia; relative error of order (h/R)^2 and (h k)^2.
    """
    a, k = j * np.pi / length, h**2 / 12
    matrix = np.zeros((3, 3))
    matrix[0, 0] = a**2 + (1 - nu) / 2 * (1 + k) * n**2
    matrix[0, 1] = -(1 + nu) / 2 * a * n
    matrix[0, 2] = -nu * a - k * a**3 + k * (1 - nu) / 2 * a * n**2
    matrix[1, 1] = n**2 + (1 - nu) / 2 * (1 + 3 * k) * a**2
    matrix[1, 2] = n + k * (3 - nu) / 2 * a**2 * n
    matrix[2, 2] = 1 + k * ((a**2 + n**2) ** 2 - 2 * n**2 + 1)
    full = matrix + np.triu(matrix, 1).T
    if j == 0:  # only the axial motion lives between diaphragms
        full = full[:1, :1]
    elif n == 0:
        full = full[np.ix_((0, 2), (0, 2))]
    return np.sqrt(np.maximum(np.linalg.eigvalsh(full), 0) / (1 - nu**2))


def elastic_cylinder(n: int, j: int, length: float, h: float, count: int, nu: float = 0.3, degree: int = 14) -> Array:
    """Omega of the first `count` modes by three-dimensional elasticity, any wall thickness.

    The end condition separates x and theta exactly; the radial dependence is a Legendre series of `degree`
    (Rayleigh-Ritz, converged to 10 digits for h < 0.5). Problem: Armenakas, Gazis and Herrmann, Free Vibrations of
    Circular Cylindrical Shells (1969). For n = 0 the torsional modes are left out.
    """
    k = j * np.pi / length
    nodes, weights = np.polynomial.legendre.leggauss(degree + 8)
    r = 1 + h / 2 * nodes
    weights = weights * h / 2 * r
    basis = [Legendre.basis(i) for i in range(degree + 1)]
    f = np.array([p(nodes) for p in basis]).T
    d = np.array([p.deriv()(nodes) for p in basis]).T * 2 / h
    zero, over = np.zeros_like(f), f / r[:, None]
    mu, lam = 1 / (2 * (1 + nu)), nu / ((1 + nu) * (1 - 2 * nu))
    # columns u_r, u_th, u_x; rows e_rr, e_thth, e_xx, g_rth, g_thx, g_rx, each times its own sine or cosine
    strains = (
        np.hstack((d, zero, zero)),
        np.hstack((over, n * over, zero)),
        np.hstack((zero, zero, -k * f)),
        np.hstack((-n * over, d - over, zero)),
        np.hstack((zero, k * f, -n * over)),
        np.hstack((k * f, zero, d)),
    )
    volume = strains[0] + strains[1] + strains[2]
    stiffness = lam * volume.T @ (weights[:, None] * volume)
    for i, strain in enumerate(strains):
        stiffness += (2 * mu if i < 3 else mu) * strain.T @ (weights[:, None] * strain)
    mass = np.kron(np.eye(3), f.T @ (weights[:, None] * f))
    if n == 0 or j == 0:  # no torsion; and j = 0 leaves the axial motion alone
        axial = np.r_[2 * (degree + 1) : 3 * (degree + 1)]
        keep = axial if j == 0 else np.r_[0 : degree + 1, axial]
        stiffness, mass = stiffness[np.ix_(keep, keep)], mass[np.ix_(keep, keep)]
    values = eigh(stiffness, mass, eigvals_only=True, subset_by_index=(0, count - 1))
    return np.sqrt(np.maximum(values, 0))
