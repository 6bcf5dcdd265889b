"""What a force factor over stroke does to a part: whether it changes before all else, where the coil should rest in its
gap, and how much of the distortion it makes."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.answer.stroke.distortion import Distortion, distortion
from diaphragm_fem.answer.stroke.limits import Limit, changes_of_pull
from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.design.stroke_plan import MotorOverStroke, StrokePlan

PLACES = 401  # of the coil in its gap, evenly over the strokes told of
WORTH_MOVING = 1.1  # times the stroke: less is no reason to move a coil (a choice)
MOST = 0.5  # of the harmonics: what makes more makes most of them


@dataclass(frozen=True)
class MadeByMotor:
    """The second and third harmonic of the volume acceleration together, over the first, at a drive frequency in Hz:
    as they are, and with a force factor that is the same at every stroke."""

    frequency_hz: float
    all: float
    without: float

    @property
    def is_most(self) -> bool:
        return self.without <= (1 - MOST) * self.all


@dataclass(frozen=True)
class MotorLimit:
    """share: the change that is compared, the smallest of the plan; strokes in m. reach: from rest to where the force
    factor has so changed on the nearer side, None where stiffness or area do so before, or something ends the stroke;
    after: what of these is met next, None where nothing is.

    aside: by how far the coil would have to rest further toward the listener in its gap so that its reach is the
    largest, best_reach; 0 where that is not worth it. higher: by how much the winding would have to be so that its ends
    leave the gap where `after` is met, half of it to each side (common practice, no source); 0 where a force factor
    grows. made: at the frequency where the harmonics are largest.
    """

    share: float
    reach: float | None
    after: Limit | None
    aside: float
    best_reach: float
    higher: float
    made: MadeByMotor | None


def motor_limit(
    path: StrokePath, plan: StrokePlan, limits: Sequence[Limit], harmonics: Sequence[Distortion]
) -> MotorLimit | None:
    """What the plan's force factor over stroke limits; None without one. limits and harmonics: as they were found."""
    if plan.motor is None:
        return None
    made = _made_by(path, plan, harmonics)
    if not plan.changes:
        return MotorLimit(0.0, None, None, 0.0, 0.0, 0.0, made)
    share, rest = min(plan.changes), float(path.stroke[path.rest])
    alike = [x for x in limits if x.ends or x.what.endswith(f"changed by {100 * share:g} %")]
    met = [x for x in sorted(alike, key=lambda x: x.distance(rest)) if x.distance(rest) < np.inf]
    if not met or not met[0].what.startswith("force factor"):
        return MotorLimit(share, None, None, 0.0, 0.0, 0.0, made)
    reach, after = met[0].distance(rest), met[1] if len(met) > 1 else None
    aside, best = _best_place(plan.motor, rest, share, reach)
    at = min((x for x in (met[0].rear, met[0].front) if x is not None), key=lambda x: abs(x - rest))
    falls = float(plan.motor.curve(at)) < float(plan.motor.curve(rest))
    lacking = 0.0 if after is None or not falls else max(0.0, after.distance(rest) - best)
    return MotorLimit(share, reach, after, aside, best, 2 * lacking, made)


def _best_place(motor: MotorOverStroke, rest: float, share: float, reach: float) -> tuple[float, float]:
    """By how far in m toward the listener the coil should rest in its gap, and its reach then; 0 and the reach as it is
    where that gains little. Where the change lies beyond what is told of, the reach ends there."""
    first, last = motor.stroke[0], motor.stroke[-1]

    def reach_about(place: float) -> float:
        rear, front = changes_of_pull(motor, place, share, first, last)
        return min(place - (first if rear is None else rear), (last if front is None else front) - place)

    places = np.linspace(first, last, PLACES)
    reaches = [reach_about(float(place)) for place in places]
    best = int(np.argmax(reaches))
    if reaches[best] < WORTH_MOVING * reach:
        return 0.0, reach
    return float(places[best]) - rest, reaches[best]


def _made_by(path: StrokePath, plan: StrokePlan, harmonics: Sequence[Distortion]) -> MadeByMotor | None:
    """Of the frequency whose harmonics are largest; None where there are none."""
    told = [found for found in harmonics if not found.reason]
    if plan.drive is None or not told:
        return None
    worst = max(told, key=_together)
    (same,) = distortion(path, plan.drive.at(worst.frequency_hz), plan.motor, changing=False)
    return None if same.reason else MadeByMotor(worst.frequency_hz, _together(worst), _together(same))


def _together(found: Distortion) -> float:
    return float(np.hypot(found.of_acceleration(2), found.of_acceleration(3)))
