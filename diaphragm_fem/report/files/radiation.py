"""What a face in a baffle radiates, as columns: levels and beam, directivity, zones, pressure on the face."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem.report.blocks.table import plain_columns

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer

OFF_AXIS = (15, 30, 45, 60, 75, 90)  # degrees of the levels
STEP = 5  # degrees of the map
PER_OCTAVE = 6  # of the impedance and the pressure on the face


def radiation_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """Levels, beam, directivity index and power over frequency; empty without a baffle."""
    curve = driver.curve
    if not curve.radiated:
        return {}
    from diaphragm_fem.answer.driver.curve import decibels

    front = curve.radiated[0]
    columns: dict[str, Any] = {"frequency_hz": curve.frequency_hz}
    if curve.current is not None:
        levels = curve.levels_at((0, *OFF_AXIS))
        columns["axis_level_db"] = levels[:, 0]
        columns |= {f"off_axis_level_db:{a} deg": levels[:, k + 1] for k, a in enumerate(OFF_AXIS)}
        columns["far_axis_level_db"] = decibels(front.far[:, 0] / front.distance * curve.voltage)
        for side in curve.radiated:
            columns[f"radiated_w:{side.side.name}"] = curve.voltage**2 * side.power
    columns |= {"beam_degrees": front.beam_degrees, "index_db": front.directivity_index_db}
    return plain_columns(columns)


def directivity_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """The map over frequency and angle; empty without a baffle."""
    curve = driver.curve
    if not curve.radiated:
        return {}
    level = curve.radiated[0].directivity_db
    columns = {f"off_axis_db:{a} deg": level[:, a] for a in range(0, 91, STEP)}
    return plain_columns({"frequency_hz": curve.frequency_hz} | columns)


def zone_impedance_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """A row per pair of zones and frequency; empty without a baffle."""
    if not driver.curve.radiated:
        return {}
    from diaphragm_fem.answer.driver.zone_radiation import zone_impedance

    found = zone_impedance(driver.loaded, _sixths(driver.curve.frequency_hz))
    columns: dict[str, Any] = {"frequency_hz": found.frequency_hz}
    for a, one in enumerate(found.zones):
        for b, other in enumerate(found.zones[: a + 1]):
            pair = f"{one.name} | {other.name}"
            columns[f"zone_resistance_n_s_per_m:{pair}"] = found.impedance[:, a, b].real
            columns[f"zone_reactance_n_s_per_m:{pair}"] = found.impedance[:, a, b].imag
    return plain_columns(columns)


def face_pressure_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """A row per point along the face, its pressure in Pa per volt (per newton without motor) at sixths of an octave."""
    if not driver.curve.radiated:
        return {}
    from diaphragm_fem.answer.driver.zone_radiation import face_pressure

    points, pressure = face_pressure(driver.curve.radiated[0])
    columns: dict[str, Any] = {"r_m": points[:, 0], "z_m": points[:, 1]}
    f = driver.curve.frequency_hz
    for k in np.unique([int(np.argmin(np.abs(np.log(f / hz)))) for hz in _sixths(f)]):
        columns[f"real:{f[k]:.6g} Hz"], columns[f"imag:{f[k]:.6g} Hz"] = pressure[k].real, pressure[k].imag
    return plain_columns(columns)


def _sixths(f: np.ndarray) -> np.ndarray:
    return np.geomspace(f[0], f[-1], int(PER_OCTAVE * np.log2(f[-1] / f[0])) + 1)
