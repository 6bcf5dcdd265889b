"""A second opinion of the thin chamber: the same gap and slots as air in two dimensions.

Either the face moves as one body, which takes a fraction of a second, or wall and air are solved as one, which takes
some seconds. Both models end in the same exit; in two dimensions a slot is cut normal to the plug for its first few
widths and is a line from there on. The air in gap and stubs has everywhere the loss of a slit of the gap's mean width:
without it a resonance is so narrow that one shifted by a thousandth looks 9 dB wrong. Whatever differs is the
one-dimensional gap's own error.
"""

from dataclasses import replace

import numpy as np

from diaphragm_fem.analysis.response import respond
from diaphragm_fem.answer.driver.loaded import Loaded
from diaphragm_fem.answer.driver.pressure_opinion import PressureOpinion
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.load.face_air import face_air
from diaphragm_fem.load.line import cascade, cone
from diaphragm_fem.load.motor import drive
from diaphragm_fem.load.plug import Plug, channel_line, slot_mouth
from diaphragm_fem.load.slit import Medium, slit
from diaphragm_fem.load.slot_network import SlotNetwork, join
from diaphragm_fem.load.surroundings import Surroundings, end_of, pressures
from diaphragm_fem.load.thin_chamber import ThinChamber, thin_chamber
from diaphragm_fem.mesh.gap_face import nearest_of_chain
from diaphragm_fem.mesh.gap_section import cut_gap_section
from diaphragm_fem.model.air.section import Gas, air_before_rigid_face, air_before_wall, section_air
from diaphragm_fem.model.shell.front_face import Face
from diaphragm_fem.model.structure import Load

FREQUENCIES = 15
FROM_HZ = 500.0
WALL_FREQUENCIES = 30
WALL_FROM_HZ = 200.0
STUB = 3.0  # slot widths that are cut in two dimensions, half the channel at most


def ask_chamber_opinion(found: Loaded) -> PressureOpinion | None:
    """Compare both models at fifteen frequencies up to the top; None where there is no thin chamber.

    Pressure at the exit in Pa per velocity of a face that moves as one.
    """
    around, front = found.around, found.around.driver.front
    if front is None or around.plug is None or front.kind != "thin chamber":
        return None
    f = np.geomspace(FROM_HZ, found.solution.up_to_hz, FREQUENCIES)
    stubs = [min(STUB * slot.width, slot.length / 2) for slot in front.slots]
    one = _in_one_dimension(around, stubs, f)
    plug, omega = around.plug, 2 * np.pi * f
    beyond = _beyond(around, stubs, omega)
    section = cut_gap_section(plug.face, plug.mouths, stubs)
    two = air_before_rigid_face(section, _gas(around, omega), beyond.admittance)
    exit_two = (two.slot_end * beyond.transfer).sum(axis=1)
    return PressureOpinion(f, one, exit_two, two.unknowns)


def ask_wall_in_air(found: Loaded) -> PressureOpinion | None:
    """Wall and air in two dimensions as one, against the wall before the one-dimensional chamber, at thirty
    frequencies up to the top; None where there is no motor or no thin chamber. Pressure at the exit in Pa per volt."""
    around, front, unit = found.around, found.around.driver.front, found.around.driver.motor
    if front is None or around.plug is None or unit is None or front.kind != "thin chamber":
        return None
    f = np.geomspace(WALL_FROM_HZ, found.solution.up_to_hz, WALL_FREQUENCIES)
    plug, omega = around.plug, 2 * np.pi * f
    stubs = [min(STUB * slot.width, slot.length / 2) for slot in front.slots]
    structure = found.solution.structure.loaded(*around.rear_loads)
    structure = replace(structure, terms=(*structure.terms, *around.air_behind(found.face)))
    beyond = _beyond(around, stubs, omega)
    section = section_air(cut_gap_section(plug.face, plug.mouths, stubs))
    place = nearest_of_chain(plug.face.face, found.face.point)[0]
    two = air_before_wall(structure, found.face.sweep, place, section, _gas(around, omega), beyond.admittance)
    force = drive(unit, 1 / (1j * omega * two.back), omega).force
    exit_two = (two.slot_end * beyond.transfer).sum(axis=1) * force

    near, port = around.face_air, around.front_port
    assert around.chamber is not None and port is not None and near is not None
    network, chamber = _stubbed(around, stubs, omega), _evened(around.chamber, _width(plug))
    stiffness = near.stiffness(chamber, around.air, omega, network)
    heavier = replace(structure, terms=(*structure.terms, near.mass))
    motion = respond(heavier.loaded(Load(port, lambda _: stiffness)), f)  # asked for at these frequencies alone
    force = drive(unit, 1 / (1j * omega * (structure.pickup @ motion)), omega).force
    _, slots = pressures(stiffness, port.pattern.T @ motion, chamber, near, omega)
    exit_one = (slots * network.transfer).sum(axis=1) * force
    return PressureOpinion(f, exit_one, exit_two, two.unknowns)


def _beyond(around: Surroundings, stubs: list[float], omega: Array) -> SlotNetwork:
    """The channels from the stubs' ends on, joined at the exit."""
    air, front, exit = around.air, around.driver.front, around.driver.exit
    assert front is not None and exit is not None and around.plug is not None
    lines = [
        channel_line(around.plug, slot, k, air, omega, stub, slot.length)
        for k, (slot, stub) in enumerate(zip(front.slots, stubs, strict=True))
    ]
    return join(lines, end_of(exit, around.still, omega))


def _in_one_dimension(around: Surroundings, stubs: list[float], f: Array) -> Complex:
    """Exit pressure (F,) per axial velocity of the whole face."""
    plug, omega = around.plug, 2 * np.pi * f
    assert plug is not None
    chamber, network = _evened(thin_chamber(plug.line), _width(plug)), _stubbed(around, stubs, omega)
    body = _body(plug)
    place = plug.line.place_of(body.point)
    near = face_air(plug.line, place, around.air.density, body)
    moved = np.hstack((body.sweep.T @ chamber.shapes(place), near.pattern)).T / (1j * omega)
    stiffness = near.stiffness(chamber, around.air, omega, network)
    return np.asarray((pressures(stiffness, moved, chamber, near, omega)[1] * network.transfer).sum(axis=1))


def _width(plug: Plug) -> float:
    """Mean width of the gap in m."""
    return float(plug.line.width.mean())


def _medium(around: Surroundings, omega: Array) -> Medium:
    """The air in gap and stubs."""
    assert around.plug is not None
    return slit(around.air, _width(around.plug), omega)


def _gas(around: Surroundings, omega: Array) -> Gas:
    medium = _medium(around, omega)
    return Gas(omega, medium.density, medium.wave_number)


def _evened(chamber: ThinChamber, width: float) -> ThinChamber:
    """The chamber with the same air everywhere."""
    K, M = (matrix.sum(axis=0, keepdims=True) for matrix in (chamber.conductance, chamber.volume))
    return replace(chamber, width=np.array([width]), conductance=K, volume=M)


def _stubbed(around: Surroundings, stubs: list[float], omega: Array) -> SlotNetwork:
    """The channels as they are in two dimensions, normal to the plug as far as the stubs go."""
    plug, air, front, exit = around.plug, around.air, around.driver.front, around.driver.exit
    assert plug is not None and front is not None and exit is not None
    lines = []
    for k, (slot, stub) in enumerate(zip(front.slots, stubs, strict=True)):
        ends = [2 * np.pi * slot.width * (plug.radius[k] + plug.normal[k, 0] * x) for x in (0.0, stub)]
        short = cone(_medium(around, omega), float(ends[0]), float(ends[1]), stub)
        rest = channel_line(plug, slot, k, air, omega, stub, slot.length)
        lines.append(cascade(slot_mouth(plug, slot, k, air, omega), short, rest))
    return join(lines, end_of(exit, around.still, omega))


PER_PIECE = 40  # points of the face on each straight piece


def _body(plug: Plug) -> Face:
    """The face as one body in axial motion, by points on each of its pieces; exact in the sum of what it sweeps."""
    step = np.diff(plug.face.face, axis=0)
    x = (np.arange(PER_PIECE) + 0.5) / PER_PIECE
    points = (plug.face.face[:-1, None] + x[:, None] * step[:, None]).reshape(-1, 2)
    length = np.repeat(np.linalg.norm(step, axis=1) / PER_PIECE, PER_PIECE)
    r = plug.face.face[:, 0]
    edges = r[:-1, None] + np.linspace(0, 1, PER_PIECE + 1) * np.diff(r)[:, None]
    sweep = np.pi * np.diff(edges**2, axis=1).reshape(-1, 1)
    return Face(points, np.cumsum(length) - length / 2, length, sweep)
