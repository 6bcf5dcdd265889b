"""Plates and shells at rest in closed form: pressure or a ring load on thin plates, cylinders and spheres; a mass on a
spring; clamped plates of radius 1 beyond small deflection.

In each ring of a plate w = A + B ln r + C r^2 + E r^2 ln r + p r^4/(64 D). Source: Timoshenko and Woinowsky-Krieger,
Theory of Plates and Shells (1959), ch. 3. Exact identity: the volume swept by a unit ring load at c is the deflection
at c under a unit pressure.
"""

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import iv, ive, jn_zeros, jv, jvp, kv

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.verify.references.plates import EDGE_ROWS, chain, shear_row
from diaphragm_fem.verify.references.roots import determinant_roots

BUCKLING = -(float(jn_zeros(1, 1)[0]) ** 2)  # T a^2/D of a clamped plate, m = 0: J1(x) = 0


@dataclass(frozen=True)
class PlateAtRest:
    """centre or inner-edge deflection, deflection at the load circle, swept volume (all for D = 1, outer radius 1)."""

    at_inner: float
    at_load: float
    volume: float


def _columns(r: float, nu: float) -> Array:
    """w, slope, moment, shear (rows) of 1, ln r, r^2, r^2 ln r; for D = 1."""
    if r == 0:
        return np.array(((1, 0, 0, 0), (0, 0, 0, 0), (0, 0, 2 + 2 * nu, 0), (0, 0, 0, 0)), float)
    log = np.log(r)
    slope = np.array((0, 1 / r, 2 * r, r * (2 * log + 1)))
    second = np.array((0, -1 / r**2, 2, 2 * log + 3))
    return np.array(((1, log, r**2, r**2 * log), slope, second + nu * slope / r, (0, 0, 0, 4 / r)))


def _load(r: float, nu: float) -> Array:
    return np.array((r**4 / 64, r**3 / 16, (3 + nu) * r**2 / 16, r / 2))


def _integral(a: float, b: float) -> Array:
    """2 pi times the integral of r times each function from a to b."""

    def primitive(r: float) -> Array:
        log = np.log(r) if r else 0.0
        return np.array((r**2 / 2, r**2 / 2 * (log - 0.5), r**4 / 4, r**4 / 4 * (log - 0.25)))

    return 2 * np.pi * (primitive(b) - primitive(a))


def plate_at_rest(
    outer: str,
    inner: str | None,
    b: float,
    *,
    pressure: float = 0.0,
    ring: tuple[float, float] | None = None,
    nu: float = 0.3,
) -> PlateAtRest:
    """Deflection and volume of b < r < 1 (inner None: a full disc) under `pressure` and a ring (radius, force)."""
    c, total = ring if ring else ((b + 1) / 2, 0.0)
    inner, borders = inner or "", np.unique((b, c, 1.0)).tolist()
    tables = [_columns(r, nu) for r in borders]
    count, joint = len(borders) - 1, borders.index(c)
    right = np.zeros(4 * count)
    if inner:
        right[:2] = -pressure * _load(b, nu)[list(EDGE_ROWS[inner])]
    right[-2:] = pressure * _load(1.0, nu)[list(EDGE_ROWS[outer])]
    if total:
        right[shear_row(inner, outer, count, joint)] += total / (2 * np.pi * c)
    shape = np.linalg.solve(chain(inner, outer, tables[:-1], tables[1:]), right).reshape(count, 4)

    def deflection(place: int) -> float:
        return float(tables[place][0] @ shape[min(place, count - 1)] + pressure * _load(borders[place], nu)[0])

    volume = sum(_integral(*ends) @ own for ends, own in zip(pairwise(borders), shape, strict=True))
    return PlateAtRest(deflection(0), deflection(joint), float(volume + 2 * np.pi * pressure * (1 - b**6) / 384))


def clamped_cylinder_volume(length: float, radius: float, h: float, E: float, nu: float) -> float:
    """Volume swept per pascal of lateral pressure on a cylinder with both ends held radially and in slope, m3/Pa.

    D w'''' + (E h/R^2) w = p, one end free to move along the axis (no axial force): w = (p R^2/E h)(1 - edge terms).
    Source: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells (1959), section 114.
    """
    stiffness = E * h**3 / 12 / (1 - nu**2)
    beta = (E * h / (4 * stiffness * radius**2)) ** 0.25

    def terms(x: float) -> tuple[np.ndarray, np.ndarray]:
        a, b = beta * x, beta * (length - x)
        ea, eb = np.exp(-a), np.exp(-b)
        value = np.array((ea * np.cos(a), ea * np.sin(a), eb * np.cos(b), eb * np.sin(b)))
        slope = beta * np.array(
            (
                -ea * (np.cos(a) + np.sin(a)),
                ea * (np.cos(a) - np.sin(a)),
                eb * (np.cos(b) + np.sin(b)),
                -eb * (np.cos(b) - np.sin(b)),
            )
        )
        return value, slope

    (v0, s0), (v1, s1) = terms(0.0), terms(length)
    far = radius**2 / (E * h)
    edge = np.linalg.solve(np.array((v0, s0, v1, s1)), np.array((-far, 0, -far, 0)))
    end = np.exp(-beta * length)
    cosine = (1 - end * (np.cos(beta * length) - np.sin(beta * length))) / (2 * beta)
    sine = (1 - end * (np.cos(beta * length) + np.sin(beta * length))) / (2 * beta)
    return float(2 * np.pi * radius * (far * length + edge @ np.array((cosine, sine, cosine, sine))))


def hemisphere_volume(radius: float, h: float, E: float, nu: float) -> float:
    """Volume swept per pascal by a thin hemisphere held in its equator plane (symmetry): u_n = p R^2 (1 - nu)/(2 E h).

    Membrane state, exact for a thin shell; Timoshenko and Woinowsky-Krieger (1959), section 105. m3/Pa.
    """
    return float(2 * np.pi * radius**2 * radius**2 * (1 - nu) / (2 * E * h))


def shallow_sphere_ring_compliance(radius: float, h: float, ring: float, E: float, nu: float) -> float:
    """Normal deflection of a ring of small radius under a unit force spread along it on an endless shallow sphere, m/N.

    w = (l^2/2 pi D) Im[-K_0(z) I_0(z)], z = (ring/l) exp(i pi/4), l^4 = D R^2/(E h): the ring average of the point
    load's -kei (addition theorem). Source: E. Reissner, J. Math. Phys. 25 (1946) 80 and 279; for ring -> 0 it tends to
    sqrt(3 (1 - nu^2)) R/(4 E h^2). Limits: ring and l much smaller than R, h much smaller than l.
    """
    stiffness = E * h**3 / 12 / (1 - nu**2)
    length = (stiffness * radius**2 / (E * h)) ** 0.25
    z = ring / length * np.exp(1j * np.pi / 4)
    return float(length**2 / (2 * np.pi * stiffness) * -np.imag(kv(0, z) * iv(0, z)))


def base_driven_share(frequency_hz: ArrayLike, resonance_hz: float, eta: float) -> Complex:
    """Motion of a mass on a lossy spring per motion of its base: q = (1 + i eta)/(1 + i eta - (f/f0)^2).

    Re q falls through zero at f0 sqrt(1 + eta^2); |q| < 0.3 from about f0 sqrt(1 + 1/0.3) on. Any textbook.
    """
    ratio = np.asarray(frequency_hz, float) / resonance_hz
    return np.asarray((1 + 1j * eta) / (1 + 1j * eta - ratio**2))


def sliding_annulus_stiffness(inner: float, outer: float, bending: float) -> float:
    """Axial stiffness (N/m) of a flat annulus between two rigid rings that cannot turn.

    w = A + B r^2 + C ln r + E r^2 ln r with both slopes held; force P = 8 pi D E, deflection between the edges per P.
    Source: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells (1959), ch. 3.
    """
    a, b = inner, outer
    slope = np.array(((2 * a, 1 / a), (2 * b, 1 / b)))
    right = -np.array((a * (2 * np.log(a) + 1), b * (2 * np.log(b) + 1)))
    c2, c3 = np.linalg.solve(slope, right)
    rise = c2 * (a**2 - b**2) + c3 * np.log(a / b) + a**2 * np.log(a) - b**2 * np.log(b)
    return float(8 * np.pi * bending / abs(rise))


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
