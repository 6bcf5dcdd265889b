"""A driven plate with everything on it: motor, rear chamber, thin chamber, slot, channel, matched end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.design.motor import Inductance, Motor
from diaphragm_fem.load import line, motor
from diaphragm_fem.load.exit_end import matched
from diaphragm_fem.load.exit_join import join
from diaphragm_fem.load.rear_chamber import chamber_modulus, chamber_stiffness
from diaphragm_fem.load.slit import slit
from diaphragm_fem.load.thin_chamber import on_modes, thin_chamber
from diaphragm_fem.mesh.gap_line import SlotMouth, cut_gap
from diaphragm_fem.verify.check import Check, Complexes, Reals
from diaphragm_fem.verify.references.hermite_plate import clamped_plate
from diaphragm_fem.verify.rungs.air_chambers import RUNG, flat_face
from diaphragm_fem.verify.rungs.air_parts import AIR, by_largest, cases, check, omega_of, phasor

RADIUS, GAP, SLOT, WIDTH, CHANNEL = 0.02, 0.5e-3, 12.55224475266e-3, 0.6e-3, 8e-3
MOTOR = Motor(5.0, 6.0, Inductance("ideal", 50e-6))
YOUNG, NU, DENSITY, WALL, LOSS, DRIVEN, RING, REAR = 5e9, 0.33, 1350.0, 0.15e-3, 0.03, 0.011, 0.4e-3, 5e-6


@dataclass(frozen=True)
class PlateAnswer:
    """Per volt: exit pressure Pa, terminal impedance ohm, coil velocity m/s; (F,)."""

    exit_pressure: Complexes
    impedance: Complexes
    velocity: Complexes


def driven_plate_answer(w: Reals, lossy: bool, count: int = 28) -> PlateAnswer:
    """The plate by Hermite elements, the gap plain (no local corrections)."""
    air = AIR if lossy else AIR.lossless
    plate = clamped_plate(RADIUS, YOUNG * WALL**3 / 12 / (1 - NU**2), DENSITY * WALL, NU, DRIVEN, RING)
    cut = cut_gap(flat_face(0.0, RADIUS, GAP), [SlotMouth(SLOT, WIDTH)], 1e-3)
    chamber = on_modes(thin_chamber(cut, corrected=False), count)
    area = 2 * np.pi * SLOT * WIDTH
    network = join([line.cylinder(slit(air, WIDTH, w), area, CHANNEL)], matched(air, area, w))
    coupling = plate.sweep.T @ chamber.shapes(plate.radius)
    volume = plate.sweep.sum(axis=0)
    rear = chamber_stiffness(chamber_modulus(air, w), REAR, w)
    matrix = plate.stiffness * (1 + 1j * LOSS) - w[:, None, None] ** 2 * plate.mass
    load = chamber.stiffness(air, w, network)
    matrix = matrix + coupling @ load @ coupling.T + rear[:, None, None] * np.outer(volume, volume)
    motion = np.linalg.solve(matrix, np.broadcast_to(plate.drive[:, None], (len(w), plate.drive.size, 1)))[..., 0]
    found = motor.drive(MOTOR, 1 / (1j * w * (motion @ plate.drive)), w)
    pressure = np.einsum("fab,fb->fa", load, motion @ coupling) * found.force[:, None]
    exit_pressure = ((pressure @ chamber.slots) * network.transfer).sum(axis=1)
    return PlateAnswer(exit_pressure, found.terminal_impedance, found.velocity)


def _driven_plate(lossy: str) -> Check:
    table = cases("air_driven_plate", "lossy")[lossy]
    reference = [phasor(table, name) for name in ("p_exit", "Ze", "v")]

    def ours() -> Complexes:
        found = driven_plate_answer(omega_of(table), lossy == "1")
        return by_largest([found.exit_pressure, found.impedance, found.velocity], reference)

    return check(
        f"chamber/driven-plate-{'lossy' if lossy == '1' else 'lossless'}",
        "clamped plate driven by a volt: motor, rear chamber, thin chamber, slot, channel, matched end; plain gap",
        "exit pressure, terminal impedance, coil velocity; complex",
        "closed form: three Bessel families a zone, 30 digits",
        5e-5,
        "28 modes of the gap and 80 Hermite elements: 2e-5, 4e-4 dB",
        lambda: by_largest(reference, reference),
        ours,
        rung=RUNG,
    )


def checks() -> list[Check]:
    """The driven plate, lossless and lossy."""
    return [_driven_plate(lossy) for lossy in ("0", "1")]
