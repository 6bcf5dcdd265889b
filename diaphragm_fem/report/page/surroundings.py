"""What a page needs to solve a driver: rear chamber, gap with slots and exit, or free air before a baffle, and motor.

The gap joins as unknowns of its own, pressures p on its P patterns: D y + C p = drive, C^T y - A/(i omega) p = 0, with
A the air's own matrix of load/thin_chamber.py. So the page needs A's parts and no inverse of it over frequency. Each
pair of slots adds -Y_jk s_j s_k^T/(i omega), s_j^T (y, p) the pressure at slot j as load/face_air.py has it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.report.page.motion import frequency_grid
from diaphragm_fem.report.page.packing import packed
from diaphragm_fem.report.words.heard import PLAYING, plays_words, spots
from diaphragm_fem.report.words.words import show_hz, show_level

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer
    from diaphragm_fem.load.open_side import OpenSide
    from diaphragm_fem.load.surroundings import Surroundings


def surroundings_of(driver: DriverAnswer, from_hz: float) -> dict[str, Any]:
    """Loads of a driver on its reduced model, and the curves that its pictures show, as packed arrays; parts that the
    driver lacks are left out."""
    from diaphragm_fem.load.motor import inductive

    found, around = driver.loaded, driver.loaded.around
    grid = frequency_grid(from_hz, found.reduced.up_to_hz)
    small, omega = found.reduced.small, 2 * np.pi * grid
    data: dict[str, Any] = {"curve": _curves(driver)}
    if around.rear_port is not None:
        pattern = found.reduced.basis.T @ around.rear_port.pattern
        push, give = (packed(part, "f4") for part in around.rear_fraction(grid))
        data["rear"] = {"pattern": packed(pattern[:, 0]), "push": push, "give": give}
    if around.front_port is not None and around.chamber is not None:
        data["gap"] = _gap(driver, around, np.asarray(found.reduced.basis.T @ around.front_port.pattern), omega)
    if around.open_sides:
        data["open"] = [_open(driver, side) for side in around.open_sides]
    motor = around.driver.motor
    if motor is not None:
        data["motor"] = {name: getattr(motor, name) for name in ("force_factor", "source_resistance", "voltage")}
        data["motor"]["blocked"] = packed(motor.coil_resistance + inductive(motor.inductance, omega), "f4")
    data["unknowns"] = small.size
    return data


def _gap(driver: DriverAnswer, around: Surroundings, pattern: Array, omega: Array) -> dict[str, Any]:
    from diaphragm_fem.load.plug import channel
    from diaphragm_fem.load.surroundings import end_of

    chamber, plug, front, near = around.chamber, around.plug, around.driver.front, around.face_air
    assert chamber is not None and plug is not None and front is not None and around.driver.exit is not None
    pattern, under = np.split(pattern, [len(chamber.slots)], axis=1)
    upper, air = np.triu_indices(pattern.shape[1]), around.air
    lines = [channel(plug, slot, k, air, omega) for k, slot in enumerate(front.slots)]
    ends = np.stack([np.stack((line[:, 0, 0], line[:, 0, 1], line[:, 1, 1])) for line in lines])
    data: dict[str, Any] = {
        "pattern": packed(pattern),
        "width": packed(chamber.width),
        "conductance": packed(np.stack([matrix[upper] for matrix in chamber.conductance])),
        "volume": packed(np.stack([matrix[upper] for matrix in chamber.volume])),
        "slots": packed(chamber.slots),
        "mouths": packed(np.zeros((len(pattern), len(lines))) if near is None else under * near.mouths),
        "channels": packed(ends, "f4"),
        "exit": packed(end_of(around.driver.exit, around.still, omega), "f4"),
        "air": {name: getattr(air, name) for name in ("density", "viscosity", "gamma", "prandtl", "bulk_modulus")},
    }
    place = driver.curve.gap_place
    if place is not None:
        data["place"] = packed(place, "f4")
        data["shapes"] = packed(chamber.shapes(place), "f4")
        data["slot_place"] = packed(chamber.line.vertex[chamber.line.slot_vertex], "f4")
    return data


def _open(driver: DriverAnswer, side: OpenSide) -> dict[str, Any]:
    """Free air on one side: the modes of the elements before the face, the harmonics beyond are the page's to add."""
    modes = side.before.modes
    data: dict[str, Any] = {
        "name": side.name, "density": side.air.density, "sound_speed": side.air.sound_speed,
        "radius": modes.radius, "area": modes.area, "stand_in": modes.stand_in,
        "order": packed(modes.order, "u2"), "squares": packed(modes.squares), "push": packed(modes.push),
        "moments": packed(modes.moments),
        "pattern": packed(np.asarray(driver.loaded.reduced.basis.T @ side.port.pattern)),
    }  # fmt: skip
    front = driver.loaded.around.driver.front
    if side.name == "front" and front is not None:
        data["distance"] = front.level_distance
    return data


def _curves(driver: DriverAnswer) -> dict[str, Any]:
    """Levels in dB, impedance in ohm and the loaded area in m2 over frequency in Hz."""
    curve = driver.curve
    where = "at the exit" if not curve.radiated else f"on the axis at {curve.radiated[0].distance:g} m"
    data: dict[str, Any] = {
        "where": where, "frequency_hz": packed(curve.frequency_hz), "area": packed(curve.area.total, "f4"),
    }  # fmt: skip
    lines = {
        "response": np.abs(curve.area.response),
        "level_db": curve.level_db, "even_db": driver.even_level_db, "slot_db": curve.slot_level_db,
        "impedance": curve.terminal_impedance,
    }  # fmt: skip
    data |= {name: packed(values, "f4") for name, values in lines.items() if values is not None}
    if driver.sections is not None:
        data["sum_db"] = packed(driver.sections.sum_db, "f4")
    return data | _told(driver)


def _told(driver: DriverAnswer) -> dict[str, Any]:
    """What of the level the words tell: its bands from Hz to Hz, marks at Hz, and how both read; none without."""
    figures, f = driver.figures, driver.curve.frequency_hz
    if figures.band_hz is None or figures.median_level_db is None:
        return {}
    alone = "" if driver.sections is None else " of the first section alone"
    (low, high), marks = figures.band_hz, spots(driver)
    median = f"median level{alone}, {show_level(figures.median_level_db)} from {show_hz(low)} to {show_hz(high)}"
    bands, told = [{"from": low, "to": high, "words": median}], [f"Shaded: band of the {median}"]
    if figures.plays_hz is not None and figures.plays_hz[0] < figures.plays_hz[1]:
        words = f"plays {plays_words(figures.plays_hz, f)}"
        bands.append(dict(zip(("from", "to"), figures.plays_hz, strict=True)) | {"words": words, "look": "foot"})
        told.append(f"bar: {words}, {PLAYING}")
    return {
        "bands": bands, "marks": [{"hz": spot.frequency_hz, "words": spot.name} for spot in marks],
        "told": "; ".join([*told, *(spot.words for spot in marks)]),
    }  # fmt: skip
