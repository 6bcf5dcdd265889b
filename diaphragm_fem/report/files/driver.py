"""The numbers of a driver as columns, named with their units; phasors are per volt (rms) at the source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem.report.blocks.table import parts, plain_columns

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
        **parts("first_impedance", "ohm", sections.impedance),
        "first_excursion_m": np.abs(sections.excursion),
    }
    return plain_columns(columns)


def driver_figure_columns(driver: DriverAnswer) -> dict[str, list[Any]]:
    """A row per figure of the driver, with the reason where one does not exist."""
    figures = driver.figures.figures()
    why = [driver.figures.reason(name) if value is None else "" for name, value in figures.items()]
    return {"figure": list(figures), "value": list(figures.values()), "why_not": why}
