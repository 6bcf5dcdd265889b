"""A driver and what its face radiates as columns, named with their units; phasors are per volt (rms) at the source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem.report.blocks.blocks import parts, plain_columns

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer


def driver_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """The driver over frequency."""
    curve = driver.curve
    columns: dict[str, Any] = {"frequency_hz": curve.frequency_hz}
    if curve.exit_pressure is not None and curve.slot_pressure is not None:
        columns |= {"level_db": curve.level_db}
        if driver.even_level_db is not None:
            columns |= {"even_pressure_level_db": driver.even_level_db}
        columns |= parts("exit_pressure", "pa", curve.exit_pressure)
        for j, row in enumerate(curve.slot_pressure):
            columns |= {f"slot_real_pa:{j + 1}": row.real, f"slot_imag_pa:{j + 1}": row.imag}
    if curve.terminal_impedance is not None and curve.excursion is not None and curve.zone_excursion is not None:
        columns |= parts("impedance", "ohm", curve.terminal_impedance)
        columns |= {"coil_excursion_m": np.abs(curve.excursion)}
        for zone, row in zip(curve.area.zones, curve.zone_excursion, strict=True):
            if zone.radiates:
                columns[f"zone_excursion_m:{zone.name}"] = np.abs(row)
    if curve.rear_pressure is not None:
        columns["rear_pressure_pa"] = np.abs(curve.rear_pressure)
    columns |= parts("loaded_area", "m2", curve.area.total)
    for cause, watts in curve.power.items():
        columns[f"power_w:{cause}"] = watts
    if curve.electrical_power is not None:
        columns["power_terminals_w"] = curve.electrical_power
    return plain_columns(columns)


def loss_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """A row per mode with everything on."""
    modes = driver.modes
    columns = {"loaded_mode_hz": modes.frequency_hz, "loaded_loss_factor": modes.loss_factor, "moving": modes.moving}
    return plain_columns(columns | {f"mode_loss:{cause}": loss for cause, loss in modes.loss.items()})


def chamber_opinion_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """The thin chamber against air in two dimensions; empty where nobody asked or there is none."""
    pairs = [("face as one body", driver.opinion), ("wall in air", driver.wall_in_air)]
    asked = [(name, opinion) for name, opinion in pairs if opinion is not None]
    if not asked:
        return {}
    return {
        "moving_face": [name for name, opinion in asked for _ in opinion.frequency_hz],
        "frequency_hz": [f for _, opinion in asked for f in opinion.frequency_hz.tolist()],
        "chamber_difference_db": [db for _, opinion in asked for db in opinion.differences_db.tolist()],
    }


def section_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """Two sections over frequency; empty where there is one."""
    sections = driver.sections
    if sections is None:
        return {}
    names = ("frequency_hz", "upper_db", "lower_db", "filtered_upper_db", "filtered_lower_db", "sum_db", "turned_db")
    columns = {
        **{name: getattr(sections, name) for name in names},
        "branch_ratio": sections.branch,
        "reflection_upper": np.abs(sections.reflection_upper),
        "reflection_lower": np.abs(sections.reflection_lower),
        **parts("first_impedance", "ohm", sections.impedance),
        "first_excursion_m": np.abs(sections.excursion),
    }
    return plain_columns(columns)


def driver_figure_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """A row per figure of the driver, with the reason where one does not exist."""
    figures = driver.figures.figures()
    why = [driver.figures.reason(name) if value is None else "" for name, value in figures.items()]
    return {"figure": list(figures), "value": list(figures.values()), "why_not": why}


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
    from diaphragm_fem.answer.driver.radiated import zone_impedance

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
    from diaphragm_fem.answer.driver.radiated import face_pressure

    points, pressure = face_pressure(driver.curve.radiated[0])
    columns: dict[str, Any] = {"r_m": points[:, 0], "z_m": points[:, 1]}
    f = driver.curve.frequency_hz
    for k in np.unique([int(np.argmin(np.abs(np.log(f / hz)))) for hz in _sixths(f)]):
        columns[f"real:{f[k]:.6g} Hz"], columns[f"imag:{f[k]:.6g} Hz"] = pressure[k].real, pressure[k].imag
    return plain_columns(columns)


def _sixths(f: np.ndarray) -> np.ndarray:
    return np.geomspace(f[0], f[-1], int(PER_OCTAVE * np.log2(f[-1] / f[0])) + 1)
