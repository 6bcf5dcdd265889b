"""Every number of one design as columns, named with their units, and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem import __version__
from diaphragm_fem.analysis.curve.curve import decibels
from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.library.evidence import evidence_table
from diaphragm_fem.design.zone_sizes import zone_sizes
from diaphragm_fem.report.blocks.blocks import columns_of, parts, plain_columns, stacked
from diaphragm_fem.report.files import driver as drivers
from diaphragm_fem.report.files.meaning import meaning_of
from diaphragm_fem.report.words.figures import near_words
from diaphragm_fem.report.words.measured import state_of
from diaphragm_fem.report.words.trust import cautions, trust
from diaphragm_fem.report.words.verdict import verdict
from diaphragm_fem.report.words.words import name_materials, pieces_of

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer
    from diaphragm_fem.answer.measured import Beside
    from diaphragm_fem.answer.stroke.stroke import StrokeAnswer


def measured_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per measured point; empty where nothing was measured."""
    return stacked(_of_a_curve(n, beside) for n, beside in enumerate(evaluation.measured, start=1))


def _of_a_curve(n: int, beside: Beside) -> dict[str, list[Any]]:
    curve, count = beside.curve, len(beside.curve.frequency_hz)
    known = curve.values if curve.phase else np.full(count, np.nan * (1 + 1j))
    return {
        "curve": [n] * count, "quantity": [curve.title] * count, "state": [state_of(beside)] * count,
        **plain_columns({
            "frequency_hz": curve.frequency_hz,
            "measured_real": known.real, "measured_imag": known.imag, "measured_size": np.abs(curve.values),
            "predicted_real": beside.predicted.real, "predicted_imag": beside.predicted.imag,
            "predicted_size": np.abs(beside.predicted), "deviation_db": beside.deviation_db,
        }),
    }  # fmt: skip


def peak_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per pair of peaks; empty without any."""
    rows = [
        (n, beside.curve.title, pair.measured_hz, pair.predicted_hz, pair.shift, pair.higher_db)
        for n, beside in enumerate(evaluation.measured, start=1)
        for pair in beside.pairs
    ]
    return columns_of(("curve", "quantity", "measured_hz", "predicted_hz", "shift", "higher_db"), rows)


Make = Callable[[Answer], dict[str, list[Any]]]


def mode_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per mode, orders one after another."""
    return stacked(_of_an_order(modes, evaluation.frequency_error[m]) for m, modes in evaluation.modes.items())


def _of_an_order(modes: Modes, error: Array) -> dict[str, list[Any]]:
    columns = {
        "order": np.full(len(modes), modes.order), "mode": np.arange(1, len(modes) + 1),
        "frequency_hz": modes.frequency_hz, "relative_error": error, "modal_mass_kg": modes.modal_mass,
        "modal_area_m2": modes.modal_area, "loss_factor": modes.loss_factor, "residual": modes.residual,
    }  # fmt: skip
    for name, share in (("strain_share", modes.strain_share), ("kinetic_share", modes.kinetic_share)):
        columns |= {f"{name}:{zone.name}": share[:, z] for z, zone in enumerate(modes.zones)}
    return {**plain_columns(columns), "label": list(modes.labels)}


def area_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per frequency; empty for a design without a drive."""
    area = evaluation.area
    if area is None:
        return {}
    total = area.total
    columns: dict[str, Any] = {"frequency_hz": area.frequency_hz, **parts("area", "m2", total)}
    columns |= {"area_size_m2": np.abs(total), "phase_deg": np.degrees(np.angle(total))}
    if area.absolute is not None and area.cancellation is not None:
        columns |= {"swept_in_total_m2": area.absolute, "cancellation": area.cancellation}
    columns |= parts("coil_force", "n_per_m", area.coil_force) | parts("response", "m2_per_kg", area.response)
    if evaluation.figures is not None and evaluation.figures.evened is not None:
        evened = evaluation.figures.evened
        columns["response_db"] = decibels(np.abs(area.response) / evened.plateau)
        columns["evened_db"] = evened.level(area)
    for z, zone in enumerate(area.zones):
        if zone.radiates:
            columns[f"zone_real_m2:{zone.name}"] = area.zone[z].real
            columns[f"zone_imag_m2:{zone.name}"] = area.zone[z].imag
    return plain_columns(columns)


def figure_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per figure: the believed value, the reason where there is none, near misses, and what each model says."""
    figures, shell, opinion = evaluation.figures, evaluation.shell_figures, evaluation.second_opinion
    if figures is None or shell is None:
        return {}
    table = figures.table()
    columns: dict[str, list[Any]] = {
        "figure": list(table),
        "value": list(table.values()),
        "why_not": [figures.reason(name) for name in table],
        "near_misses": [near_words(figures, name) for name in table],
        "by_shell": [shell.table().get(name) for name in table],
    }
    if opinion is not None and opinion.figures is not None:
        columns["by_solid"] = [opinion.figures.table().get(name) for name in table]
    return columns


def opinion_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per mode of the shell that was looked for in the solid; empty where none is like it."""
    found = () if evaluation.second_opinion is None else evaluation.second_opinion.rows
    names = ("order", "mode", "shell_hz", "solid_mode", "solid_hz", "likeness", "difference")
    return columns_of(
        names, [(r.order, r.index, r.shell_hz, r.solid_index, r.solid_hz, r.likeness, r.difference) for r in found]
    )


def zone_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per zone."""
    zones, area = evaluation.design.zones, evaluation.area
    thickness = [
        [float(t) for piece in pieces_of(evaluation.design, zone) for t in piece.wall.thickness((0.0, 0.5, 1.0))]
        for zone in zones
    ]
    columns: dict[str, list[Any]] = {
        "zone": [zone.name for zone in zones],
        "role": [str(zone.role) for zone in zones],
        "side": [zone.side for zone in zones],
        "material": [name_materials(pieces_of(evaluation.design, zone)) for zone in zones],
        "least_thickness_m": [min(t) for t in thickness],
        "largest_thickness_m": [max(t) for t in thickness],
    }
    sizes = [(size.width, size.height, size.angle, size.mass) for size in zone_sizes(evaluation.design)]
    columns |= columns_of(("width_m", "height_m", "angle_rad", "mass_kg"), sizes)
    if area is not None:
        columns |= {"rigid_area_m2": area.zone_area.tolist(), "low_area_m2": area.low.tolist()}
    return columns


def material_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per number of every material used, with its source."""
    rows = evidence_table(evaluation.design.materials)
    names = ("material", "quantity", "value", "range", "kind", "source", "mark")
    return {name: [getattr(row, name) for row in rows] for name in names}


def face_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per point of the front face, its normal velocity over the coil's at each frequency."""
    face = evaluation.face
    if face is None:
        return {}
    columns: dict[str, list[Any]] = {
        "r_m": face.r.tolist(), "z_m": face.z.tolist(), "area_m2": face.area.tolist(), "zone": list(face.zone),
    }  # fmt: skip
    for k, hz in enumerate(face.frequency_hz):
        columns[f"real:{hz:.6g} Hz"] = face.motion[:, k].real.tolist()
        columns[f"imag:{hz:.6g} Hz"] = face.motion[:, k].imag.tolist()
    return columns


def sensitivity_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per lever: what +10 % of it changes in every figure; empty where not asked for."""
    found = evaluation.sensitivities
    if found is None:
        return {}
    names = ("key", "value_si", "taken_at", "why_not", *(f"change:{name}" for name in found.base))
    changes = [[row.change.get(name) for name in found.base] for row in found.rows]
    rows = [(r.lever.key, r.lever.value, r.taken_at, r.reason, *x) for r, x in zip(found.rows, changes, strict=True)]
    return columns_of(names, rows)


def of_driver(make: Callable[[DriverAnswer], dict[str, list[Any]]]) -> Make:
    """The columns of an evaluation's driver; empty without one."""
    return lambda evaluation: {} if evaluation.driver is None else make(evaluation.driver)


TABLES: Mapping[str, Make] = {
    "figures": figure_columns,
    "modes": mode_columns,
    "area": area_columns,
    "second_opinion": opinion_columns,
    "zones": zone_columns,
    "what_to_change": sensitivity_columns,
    "materials": material_columns,
    "driver": of_driver(drivers.driver_columns),
    "driver_figures": of_driver(drivers.driver_figure_columns),
    "driver_losses": of_driver(drivers.loss_columns),
    "driver_chamber_opinion": of_driver(drivers.chamber_opinion_columns),
    "driver_sections": of_driver(drivers.section_columns),
    "measured": measured_columns,
    "measured_peaks": peak_columns,
    "radiation": of_driver(drivers.radiation_columns),
    "directivity": of_driver(drivers.directivity_columns),
    "radiation_of_zones": of_driver(drivers.zone_impedance_columns),
}
FILES_ALONE: Mapping[str, Make] = {"face": face_columns, "face_pressure": of_driver(drivers.face_pressure_columns)}
"""Tables that are too large for the JSON of all results."""


def as_mapping(evaluation: Answer, *tables: str, stroke: StrokeAnswer | None = None) -> dict[str, Any]:
    """The evaluation as plain data for JSON: the named tables (all where none is named), the words, what the
    tables mean, of all those of the files beside them too; its large stroke where that was asked."""
    chosen = tables or tuple(TABLES)
    found = {name: columns for name in chosen if (columns := TABLES[name](evaluation))}
    figures = [name for table in ("figures", "driver_figures") for name in found.get(table, {}).get("figure", ())]
    beside = {} if tables else {name: make(evaluation) for name, make in FILES_ALONE.items()}
    return {
        "program": f"diaphragm_fem {__version__}",
        "design": evaluation.design.name,
        "up_to_hz": evaluation.up_to_hz,
        "tolerance": evaluation.tolerance,
        "refinement": evaluation.refinement,
        "shell": "with ends, joints and thick walls" if evaluation.corrected else "bare",
        "area_error": evaluation.area_error,
        "verdict": verdict(evaluation),
        "trust": trust(evaluation),
        "warnings": list(evaluation.warnings),
        "cautions": cautions(evaluation),
        "complete_because": {str(m): modes.evidence for m, modes in evaluation.modes.items()},
        **{name: _figures_mapping(evaluation) if name == "figures" else columns for name, columns in found.items()},
        "meaning": meaning_of("design", found | beside, (name.removeprefix("loaded_") for name in figures)),
        **_moved(stroke),
    }


def _moved(stroke: StrokeAnswer | None) -> dict[str, Any]:
    if stroke is None:
        return {}
    from diaphragm_fem.report.files.stroke import stroke_mapping  # here: it loads what solves large stroke

    return {"stroke": stroke_mapping(stroke)}


def _figures_mapping(evaluation: Answer) -> dict[str, Any]:
    figures, shell, opinion = evaluation.figures, evaluation.shell_figures, evaluation.second_opinion
    if figures is None or shell is None:
        return {}
    table = figures.table()
    why_not = {name: figures.reason(name) for name, value in table.items() if value is None}
    by_solid = {} if opinion is None or opinion.figures is None else {"by_solid": opinion.figures.table()}
    return {**table, "why_not": why_not, "by_shell": shell.table(), **by_solid}
