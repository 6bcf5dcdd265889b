"""Shells at rest with a closed form: pressurised cylinder and sphere, ring load on a shallow sphere."""

import numpy as np
from scipy.special import iv, kv


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
