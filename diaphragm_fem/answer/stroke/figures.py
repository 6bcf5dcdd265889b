"""Large stroke in a few numbers, for sweeps and comparisons: asked for by a [stroke] table, without modes."""

from collections.abc import Mapping
from typing import Any

from diaphragm_fem.answer.stroke.distortion import distortion
from diaphragm_fem.answer.stroke.limits import changes_over
from diaphragm_fem.answer.stroke.path import StrokePath, stroke_path, stroke_shell
from diaphragm_fem.answer.stroke.strength import strength_over
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.spec.stroke import StrokeSpec
from diaphragm_fem.design.stroke_plan import StrokePlan, plan_stroke

STROKE_FIGURES = {
    "stiffness_stroke_m": "stroke in m, to the nearer side, where the stiffness has changed by the share after a colon",
    "area_stroke_m": "the same for the area",
    "force_factor_stroke_m": "the same for a force factor over stroke, where the table has one",
    "reached_stroke_m": "stroke in m to the nearer end of what was found: less than asked for where the part snaps",
    "fibre_strain": "largest fibre strain over the strokes asked for",
    "allowable_used": "largest share of an allowable of the design that is used",
    "second_harmonic": "second harmonic of the volume acceleration over the first, at the frequency after a colon",
    "third_harmonic": "third harmonic, likewise",
}
"""Figures that a design with a [stroke] table has; harmonics where the table has a drive."""
HARMONICS = {"second_harmonic": 2, "third_harmonic": 3}


def stroke_figure_names(data: Mapping[str, Any]) -> tuple[str, ...]:
    """Names of the figures that a design file's data gives, with what stands after a colon; none without [stroke]."""
    if "stroke" not in data:
        return ()
    asked = StrokeSpec.model_validate(data["stroke"])
    changing = ["stiffness_stroke_m", "area_stroke_m", *(["force_factor_stroke_m"] if asked.motor else [])]
    names = [_of_change(name, float(share)) for name in changing for share in asked.changes]
    names += ["reached_stroke_m", "fibre_strain", *(["allowable_used"] if asked.allowable else [])]
    for hz in asked.drive.frequency if asked.drive else ():
        names += [_of_drive(name, float(hz)) for name in HARMONICS]
    return tuple(names)


def _of_change(name: str, share: float) -> str:
    return f"{name}:{100 * share:g} %"


def _of_drive(name: str, hz: float) -> str:
    return f"{name}:{hz:g} Hz"


def stroke_figures_of(data: Mapping[str, Any], design: Design, *, corrected: bool = True) -> dict[str, float | None]:
    """The figures of a design file's data and its design; none without a [stroke] table.

    Raises what `plan_stroke` and `stroke_path` raise.
    """
    if "stroke" not in data:
        return {}
    plan = plan_stroke(StrokeSpec.model_validate(data["stroke"]), design)
    return stroke_figures(design, plan, corrected=corrected)


def stroke_figures(design: Design, plan: StrokePlan, *, corrected: bool = True) -> dict[str, float | None]:
    """The figures in SI units; None where a change is not reached, or a level leads beyond the strokes found."""
    path = stroke_path(stroke_shell(design, corrected=corrected), plan)
    found: dict[str, float | None] = {}
    for change in changes_over(path, plan):
        name = f"{change.quantity.replace(' ', '_')}_stroke_m"
        found[_of_change(name, change.share)] = _nearer(path, (change.rear, change.front))
    ends = [abs(float(path.stroke[k] - path.stroke[path.rest])) for k in (0, -1)]
    asked = [end for end, stop in zip(ends, (path.rear_stop, path.front_stop), strict=True) if end or stop]
    found["reached_stroke_m"] = min(asked)
    strength = strength_over(path, dict(plan.allowable))
    found["fibre_strain"] = float(strength.fibre.max())
    if strength.reached:
        found["allowable_used"] = max(reached.used for reached in strength.reached)
    for harmonics in distortion(path, plan.drive, plan.motor) if plan.drive else ():
        for name, n in HARMONICS.items():
            value = None if harmonics.reason else harmonics.of_acceleration(n)
            found[_of_drive(name, harmonics.frequency_hz)] = value
    return found


def never_within(figures: Mapping[str, float | None]) -> dict[str, float]:
    """Which changes of such a table are not reached, and the stroke in m up to which they were sought."""
    sought = figures.get("reached_stroke_m") or 0.0
    return {name: sought for name, value in figures.items() if value is None and "_stroke_m:" in name}


def _nearer(path: StrokePath, strokes: tuple[float | None, float | None]) -> float | None:
    """The smaller way from rest."""
    ways = [abs(stroke - float(path.stroke[path.rest])) for stroke in strokes if stroke is not None]
    return min(ways, default=None)
