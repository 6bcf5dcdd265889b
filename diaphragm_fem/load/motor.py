"""The motor: a coil of resistance and inductance in a field, between a voltage source and the moving parts.

Z_c = R_e + R_g + Z_L, F = Bl I, back-emf Bl v. With Z_m = F/v, the mechanical impedance that the coil sees:
I = V/(Z_c + Bl^2/Z_m), v = Bl I/Z_m, terminal impedance Z_e = R_e + Z_L + Bl^2/Z_m, excursion x = v/(i omega).
Small signals only: neither Bl nor Z_L depends on the excursion, R_e is that of the cold coil.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Complex
from diaphragm_fem.design.driver.driver import Inductance, Motor
from diaphragm_fem.load.line import parallel


def inductive(law: Inductance, omega: ArrayLike) -> Complex:
    """Z_L (F,) in ohm of one of five laws, small signals only.

    none: 0. ideal: i omega L. two-stage: i omega L + (i omega L2 parallel R2) (common practice, no source).
    power law: K (i omega)^n, 0.5 <= n <= 1, Leach, J. Audio Eng. Soc. 50 (2002) 442. semi-inductance:
    i omega L + (K sqrt(i omega) parallel R), Vanderkooy, J. Audio Eng. Soc. 37 (1989) 119, Thorborg and Futtrup, ibid.
    59 (2011) 612 (from memory).
    """
    s: Any = np.asarray(1j * np.asarray(omega, float), complex)
    match law.kind:
        case "none":
            return np.zeros(s.shape, complex)
        case "ideal":
            return np.asarray(s * law.inductance)
        case "two-stage":
            return np.asarray(s * law.inductance + parallel(s * law.second_inductance, law.resistance))
        case "power law":
            return np.asarray(law.coefficient * s**law.exponent)
        case "semi-inductance":
            return np.asarray(s * law.inductance + parallel(law.coefficient * np.sqrt(s), law.resistance))
    raise ValueError(f"no inductance of the kind {law.kind!r}")


@dataclass(frozen=True)
class Drive:
    """What a source of 1 V does, complex (F,): terminal_impedance ohm, current A, velocity m/s, excursion m,
    force N."""

    terminal_impedance: Complex
    current: Complex
    velocity: Complex
    excursion: Complex
    force: Complex


def drive(motor: Motor, mechanical_impedance: ArrayLike, omega: ArrayLike) -> Drive:
    """Answer per volt of source of a motor that works on Z_m = F/v (F,) in N s/m."""
    z_m, omega, bl = np.asarray(mechanical_impedance), np.asarray(omega, float), motor.force_factor
    z_e = motor.coil_resistance + inductive(motor.inductance, omega) + bl**2 / z_m
    current = 1 / (z_e + motor.source_resistance)
    velocity = bl * current / z_m
    return Drive(z_e, current, velocity, velocity / (1j * omega), bl * current)


def braking(motor: Motor, omega: ArrayLike) -> Complex:
    """Dynamic stiffness (F,) in N/m of the coil in its field, the source's voltage held at zero: i omega Bl^2/(Z_c)."""
    omega = np.asarray(omega, float)
    circuit = motor.coil_resistance + motor.source_resistance + inductive(motor.inductance, omega)
    return np.asarray(1j * omega * motor.force_factor**2 / circuit)


@dataclass(frozen=True)
class SmallSignal:
    """The field's usual parameters of one degree of freedom.

    f_s Hz, M_ms kg, C_ms m/N, R_ms N s/m; Q_ms = 2 pi f_s M_ms/R_ms, Q_es = 2 pi f_s M_ms R_e/Bl^2,
    1/Q_ts = 1/Q_ms + 1/Q_es; V_as = kappa S^2 C_ms in m3; eta_0 = rho Bl^2 S^2/(2 pi c R_e M_ms^2), into a half-space.
    Thiele, J. Audio Eng. Soc. 19 (1971) 382; Small, ibid. 20 (1972) 383 (from memory). S_d is the low area.
    """

    f_s: float
    M_ms: float
    C_ms: float
    R_ms: float
    S_d: float
    Q_ms: float
    Q_es: float
    Q_ts: float
    V_as: float
    eta_0: float


def small_signal(
    motor: Motor, mass: float, compliance: float, resistance: float, area: float, density: float, sound_speed: float
) -> SmallSignal:
    """Parameters of a mass (kg) on a compliance (m/N) with a resistance (N s/m) that moves a low area (m2)."""
    w = 1 / np.sqrt(mass * compliance)
    q_m = w * mass / resistance if resistance > 0 else np.inf
    q_e = w * mass * motor.coil_resistance / motor.force_factor**2
    return SmallSignal(
        f_s=float(w / (2 * np.pi)),
        M_ms=mass,
        C_ms=compliance,
        R_ms=resistance,
        S_d=area,
        Q_ms=float(q_m),
        Q_es=float(q_e),
        Q_ts=float(1 / (1 / q_m + 1 / q_e)),
        V_as=density * sound_speed**2 * area**2 * compliance,
        eta_0=density * (motor.force_factor * area) ** 2 / (2 * np.pi * sound_speed * motor.coil_resistance * mass**2),
    )
