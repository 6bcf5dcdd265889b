"""A second opinion of the thin chamber: the same gap and slots as air in two dimensions, the face moving as one body.

Both are lossless and end in the same exit; in two dimensions a slot is cut normal to the plug for its first few
widths and is a line from there on. Whatever differs is the one-dimensional gap's own error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.answer.loaded import Loaded
from diaphragm_fem.load.exit_join import SlotNetwork, join
from diaphragm_fem.load.junction import slot_inflow, slot_through_flow
from diaphragm_fem.load.line import cascade, cone, series
from diaphragm_fem.load.plug import Plug, channel_line
from diaphragm_fem.load.slit import open_air
from diaphragm_fem.load.surroundings import Surroundings, end_of
from diaphragm_fem.load.thin_chamber import gap_at_slots, thin_chamber
from diaphragm_fem.mesh.gap_section import cut_gap_section
from diaphragm_fem.model.air_section import air_before_rigid_face

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
FREQUENCIES = 15
FROM_HZ = 500.0
NULL = 0.1  # of the median pressure: below it lies a null
STUB = 3.0  # slot widths that are cut in two dimensions, half the channel at most


@dataclass(frozen=True)
class ChamberOpinion:
    """Pressure at the exit (F,) in Pa per velocity of the face, by both models.

    differences_db (F,): 20 log(1 + |p1 - p2|/|p2|), so that phase counts too. A null is measured against a tenth of
    the median pressure, because one that moves by a little is 20 dB away from where it was.
    """

    frequency_hz: Array
    one_dimension: Complex
    two_dimensions: Complex
    unknowns: int

    @property
    def differences_db(self) -> Array:
        size = np.abs(self.two_dimensions)
        size = np.maximum(size, NULL * np.median(size))
        return np.asarray(20 * np.log10(1 + np.abs(self.one_dimension - self.two_dimensions) / size))

    @property
    def difference_db(self) -> float:
        return float(self.differences_db.max())

    @property
    def worst_hz(self) -> float:
        return float(self.frequency_hz[int(np.argmax(self.differences_db))])


def ask_chamber_opinion(found: Loaded, finest: float = 3e-5) -> ChamberOpinion | None:
    """Compare both models at fifteen frequencies up to the top; None where there is no thin chamber."""
    around, front = found.around, found.around.driver.front
    if front is None or around.plug is None or front.kind != "thin chamber":
        return None
    f = np.geomspace(FROM_HZ, found.solution.up_to_hz, FREQUENCIES)
    stubs = [min(STUB * slot.width, slot.length / 2) for slot in front.slots]
    one = _in_one_dimension(around, stubs, f)
    plug, omega = around.plug, 2 * np.pi * f
    beyond = _beyond(around, stubs, omega)
    section = cut_gap_section(plug.face, plug.mouths, stubs, finest)
    two = air_before_rigid_face(section, around.still.density, around.still.sound_speed, omega, beyond.admittance)
    exit_two = (two.slot_end * beyond.transfer).sum(axis=1)
    return ChamberOpinion(f, one, exit_two, two.unknowns)


def _beyond(around: Surroundings, stubs: list[float], omega: Array) -> SlotNetwork:
    """The channels from the stubs' ends on, joined at the exit."""
    air, front, exit = around.still.lossless, around.driver.front, around.driver.exit
    assert front is not None and exit is not None and around.plug is not None
    lines = [
        channel_line(around.plug, slot, k, air, omega, stub, slot.length)
        for k, (slot, stub) in enumerate(zip(front.slots, stubs, strict=True))
    ]
    return join(lines, end_of(exit, around.still, omega))


def _in_one_dimension(around: Surroundings, stubs: list[float], f: Array) -> Complex:
    """Exit pressure (F,) per axial velocity of the whole face."""
    plug, air, omega = around.plug, around.still.lossless, 2 * np.pi * f
    front, exit = around.driver.front, around.driver.exit
    assert plug is not None and front is not None and exit is not None
    chamber = thin_chamber(plug.line)
    lines = []
    for k, (slot, stub) in enumerate(zip(front.slots, stubs, strict=True)):
        n = slot.width / (2 * float(gap_at_slots(plug.line)[k]))
        gained = air.density * (slot_inflow(n) - slot_through_flow(n)) / (4 * np.pi * plug.line.slot_radius[k])
        ends = [2 * np.pi * slot.width * (plug.radius[k] + plug.normal[k, 0] * x) for x in (0.0, stub)]
        short = cone(open_air(air, omega), float(ends[0]), float(ends[1]), stub)
        rest = channel_line(plug, slot, k, air, omega, stub, slot.length)
        lines.append(cascade(series(np.asarray(1j * omega * gained)), short, rest))
    network = join(lines, end_of(exit, around.still, omega))
    flow = _even_flow(plug) @ chamber.shapes(_places(plug))
    pressure = (chamber.stiffness(air, omega, network) @ flow) / (1j * omega)[:, None]
    return np.asarray(((pressure @ chamber.slots) * network.transfer).sum(axis=1))


PER_PIECE = 40  # points of the face on each straight piece


def _places(plug: Plug) -> Array:
    face = plug.face.face
    x = (np.arange(PER_PIECE) + 0.5) / PER_PIECE
    points = face[:-1, None] + x[:, None] * np.diff(face, axis=0)[:, None]
    return plug.line.place_of(points.reshape(-1, 2))


def _even_flow(plug: Plug) -> Array:
    """Area that each point of the face sweeps in axial motion, exact in its sum."""
    r = plug.face.face[:, 0]
    edges = r[:-1, None] + np.linspace(0, 1, PER_PIECE + 1) * np.diff(r)[:, None]
    return np.asarray(np.pi * np.diff(edges**2, axis=1).ravel())
