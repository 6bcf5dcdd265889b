"""All that surrounds one diaphragm, made from its description: air, rear chamber, front, exit; loads on its ports."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.driver import Climate, Driver, Exit, RearChamber
from diaphragm_fem.errors import ModelError
from diaphragm_fem.load.air import Air, moist_air
from diaphragm_fem.load.air_behind import mass_behind
from diaphragm_fem.load.exit_end import horn, matched, tabled
from diaphragm_fem.load.face_air import FaceAir, face_air
from diaphragm_fem.load.open_side import OpenSide, open_sides
from diaphragm_fem.load.plug import Plug, channel, draw_plug
from diaphragm_fem.load.rear_chamber import chamber_modulus, chamber_stiffness, leak_impedance, tube_behind
from diaphragm_fem.load.slot_network import SlotNetwork, join
from diaphragm_fem.load.thin_chamber import ThinChamber, on_modes, thin_chamber
from diaphragm_fem.model.shell.front_face import Face
from diaphragm_fem.model.structure import MASS, Load, Port, Term

GAP_MODES = 24
KEPT = 6  # sets of frequencies whose answers of the front stay at hand
FAR = 1.0  # m between walls: nothing is lost at them


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What acts on a face, and the ports on which it does.

    air: as the front has it, without loss where it says so; still: the same with its loss. plug, chamber and front port
    are None without a front, rear port and behind, the mass (P, P) in kg/m4 of the air in a rear chamber per volume
    that the face's points sweep, without one. open_sides: free air on a face in a baffle. face_air: what the face moves
    across the gap of a thin chamber, else None; the front port then has its mean motion under each slot beside the
    chamber's patterns. end: impedance over omega (F,) that stands for the exit's own, to see the driver as a source.
    """

    driver: Driver
    air: Air
    still: Air
    rear_port: Port | None = None
    plug: Plug | None = None
    chamber: ThinChamber | None = None
    front_port: Port | None = None
    open_sides: tuple[OpenSide, ...] = ()
    face_air: FaceAir | None = None
    end: Callable[[Array], Complex] | None = None
    behind: Array | None = None

    def air_behind(self, face: Face) -> tuple[Term, ...]:
        """The mass of the air in a rear chamber on the unknowns of a face; none without one."""
        if self.behind is None:
            return ()
        return (Term(csr_matrix(face.sweep.T @ (self.behind @ face.sweep)), derivatives=MASS, made_of="air"),)

    @property
    def loads(self) -> tuple[Load, ...]:
        return (*self.rear_loads, *self.front_loads, *(side.load for side in self.open_sides))

    @cached_property
    def rear_loads(self) -> tuple[Load, ...]:
        if self.rear_port is None:
            return ()
        return (Load(self.rear_port, self._rear_action),)

    @cached_property
    def front_loads(self) -> tuple[Load, ...]:
        return () if self.front_port is None else (Load(self.front_port, self.front_stiffness),)

    def exit_over_tube(self, frequency_hz: Array) -> Array:
        """Size (F,) of the impedance that ends the exit over that of an endless tube of its width."""
        exit, omega = self.driver.exit, 2 * np.pi * frequency_hz
        assert exit is not None
        return np.abs(self._ended(omega) / matched(self.still, np.pi * exit.diameter**2 / 4, omega))

    def _ended(self, omega: Array) -> Complex:
        assert self.driver.exit is not None
        return end_of(self.driver.exit, self.still, omega) if self.end is None else self.end(omega)

    def rear_stiffness(self, frequency_hz: Array) -> Complex:
        """Pressure in the rear chamber per swept volume (F,), Pa/m3."""
        push, give = self.rear_fraction(frequency_hz)
        return push / give

    def _rear_action(self, frequency_hz: Array) -> Complex:
        return self.rear_stiffness(frequency_hz)[:, None, None]

    def rear_fraction(self, frequency_hz: Array) -> tuple[Complex, Complex]:
        """The same as a numerator and a denominator (F,), smooth over frequency."""
        rear, omega = self.driver.rear_chamber, 2 * np.pi * frequency_hz
        assert rear is not None
        modulus = chamber_modulus(self.still, omega, rear.filling, rear.loss_factor)
        leak = rear_leak(rear, self.still, omega)
        if rear.depth is None:
            return chamber_stiffness(modulus, rear.volume, omega, leak)
        inside = tube_behind(self.still, modulus, rear.volume, rear.depth, omega)
        return chamber_stiffness(1 / inside.compliance, rear.volume, omega, leak, inside.wave_number * rear.depth)

    @property
    def shut(self) -> Surroundings:
        """The same without a leak of its rear chamber."""
        rear = self.driver.rear_chamber
        closed = None if rear is None else replace(rear, leak_diameter=None)
        return replace(self, driver=replace(self.driver, rear_chamber=closed))

    @property
    def rear_spring(self) -> float:
        """Pressure in the rear chamber per swept volume at rest, its leak closed, Pa/m3."""
        assert self.driver.rear_chamber is not None
        return spring_of(self.driver.rear_chamber, self.still)

    def front_stiffness(self, frequency_hz: Array) -> Complex:
        """Pressure on each pattern per volume swept against each (F, P, P), Pa/m3."""
        return self._front_at(frequency_hz)[0]

    def pressures(self, frequency_hz: Array, motion: Complex) -> tuple[Complex, Complex]:
        """Pressures in Pa on the chamber's patterns (F, N) and at the slots (F, J), for a motion (P, F) of the port."""
        assert self.chamber is not None
        omega = 2 * np.pi * frequency_hz
        return pressures(self.front_stiffness(frequency_hz), motion, self.chamber, self.face_air, omega)

    def network(self, frequency_hz: Array) -> SlotNetwork:
        """The slots with their channels, joined at the exit."""
        return self._front_at(frequency_hz)[1]

    def _front_at(self, frequency_hz: Array) -> tuple[Complex, SlotNetwork]:
        """The front's stiffness and network. What was found last is kept: a curve and what is read from it ask for the
        same frequencies, thrice in a case of a sweep."""
        known = frequency_hz.tobytes()
        if known in self._kept:
            return self._kept[known]
        front, omega = self.driver.front, 2 * np.pi * frequency_hz
        assert front is not None and self.plug is not None and self.chamber is not None
        lines = [channel(self.plug, slot, k, self.air, omega) for k, slot in enumerate(front.slots)]
        network = join(lines, self._ended(omega))
        if self.face_air is None:
            found = self.chamber.stiffness(self.air, omega, network), network
        else:
            found = self.face_air.stiffness(self.chamber, self.air, omega, network), network
        if len(self._kept) == KEPT:
            del self._kept[next(iter(self._kept))]
        self._kept[known] = found
        return found

    @cached_property
    def _kept(self) -> dict[bytes, tuple[Complex, SlotNetwork]]:
        """Frequencies and what was found for them, the oldest first; not handed on by `replace`."""
        return {}


def pressures(
    stiffness: Complex, motion: Complex, chamber: ThinChamber, near: FaceAir | None, omega: Array
) -> tuple[Complex, Complex]:
    """Pressures in Pa on a chamber's patterns (F, N) and at its slots (F, J), from the stiffness (F, P, P) of a front
    port and its motion (P, F)."""
    count = len(chamber.slots)
    gap = (stiffness[:, :count] @ motion.T[:, :, None])[:, :, 0]  # einsum: 1.5 ms more
    slots = gap @ chamber.slots
    return gap, slots if near is None else slots + omega[:, None] ** 2 * near.mouths * motion[count:].T


def spring_of(rear: RearChamber, air: Air) -> float:
    """Pressure in a rear chamber per swept volume at rest, its leak closed, Pa/m3."""
    return float(chamber_modulus(air, np.ones(1), rear.filling)[0].real) / rear.volume


def air_of(climate: Climate) -> Air:
    """The air of a driver. Raises ModelError outside its formulas."""
    try:
        return moist_air(climate.temperature, climate.humidity, climate.static_pressure)
    except ModelError as error:
        raise ModelError(f"air: {error}") from None


def rear_leak(rear: RearChamber, air: Air, omega: Array) -> Complex | None:
    """Impedance (F,) of the rear chamber's leak, None without one."""
    if rear.leak_diameter is None:
        return None
    return leak_impedance(air, rear.leak_diameter, rear.leak_length, omega)


def end_of(exit: Exit, air: Air, omega: Array) -> Complex:
    """Impedance (F,) in Pa s/m3 of what ends the exit."""
    if exit.end == "horn":
        return horn(air, exit.area, exit.distance, omega)
    if exit.end == "table":
        return tabled(exit.frequency, exit.impedance, omega)
    return matched(air, np.pi * exit.diameter**2 / 4, omega)


def surround(design: Design, face: Face, modes: int = GAP_MODES, up_to_hz: float = 20e3) -> Surroundings:
    """Surroundings of a design on the front face of its structure, for frequencies up to one in Hz.

    Raises ModelError for air outside its formulas, MeshError for a gap or slots that cannot be.
    """
    driver = design.driver or Driver()
    air, front = air_of(driver.climate), driver.front
    around = Surroundings(driver, air, air)
    if driver.rear_chamber is not None:
        around = replace(around, rear_port=Port("rear chamber", _swept(face)), behind=air.density * mass_behind(face))
    if front is None:
        return around
    if front.kind == "baffle":
        return replace(around, open_sides=open_sides(design, front, face, air, up_to_hz))
    air, plug = air if front.losses else air.lossless, draw_plug(design, front)
    whole = thin_chamber(plug.line)
    if front.kind == "even pressure":
        chamber, pattern, near = _even(whole, front.volume), _swept(face), None
    else:
        chamber, place = on_modes(whole, modes), plug.line.place_of(face.point)
        near = face_air(plug.line, place, air.density, face)
        pattern = np.hstack((face.sweep.T @ chamber.shapes(place), near.pattern))
    return replace(around, air=air, plug=plug, chamber=chamber, front_port=Port("front", pattern), face_air=near)


def with_even_pressure(around: Surroundings, face: Face) -> Surroundings:
    """The same surroundings with the pressure in their chamber everywhere the same: the simple choice, to compare."""
    assert around.chamber is not None
    chamber = _even(around.chamber, None)
    return replace(around, chamber=chamber, front_port=Port("front", _swept(face)), face_air=None)


def _swept(face: Face) -> Array:
    return np.asarray(face.sweep.sum(axis=0)).reshape(-1, 1)


def _even(chamber: ThinChamber, volume: float | None) -> ThinChamber:
    """A chamber with one pattern, the constant one; of one that is given by its volume the walls are far away."""
    held, width = chamber.even_volumes[:, None, None], chamber.width
    if volume is not None:
        held, width = held * (volume / held.sum()), np.full_like(width, FAR)
    return replace(
        chamber,
        width=width,
        conductance=np.zeros_like(held),
        volume=held,
        slots=np.ones((1, chamber.slots.shape[1])),
        patterns=np.ones((len(chamber.patterns), 1)),
    )
