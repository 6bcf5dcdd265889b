"""The numbers of a driver as columns, named with their units; phasors are per volt (rms) at the source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem.report.table import plain_columns

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver import DriverAnswer

MEANING = {
    "level_db": "level at the exit, or on the axis before a baffle, at the rated voltage, dB re 20 uPa",
    "even_pressure_level_db": "the same with the pressure before the face everywhere the same",
    "exit_pressure_real_pa": "in-phase part of the pressure at the exit in Pa per volt, exp(+i omega t)",
    "exit_pressure_imag_pa": "quadrature part of the same",
    "slot_real_pa": "what a slot gives of the exit's pressure, in-phase part, Pa per volt",
    "slot_imag_pa": "quadrature part of the same",
    "impedance_real_ohm": "real part of the impedance at the terminals in ohm",
    "impedance_imag_ohm": "imaginary part of the same",
    "coil_excursion_m": "size of the coil's excursion in m per volt",
    "zone_excursion_m": "size of a zone's mean excursion in m per volt; empty where the zone sweeps no area",
    "rear_pressure_pa": "size of the pressure in the rear chamber in Pa per volt",
    "power_w": "power at the rated voltage in W, by where it goes",
    "power_terminals_w": "power that the terminals take at the rated voltage in W",
    "loaded_area_real_m2": "in-phase part of the effective area with everything on, m2",
    "loaded_area_imag_m2": "quadrature part of the same",
    "loaded_mode_hz": "a mode with everything on, the source at 0 V: where its springs and masses balance, Hz",
    "loaded_loss_factor": "its loss factor, one over its quality factor",
    "moving": "the zone that sweeps most in it",
    "mode_loss": "what a cause adds to the loss factor",
    "moving_face": "how the face moves before the air in two dimensions",
    "chamber_difference_db": "20 log(1 + |p1 - p2|/|p2|) of the exit's pressure, one against two dimensions",
    "upper_db": "level of the first section alone, no filter, dB re 20 uPa",
    "lower_db": "level of the second section alone, no filter",
    "filtered_upper_db": "the first section behind its filter",
    "filtered_lower_db": "the second section behind its filter",
    "sum_db": "both sections behind the crossover",
    "branch_ratio": "size of the branch's impedance over rho c/S",
    "reflection_upper": "size of the reflection that the first section meets at the junction",
    "reflection_lower": "size of the reflection that the second section meets there",
    "first_impedance_real_ohm": "real part of the first section's impedance with the second one present, ohm",
    "first_impedance_imag_ohm": "imaginary part of the same",
    "first_excursion_m": "size of its coil's excursion then, m per volt",
    "median_level_db": "median over the band of the level at the exit, or on the axis before a baffle, rated voltage",
    "level_spread_db": "tenth to ninetieth percentile of the level in the band",
    "worst_null_db": "depth below the median of the deepest minimum above the loaded fundamental",
    "worst_null_hz": "its frequency in Hz",
    "efficiency": "power through the exit, or radiated in front, over power taken at the terminals, median in the band",
    "excursion_m": "largest peak excursion of coil and zones from the loaded fundamental on, rated voltage",
}


def driver_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """The driver over frequency."""
    curve = driver.curve
    columns: dict[str, Any] = {"frequency_hz": curve.frequency_hz}
    if curve.exit_pressure is not None and curve.slot_pressure is not None:
        columns |= {"level_db": curve.level_db}
        if driver.even_level_db is not None:
            columns |= {"even_pressure_level_db": driver.even_level_db}
        columns |= _parts("exit_pressure", "pa", curve.exit_pressure)
        for j, row in enumerate(curve.slot_pressure):
            columns |= {f"slot_real_pa:{j + 1}": row.real, f"slot_imag_pa:{j + 1}": row.imag}
    if curve.terminal_impedance is not None and curve.excursion is not None and curve.zone_excursion is not None:
        columns |= _parts("impedance", "ohm", curve.terminal_impedance)
        columns |= {"coil_excursion_m": np.abs(curve.excursion)}
        for zone, row in zip(curve.area.zones, curve.zone_excursion, strict=True):
            if zone.radiates:
                columns[f"zone_excursion_m:{zone.name}"] = np.abs(row)
    if curve.rear_pressure is not None:
        columns["rear_pressure_pa"] = np.abs(curve.rear_pressure)
    columns |= _parts("loaded_area", "m2", curve.area.total)
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
    columns = {
        "frequency_hz": sections.frequency_hz,
        "upper_db": sections.upper_db,
        "lower_db": sections.lower_db,
        "filtered_upper_db": sections.filtered_upper_db,
        "filtered_lower_db": sections.filtered_lower_db,
        "sum_db": sections.sum_db,
        "branch_ratio": sections.branch,
        "reflection_upper": np.abs(sections.reflection_upper),
        "reflection_lower": np.abs(sections.reflection_lower),
        **_parts("first_impedance", "ohm", sections.impedance),
        "first_excursion_m": np.abs(sections.excursion),
    }
    return plain_columns(columns)


def driver_figure_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """A row per figure of the driver, with the reason where one does not exist."""
    figures = driver.figures.figures()
    why = [driver.figures.reason(name) if value is None else "" for name, value in figures.items()]
    return {"figure": list(figures), "value": list(figures.values()), "why_not": why}


def _parts(name: str, unit: str, values: Any) -> dict[str, Any]:
    return {f"{name}_real_{unit}": values.real, f"{name}_imag_{unit}": values.imag}
