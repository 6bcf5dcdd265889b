"""A driven plate with everything on it: motor, rear chamber, thin chamber, slot, channel, matched end."""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from diaphragm_fem.analysis.response import respond
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Ring
from diaphragm_fem.design.driver.driver import Driver, Exit, Front, Inductance, Motor, RearChamber, Slot
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.load import line, motor
from diaphragm_fem.load.exit_end import matched
from diaphragm_fem.load.rear_chamber import chamber_modulus, chamber_stiffness
from diaphragm_fem.load.slit import slit
from diaphragm_fem.load.slot_network import join
from diaphragm_fem.load.surroundings import surround
from diaphragm_fem.load.thin_chamber import on_modes, thin_chamber
from diaphragm_fem.mesh.gap_line import SlotMouth, cut_gap
from diaphragm_fem.model.shell.front_face import shell_face
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.verify.bench import EDGES, part, piece, substance
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references.ritz_shell import CLAMPED, RitzShell, ShellPiece, axis_conditions
from diaphragm_fem.verify.rungs.air_chambers import check, flat_face
from diaphragm_fem.verify.rungs.air_parts import AIR, by_largest, omega_of
from diaphragm_fem.verify.tables import cases, column, phasor

RADIUS, GAP, SLOT, WIDTH, CHANNEL = 0.02, 0.5e-3, 12.55224475266e-3, 0.6e-3, 8e-3
MOTOR = Motor(5.0, 6.0, Inductance("ideal", 50e-6))
YOUNG, NU, DENSITY, WALL, LOSS, DRIVEN, RING, REAR = 5e9, 0.33, 1350.0, 0.15e-3, 0.03, 0.011, 0.4e-3, 5e-6


@dataclass(frozen=True)
class PlateAnswer:
    """Per volt: exit pressure Pa, terminal impedance ohm, coil velocity m/s; (F,)."""

    exit_pressure: Complex
    impedance: Complex
    velocity: Complex


def driven_plate_answer(w: Array, lossy: bool, count: int = 28) -> PlateAnswer:
    """The plate by Legendre series, the gap plain (no local corrections)."""
    air = AIR if lossy else AIR.lossless
    places = pairwise((0.0, DRIVEN, SLOT, RADIUS))  # the pressure has a kink at the slot
    films = [ShellPiece(Line((a, 0.0), (b, 0.0)), WALL, YOUNG, NU, DENSITY, LOSS) for a, b in places]
    plate = RitzShell(films, axis_conditions(0), CLAMPED, rings=((1, RING),))
    radius, sweep = plate.sweeps
    drive = plate.pickup(1)
    cut = cut_gap(flat_face(0.0, RADIUS, GAP), [SlotMouth(SLOT, WIDTH)], 1e-3)
    chamber = on_modes(thin_chamber(cut, corrected=False), count)
    area = 2 * np.pi * SLOT * WIDTH
    network = join([line.cylinder(slit(air, WIDTH, w), area, CHANNEL)], matched(air, area, w))
    coupling = np.einsum("pqn,pqa->na", sweep, chamber.shapes(radius.ravel()).reshape(*radius.shape, -1))
    volume = sweep.sum(axis=(0, 1))
    rear = np.divide(*chamber_stiffness(chamber_modulus(air, w), REAR, w))
    load = chamber.stiffness(air, w, network)
    matrix = plate.stiffness - w[:, None, None] ** 2 * plate.mass
    matrix = matrix + coupling @ load @ coupling.T + rear[:, None, None] * np.outer(volume, volume)
    motion = np.linalg.solve(matrix, np.broadcast_to(drive[:, None], (len(w), drive.size, 1)))[..., 0]
    found = motor.drive(MOTOR, 1 / (1j * w * (motion @ drive)), w)
    pressure = np.einsum("fab,fb->fa", load, motion @ coupling) * found.force[:, None]
    exit_pressure = ((pressure @ chamber.slots) * network.transfer).sum(axis=1)
    return PlateAnswer(exit_pressure, found.terminal_impedance, found.velocity)


def _driven_plate(lossy: str) -> Check:
    table = cases("air_driven_plate", "lossy")[(lossy,)]
    reference = [phasor(table, name) for name in ("p_exit", "Ze", "v")]

    def values() -> Pair:
        found = driven_plate_answer(omega_of(table), lossy == "1")
        return by_largest(reference, [found.exit_pressure, found.impedance, found.velocity])

    return check(
        f"chamber/driven-plate-{'lossy' if lossy == '1' else 'lossless'}",
        "clamped plate driven by a volt: motor, rear chamber, thin chamber, slot, channel, matched end; plain gap",
        "exit pressure, terminal impedance, coil velocity; complex",
        "closed form: three Bessel families a zone, 30 digits",
        5e-7,
        "28 modes of the gap, Gauss points across its elements: 1e-7",
        values,
    )


def shell_plate_answer(w: Array) -> PlateAnswer:
    """The same plate as a shell of the package, everything on ports, the gap with its local corrections, lossless.

    The wall is a tenth as thick, of the same bending stiffness and mass: else shear and rotary inertia, which the
    reference leaves out, lower the modes by 0.3 to 0.8 % above 8 kHz, and the level differs by up to 1.3 dB.
    """
    film, wall = substance(NU, 1e3 * YOUNG, 10 * DENSITY, LOSS, "film"), WALL / 10
    walls = [piece(Line((0.0, 0.0), (DRIVEN, 0.0)), wall, film), piece(Line((DRIVEN, 0.0), (RADIUS, 0.0)), wall, film)]
    slot = Slot(SLOT, WIDTH, CHANNEL)
    around = Driver(
        rear_chamber=RearChamber(REAR), front=Front("thin chamber", (GAP,), (0.0,), slots=(slot,)), exit=Exit(0.01)
    )
    design = replace(part("driven plate", walls, None, EDGES["C"], 1, Ring(RING)), driver=around)
    shell = build_shell(design, up_to_hz=20e3, refine=2)
    face = shell_face(shell.line, shell.line.order_terms(0), shell.corrected)
    air, area = AIR.lossless, 2 * np.pi * SLOT * WIDTH
    found = replace(surround(design, face), air=air, still=air, end=lambda omega: matched(air, area, omega))
    structure = shell.structure(0).loaded(*found.loads)
    assert found.face_air is not None and found.front_port is not None
    structure = replace(structure, terms=(*structure.terms, found.face_air.mass))
    f = w / (2 * np.pi)
    motion = respond(structure, f)
    moved = structure.pickup @ motion
    electric = motor.drive(MOTOR, 1 / (1j * w * moved), w)
    _, slots = found.pressures(f, found.front_port.pattern.T @ motion * electric.force)
    exit_pressure = (slots * found.network(f).transfer).sum(axis=1)
    return PlateAnswer(exit_pressure, electric.terminal_impedance, electric.velocity)


def _shell_plate(hard: bool) -> Check:
    """`hard`: from 8 kHz on and in nulls, the minima of the level, where small errors of large parts are left over."""
    whole = cases("air_driven_plate", "lossy")[("0",)]
    size = np.abs(phasor(whole, "p_exit"))
    null = np.concatenate(([False], (size[1:-1] < size[:-2]) & (size[1:-1] < size[2:]), [False]))
    table = tuple(row for row, low in zip(whole, null, strict=True) if (low or float(row["f_Hz"]) >= 8e3) == hard)
    where = "8 kHz and above, and in nulls" if hard else "below 8 kHz"

    def values() -> Pair:
        """Exact: by two-dimensional elements, which is the plain level less the last column."""
        exact = np.abs(phasor(table, "p_exit")) * 10 ** (-column(table, "dB_1D_minus_2D") / 20)
        return exact, np.abs(shell_plate_answer(omega_of(table)).exit_pressure)

    return check(
        f"chamber/driven-shell-{'hard' if hard else 'below-8k'}",
        f"the driven plate as a shell with all loads on ports, gap with its corrections, lossless, {where}",
        "size of the exit pressure",
        "closed form of the plain chamber, less its difference from elements of the real gap in two dimensions",
        1.6e-2 if hard else 8e-4,
        "what the local corrections leave on a bending face: " + ("0.12 dB" if hard else "0.005 dB"),
        values,
        scale="each",
    )


def checks() -> list[Check]:
    """The driven plate, lossless and lossy, by hand and as a shell."""
    return [*(_driven_plate(lossy) for lossy in ("0", "1")), *(_shell_plate(hard) for hard in (False, True))]
