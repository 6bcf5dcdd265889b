"""Steps of levers tried at large stroke: advice is on small motion, and may move what is met on the way."""

from collections.abc import Mapping
from dataclasses import dataclass

from diaphragm_fem.answer.machine.cores import on_all_cores
from diaphragm_fem.answer.stroke.stroke import StrokeAnswer, evaluate_stroke
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.spec.stroke import StrokeSpec
from diaphragm_fem.design.stroke_plan import plan_stroke
from diaphragm_fem.errors import DiaphragmError

HARMONICS = {2: "2nd", 3: "3rd"}


@dataclass(frozen=True)
class FarStep:
    """A step in words and what the design so changed has at large stroke, by name: how far from rest in m each limit is
    met, None where it is not; harmonics of the volume acceleration as shares. refused: why it could not be walked."""

    step: str
    met_at: Mapping[str, float | None]
    harmonics: Mapping[str, float]
    refused: str = ""


def far_steps(asked: StrokeSpec, steps: Mapping[str, Design], *, corrected: bool = True) -> tuple[FarStep, ...]:
    """What the design of each step, by its words, does over the strokes that a [stroke] table asks for."""

    def walked(step: str) -> FarStep:
        try:
            found = evaluate_stroke(steps[step], plan_stroke(asked, steps[step]), corrected=corrected)
        except DiaphragmError as error:
            return FarStep(step, {}, {}, str(error))
        return far_step(step, found)

    return tuple(on_all_cores(walked, list(steps)))


def far_step(step: str, found: StrokeAnswer) -> FarStep:
    """The same of a design that has been walked."""
    rest = float(found.path.stroke[found.path.rest])
    ways = {limit.what: limit.distance(rest) for limit in found.limits}
    harmonics = {
        f"{name} of volume acceleration at {one.frequency_hz:g} Hz": one.of_acceleration(n)
        for one in found.distortion if not one.reason
        for n, name in HARMONICS.items()
    }  # fmt: skip
    return FarStep(step, {what: way if way < float("inf") else None for what, way in ways.items()}, harmonics)
