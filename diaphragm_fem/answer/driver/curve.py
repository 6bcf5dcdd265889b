"""What a driver does over frequency at its rated voltage: levels, impedance, excursions, pressures, power by cause.

All phasors are per volt (rms) at the source, exp(+i omega t); levels are dB re 20 uPa at the rated voltage, powers W at
the rated voltage.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve, require_numbers
from diaphragm_fem.analysis.curve.sampling import extremes, scanned
from diaphragm_fem.answer.driver.loaded import Loaded
from diaphragm_fem.answer.driver.losses import RADIATED, spent
from diaphragm_fem.answer.driver.radiated import Radiated, radiated
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.load.motor import drive, inductive
from diaphragm_fem.load.open_side import OpenSide
from diaphragm_fem.load.power import through
from diaphragm_fem.load.slot_network import SlotNetwork
from diaphragm_fem.load.surroundings import Surroundings

REFERENCE = 20e-6  # Pa


@dataclass(frozen=True)
class DriverCurve:
    """Over frequency_hz (F,); parts that the design lacks are None or empty.

    area: the loaded area curve. terminal_impedance ohm; current A/V; excursion of the coil m/V; zone_excursion (Z, F)
    mean excursion of each zone m/V, nan where a zone sweeps no area. exit_pressure Pa/V and slot_pressure (J, F), what
    each slot gives of it; slot_share_of_gap (F,): effective pressure at the slots over that in the gap; gap_pressure
    (S, F) Pa/V at gap_place (S,) m along the gap; rear_pressure Pa/V.
    radiated: front, and rear where that is open, of a face in a baffle; per newton without a motor.
    power: cause to W (F,) at the rated voltage; power_in: what the coil gives; electrical_power: what the terminals
    take, W. Raises AnalysisError where one of these is no number that ought to be.
    """

    frequency_hz: Array
    voltage: float
    area: Curve
    terminal_impedance: Complex | None = None
    current: Complex | None = None
    excursion: Complex | None = None
    zone_excursion: Complex | None = None
    exit_pressure: Complex | None = None
    slot_pressure: Complex | None = None
    slot_share_of_gap: Array | None = None
    gap_place: Array | None = None
    gap_pressure: Complex | None = None
    rear_pressure: Complex | None = None
    radiated: tuple[Radiated, ...] = ()
    power: Mapping[str, Array] = field(default_factory=dict)
    power_in: Array | None = None
    electrical_power: Array | None = None

    def __post_init__(self) -> None:
        told = (self.heard, self.terminal_impedance, self.current, self.excursion, self.electrical_power)
        values = [value for value in (*told, *self.power.values()) if value is not None]
        require_numbers("the curve of the driver", self.frequency_hz, *values)

    @property
    def heard(self) -> Complex | None:
        """Pressure whose level counts (F,), Pa/V: at the exit, or on the axis before a baffle."""
        return self.radiated[0].axis if self.radiated and self.current is not None else self.exit_pressure

    @property
    def level_db(self) -> Array | None:
        """Level of that pressure (F,)."""
        return None if self.heard is None else decibels(self.heard * self.voltage)

    @property
    def watched(self) -> Complex:
        """What a scan must not miss an extreme of (V, F): the pressure heard, before a baffle without the time it takes
        to the listener, whose phase would tell of extremes everywhere; without one the area and its response."""
        if self.heard is None:
            return self.area.watched
        if not self.radiated:
            return self.heard[None]
        front = self.radiated[0]
        return self.heard[None] * np.exp(2j * np.pi * self.frequency_hz * front.distance / front.side.air.sound_speed)

    def joined(self, other: DriverCurve) -> DriverCurve:
        """Both as one, their frequencies rising, each once; gap_place is the same for both."""
        first = np.unique(np.append(self.frequency_hz, other.frequency_hz), return_index=True)[1]

        def both(one: Any, two: Any) -> Any:
            if isinstance(one, Mapping):
                return {name: both(one[name], two[name]) for name in one}
            return None if one is None else np.concatenate((one, two), axis=-1)[..., first]

        apart = ("voltage", "area", "gap_place", "radiated")
        names = [part.name for part in fields(self) if part.name not in apart]
        along = {name: both(getattr(self, name), getattr(other, name)) for name in names}
        sides = tuple(one.joined(two) for one, two in zip(self.radiated, other.radiated, strict=True))
        return replace(self, **along | {"area": self.area.joined(other.area), "radiated": sides})

    @property
    def level_where(self) -> str:
        """Where that level stands, in words."""
        return f"on the axis at {self.radiated[0].distance:.3g} m" if self.radiated else "at the exit"

    def levels_at(self, degrees: Sequence[float]) -> Array:
        """Levels (F, A) in dB of a face in a baffle at angles off its axis, at the rated voltage; without a motor
        against the first of them."""
        pressure = self.radiated[0].pressure(self.radiated[0].distance, degrees)
        driven = self.current is not None
        return decibels(pressure * self.voltage) if driven else 20 * np.log10(np.abs(pressure / pressure[:, :1]))

    @property
    def slot_level_db(self) -> Array | None:
        """Level that each slot alone gives at the exit (J, F)."""
        return None if self.slot_pressure is None else decibels(self.slot_pressure * self.voltage)

    @property
    def efficiency(self) -> Array | None:
        """Power through the exit, or radiated in front, over power taken at the terminals (F,)."""
        given = self.power.get("exit", self.power.get(RADIATED))
        if self.electrical_power is None or given is None:
            return None
        return np.asarray(given / self.electrical_power)


def decibels(pressure: Complex) -> Array:
    """Level of an effective pressure in Pa, dB re 20 uPa; silence is 200 dB below."""
    return np.asarray(20 * np.log10(np.maximum(np.abs(pressure), REFERENCE * 1e-10) / REFERENCE))


def driver_curve(found: Loaded, frequency_hz: Array, *, power: bool = True, places: int = 0) -> DriverCurve:
    """The curve of a loaded driver with a motor at frequencies (F,) in Hz.

    Where the power goes is left out if `power` is False; `places` points along the gap get their pressure. Without a
    motor the answer is the loaded area alone.
    """
    f, omega = np.asarray(frequency_hz, float), 2 * np.pi * np.asarray(frequency_hz, float)
    reduced, around, structure = found.reduced, found.around, found.solution.structure
    small, front = reduced.small, around.front_port
    network = None if front is None else around.network(f)
    rows = [small.volume, small.pickup[None]]
    if front is not None:
        rows.append((reduced.basis.T @ front.pattern).T)
    open_sides = [(side, (reduced.basis.T @ side.port.pattern).T) for side in around.open_sides]
    rows += [pattern for _, pattern in open_sides]
    motion = reduced.motions(f) if power else None
    every = np.vstack(rows)
    outputs = reduced.outputs(every, f) if motion is None else every @ motion
    zones = len(structure.zones)
    zone, coil, swept = outputs[:zones], outputs[zones], outputs[zones + 1 :]
    area = Curve(f, zone / coil, 1 / coil, structure.zones, structure.zone_area, found.static.low)
    unit = around.driver.motor
    if unit is None:
        return DriverCurve(f, 1.0, area, radiated=_radiated(found, f, outputs, open_sides))
    electric = drive(unit, area.coil_force / (1j * omega), omega)
    force = electric.force
    told = DriverCurve(
        f,
        unit.voltage,
        area,
        electric.terminal_impedance,
        electric.current,
        electric.excursion,
        area.share * electric.excursion,
        radiated=_radiated(found, f, outputs * force, open_sides),
        electrical_power=unit.voltage**2 * np.abs(electric.current) ** 2 * electric.terminal_impedance.real,
    )
    if around.rear_port is not None:
        told = replace(told, rear_pressure=-around.rear_stiffness(f) * zone.sum(axis=0) * force)
    if network is not None:
        told = replace(told, **_in_front(around, network, f, swept * force, places))
    if motion is None:
        return replace(told, power=_given(told, network))
    resistance = (unit.coil_resistance + inductive(unit.inductance, omega)).real
    causes = {"motor": np.abs(electric.current) ** 2 * resistance / 2, **spent(found, f, motion * force)}
    rated = 2 * unit.voltage**2  # peak phasors
    power_in = rated * omega * np.imag(np.conj(coil * force) * force) / 2
    return replace(told, power={name: rated * watts for name, watts in causes.items()}, power_in=power_in)


def _in_front(around: Surroundings, network: SlotNetwork, f: Array, motion: Complex, places: int) -> dict[str, Any]:
    """Pressures before the face and at the exit for a motion (P, F) of the front port, at places along the gap, too."""
    chamber = around.chamber
    assert chamber is not None
    pressure, slots = around.pressures(f, motion)
    inside = (pressure.conj() * (pressure @ chamber.volume.sum(axis=0))).real.sum(axis=1) / chamber.even_volumes.sum()
    each = (network.transfer * slots).T
    found = {
        "slot_share_of_gap": np.sqrt(np.mean(np.abs(slots) ** 2, axis=1) / inside),
        "slot_pressure": each,
        "exit_pressure": each.sum(axis=0),
    }
    if places:
        place = np.linspace(0, chamber.line.length, places)
        found |= {"gap_place": place, "gap_pressure": chamber.shapes(place) @ pressure.T}
    return found


def _given(told: DriverCurve, network: SlotNetwork | None) -> dict[str, Array]:
    """Power in W (F,) that leaves through the exit or is radiated in front: all that an efficiency needs."""
    if told.radiated:
        return {RADIATED: told.voltage**2 * told.radiated[0].power}
    if network is None or told.exit_pressure is None:
        return {}
    return {"exit": 2 * told.voltage**2 * through(network.exit_impedance, told.exit_pressure)}


def driver_scan(found: Loaded) -> DriverCurve:
    """The curve at every frequency it takes to know its level, without where the power goes."""
    solution = found.solution
    return scanned(lambda f: driver_curve(found, f, power=False), (), solution.from_hz, solution.up_to_hz)


def level_extremes(found: Loaded) -> Array:
    """Frequencies in Hz of the peaks and dips of the level and beside them, by which a null is placed; none where there
    is no level."""
    scan = driver_scan(found)
    if scan.heard is None:
        return np.zeros(0)
    return scan.frequency_hz[np.unique(extremes(np.abs(scan.heard))[:, None] + (-1, 0, 1))]


def _radiated(
    found: Loaded, f: Array, outputs: Complex, open_sides: list[tuple[OpenSide, Array]]
) -> tuple[Radiated, ...]:
    """What each open side radiates; its patterns' motions are the last rows of the outputs, one side after another."""
    front, made = found.around.driver.front, []
    begin = len(outputs) - sum(len(pattern) for _, pattern in open_sides)
    for side, pattern in open_sides:
        assert front is not None
        made.append(radiated(side, f, outputs[begin : begin + len(pattern)].T, front.level_distance))
        begin += len(pattern)
    return tuple(made)
