"""The motor of a drive, as numbers: what each means for current and force, `load/motor.py` says."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Inductance:
    """One of five kinds: none, ideal, two-stage, power law, semi-inductance.

    inductance and second_inductance in H; resistance in ohm; coefficient in ohm s^n; exponent n.
    """

    kind: str = "none"
    inductance: float = 0.0
    second_inductance: float = 0.0
    resistance: float = 0.0
    coefficient: float = 0.0
    exponent: float = 0.5


@dataclass(frozen=True)
class Motor:
    """force_factor Bl in N/A, coil_resistance R_e and source_resistance R_g in ohm, voltage in V (rms)."""

    force_factor: float
    coil_resistance: float
    inductance: Inductance = Inductance()
    voltage: float = 2.83  # common practice
    source_resistance: float = 0.0
