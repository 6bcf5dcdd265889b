"""Every number of a design at large stroke as columns, named with their units, and as JSON."""

from collections.abc import Callable, Mapping
from typing import Any

from diaphragm_fem import __version__
from diaphragm_fem.answer.stroke.stroke import StrokeAnswer
from diaphragm_fem.report.blocks.blocks import Columns, columns_of, plain_columns
from diaphragm_fem.report.contents.stroke import left_out, verdict
from diaphragm_fem.report.files.meaning import meaning_of

LISTED = 5  # harmonics


def path_columns(answer: StrokeAnswer) -> dict[str, list[Any]]:
    """A row per stroke."""
    path = answer.path
    columns: dict[str, Any] = {
        "stroke_m": path.stroke,
        "force_n": path.force,
        "stiffness_n_per_m": path.stiffness,
        "area_m2": path.total_area,
        "compliance_volume_m3": path.compliance_volume,
    }
    for z, zone in enumerate(answer.design.zones):
        if zone.radiates:
            columns[f"area_m2:{zone.name}"] = path.area[:, z]
    return plain_columns(columns)


def mode_columns(answer: StrokeAnswer) -> dict[str, list[Any]]:
    """A row per stroke, order and mode."""
    stroke = answer.path.stroke
    rows = [
        (float(stroke[at.index]), m, k + 1, float(modes.frequency_hz[k]), float(modes.loss_factor[k]), modes.labels[k])
        for at in answer.modes
        for m, modes in at.modes.items()
        for k in range(len(modes))
    ]  # fmt: skip
    return columns_of(("stroke_m", "order", "mode", "frequency_hz", "loss_factor", "label"), rows)


def strain_columns(answer: StrokeAnswer) -> dict[str, list[Any]]:
    """A row per stroke, three columns per zone."""
    strength = answer.strength
    columns: dict[str, list[Any]] = {"stroke_m": answer.path.stroke.tolist()}
    for z, zone in enumerate(answer.design.zones):
        columns[f"membrane_strain:{zone.name}"] = strength.membrane[:, z].tolist()
        columns[f"fibre_strain:{zone.name}"] = strength.fibre[:, z].tolist()
        columns[f"fibre_stress_pa:{zone.name}"] = strength.stress[:, z].tolist()
    return columns


def change_columns(answer: StrokeAnswer) -> dict[str, list[Any]]:
    rows = [(change.quantity, change.share, change.rear, change.front) for change in answer.changes]
    return columns_of(("quantity", "share", "toward_rear_m", "toward_front_m"), rows)


def limit_columns(answer: StrokeAnswer) -> dict[str, list[Any]]:
    rows = [(limit.what, limit.ends, limit.rear, limit.front) for limit in answer.limits]
    return columns_of(("limit", "ends", "toward_rear_m", "toward_front_m"), rows)


def distortion_columns(answer: StrokeAnswer) -> dict[str, list[Any]]:
    """A row per drive frequency."""
    numbers = range(2, LISTED + 1)
    rows = [
        (
            x.frequency_hz, float(abs(x.motion[0])), x.force, x.mean, *(x.of_motion(n) for n in numbers),
            *(x.of_acceleration(n) for n in numbers),
        )
        for x in answer.distortion
    ]  # fmt: skip
    names = ["frequency_hz", "motion_m", "drive_force_n", "mean_shift_m"]
    names += [f"motion_harmonic:{n}" for n in numbers] + [f"acceleration_harmonic:{n}" for n in numbers]
    return columns_of(names, rows)


def opinion_columns(answer: StrokeAnswer) -> dict[str, list[Any]]:
    rows = [(row.stroke, row.shell, row.solid, row.difference) for row in answer.opinion.rows] if answer.opinion else []
    return columns_of(("stroke_m", "shell_force_n", "solid_force_n", "difference"), rows)


def step_columns(answer: StrokeAnswer) -> dict[str, list[Any]]:
    """A row per step that an examination told and thing that is met or harmonic then."""
    rows = [
        (one.step.lever.key, one.step.taken_at, what, met, harmonic, one.refused)
        for one in answer.tried
        for what, met, harmonic in (
            *((what, met, None) for what, met in one.met_at.items()),
            *((what, None, share) for what, share in one.harmonics.items()),
            *[("", None, None)] * bool(one.refused),
        )
    ]  # fmt: skip
    return columns_of(("key", "taken_at", "met", "met_at_m", "harmonic", "why_not"), rows)


TABLES: Mapping[str, Callable[[StrokeAnswer], Columns]] = {
    "stroke": path_columns,
    "stroke_changes": change_columns,
    "stroke_limits": limit_columns,
    "stroke_modes": mode_columns,
    "stroke_strain": strain_columns,
    "distortion": distortion_columns,
    "stroke_steps": step_columns,
    "stroke_second_opinion": opinion_columns,
}


def stroke_mapping(answer: StrokeAnswer) -> dict[str, Any]:
    """The answer as plain data for JSON."""
    found = {name: columns for name, make in TABLES.items() if (columns := make(answer))}
    rocking = answer.rocking
    return {
        "program": f"diaphragm_fem {__version__}",
        "design": answer.design.name,
        "verdict": verdict(answer),
        "warnings": list(answer.warnings),
        "left_out": left_out(answer),
        "rest_m": float(answer.path.stroke[answer.path.rest]),
        "snap_m": list(answer.snaps),
        "unstable": [None if x is None else {"stroke_m": x.stroke, "order": x.order} for x in answer.wrinkles],
        "rocking": None if rocking is None else {
            "frequency_hz": rocking.frequency_hz, "loss_factor": rocking.loss_factor, "threshold_m": rocking.threshold,
        },
        **found,
        "meaning": meaning_of("stroke", found),
    }  # fmt: skip
