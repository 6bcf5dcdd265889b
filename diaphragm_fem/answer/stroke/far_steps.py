"""Steps of levers tried at large stroke: advice is on small motion, and may move what is met on the way."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from diaphragm_fem.answer.change.levers import with_lever
from diaphragm_fem.answer.change.sensitivity import Sensitivity
from diaphragm_fem.answer.machine.cores import on_all_cores
from diaphragm_fem.answer.stroke.stroke import StrokeAnswer, evaluate_stroke
from diaphragm_fem.design.read.read import DesignFile
from diaphragm_fem.design.stroke_plan import plan_stroke
from diaphragm_fem.errors import DiaphragmError

HARMONICS = {2: "2nd", 3: "3rd"}


@dataclass(frozen=True)
class FarStep:
    """A step and what the design so changed has at large stroke (`met_at`, `harmonics`), or why it could not be
    walked."""

    step: Sensitivity
    met_at: Mapping[str, float | None]
    harmonics: Mapping[str, float]
    refused: str = ""


def far_steps(
    file: DesignFile, steps: Sequence[Sensitivity], *, in_driver: bool = True, corrected: bool = True
) -> tuple[FarStep, ...]:
    """What the design of each step does over the strokes that the [stroke] table of its file asks for; in_driver: with
    what surrounds it."""

    def walked(step: Sensitivity) -> FarStep:
        try:
            design = with_lever(file, step.lever, 1 + (step.taken_at or 0.0))
            design = design if in_driver else replace(design, driver=None)
            found = evaluate_stroke(design, plan_stroke(file.spec.stroke, design), corrected=corrected)
        except DiaphragmError as error:
            return FarStep(step, {}, {}, str(error))
        return FarStep(step, met_at(found), harmonics(found))

    return tuple(on_all_cores(walked, list(steps)))


def met_at(found: StrokeAnswer) -> dict[str, float | None]:
    """How far from rest in m each limit is met, by what it is; None where it is not."""
    rest = float(found.path.stroke[found.path.rest])
    ways = {limit.what: limit.distance(rest) for limit in found.limits}
    return {what: way if way < float("inf") else None for what, way in ways.items()}


def harmonics(found: StrokeAnswer) -> dict[str, float]:
    """Harmonics of the volume acceleration over the first, by name."""
    return {
        f"{name} of volume acceleration at {one.frequency_hz:g} Hz": one.of_acceleration(n)
        for one in found.distortion if not one.reason
        for n, name in HARMONICS.items()
    }  # fmt: skip
