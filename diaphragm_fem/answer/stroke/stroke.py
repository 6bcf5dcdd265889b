"""One design at large stroke, everything: path, modes, stability, strength, distortion, and cautions with numbers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.analysis.factors import count_below
from diaphragm_fem.analysis.modes.modes import Modes, solve_modes
from diaphragm_fem.answer.asked import check_asked
from diaphragm_fem.answer.machine.cores import one_thread
from diaphragm_fem.answer.stroke.distortion import Distortion, distortion
from diaphragm_fem.answer.stroke.limits import (
    LARGE_STRAIN,
    STIFF,
    STIFF_STRAIN,
    Change,
    Limit,
    changes_over,
    limits_over,
    plug_met,
)
from diaphragm_fem.answer.stroke.motor_limit import MotorLimit, motor_limit
from diaphragm_fem.answer.stroke.opinion import StrokeOpinion, ask_stroke_opinion
from diaphragm_fem.answer.stroke.path import MESH_HZ, StrokePath, stroke_path, stroke_shell
from diaphragm_fem.answer.stroke.stability import Rocking, Wrinkle, first_wrinkles, rocking
from diaphragm_fem.answer.stroke.strength import Strength, strength_over
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.driver import Driver
from diaphragm_fem.design.stroke_plan import StrokePlan, plan_stroke
from diaphragm_fem.load.surroundings import air_of, spring_of
from diaphragm_fem.model.large_stroke.about_state import structure_about

if TYPE_CHECKING:
    from diaphragm_fem.answer.stroke.far_steps import FarStep

SLOWEST = 1e-3  # of the modes' top frequency: what grows more slowly is a free motion with its rounding
OTHER_MOTOR = 0.05  # by which a force factor measured over stroke may miss the [motor]'s without a word (a choice)


@dataclass(frozen=True)
class ModesAt:
    """Modes by order at a state of the path; an order in which the state is not stable is left out."""

    index: int
    modes: Mapping[int, Modes]

    def count(self, m: int) -> int:
        return len(self.modes[m]) if m in self.modes else 0

    def frequency(self, m: int, k: int) -> float:
        """Frequency in Hz of mode k (from 0) of order m; nan where there is none."""
        return float(self.modes[m].frequency_hz[k]) if k < self.count(m) else float("nan")


@dataclass(frozen=True)
class StrokeAnswer:
    """Everything found about one design at large stroke; strokes in m from where the coil is drawn.

    snaps: where the stiffness falls through zero toward the rear and toward the front, None where it does not;
    wrinkles: where a motion around the part grows (see `Wrinkle`); limits: all that is met, nearest to rest first.
    distortion is empty where the plan has no drive; opinion is None where it was not asked for; motor where the plan
    has no force factor over stroke. tried: the steps that an examination tells, walked too.
    """

    design: Design
    plan: StrokePlan
    path: StrokePath
    modes: tuple[ModesAt, ...]
    changes: tuple[Change, ...]
    limits: tuple[Limit, ...]
    snaps: tuple[float | None, float | None]
    wrinkles: tuple[Wrinkle | None, Wrinkle | None]
    strength: Strength
    distortion: tuple[Distortion, ...]
    rocking: Rocking | None
    opinion: StrokeOpinion | None
    warnings: tuple[str, ...]
    motor: MotorLimit | None = None
    tried: tuple[FarStep, ...] = ()

    @property
    def rest_stiffness(self) -> float:
        return float(self.path.stiffness[self.path.rest])

    @property
    def rest_area(self) -> float:
        return float(self.path.total_area[self.path.rest])


@one_thread
def evaluate_stroke(
    design: Design,
    plan: StrokePlan | None = None,
    *,
    up_to_hz: float = MESH_HZ,
    second_opinion: bool = False,
    corrected: bool = True,
) -> StrokeAnswer:
    """Move a design's coil over the strokes of a plan (None: of an empty [stroke] table) and tell all that changes.

    The mesh is cut for `up_to_hz`; the second opinion walks a solid to both ends (seconds). With `corrected` False the
    shell is the bare theory.

    Raises AnalysisError for a part without a drive, without a hold, or without a state of rest under the plan's loads,
    MeshError for a plug before its face that cannot be.
    """
    check_asked(design, up_to_hz)
    plan = plan or plan_stroke(None, design)
    path = stroke_path(stroke_shell(design, up_to_hz, corrected=corrected), plan)
    looked_at = path.evenly(plan.mode_states)
    modes = tuple(ModesAt(k, modes_at(path, k, plan)) for k in looked_at) if plan.orders else ()
    snaps = path.crossings(path.stiffness, 0.0)
    wrinkles = first_wrinkles(path, looked_at)
    strength = strength_over(path, dict(plan.allowable))
    harmonics = distortion(path, plan.drive, plan.motor) if plan.drive else ()
    known = {at.index: at.modes for at in modes}
    order_1 = replace(plan, orders=tuple({1} & set(plan.orders)))
    around = rocking(path, looked_at, lambda k: (known[k] if k in known else modes_at(path, k, order_1)).get(1))
    plug = plug_met(path)
    model = path.shell.model
    warnings = [*_alone(path, plug), *_other_motor(path, plan), *(model.joints.remarks if model.corrected else ())]
    warnings += _warnings(path, snaps, wrinkles, strength)
    warnings += [f"no distortion at {found.frequency_hz:g} Hz: {found.reason}" for found in harmonics if found.reason]
    warnings += [
        f"at {found.frequency_hz:g} Hz the coil comes to {1e3 * found.foremost:.3g} mm and the face to its plug: "
        "harmonics are those of a part that touches nothing"
        for found in harmonics
        if plug is not None and found.foremost >= plug
    ]
    opinion = ask_stroke_opinion(path, plan) if second_opinion else None
    warnings += list(opinion.remarks) if opinion else []
    changes = changes_over(path, plan)
    limits = limits_over(path, changes, snaps, wrinkles, strength, around, plug)
    warned = tuple(warnings)
    return StrokeAnswer(
        design, plan, path, modes, changes, limits, snaps, wrinkles, strength, harmonics, around, opinion, warned,
        motor_limit(path, plan, limits, harmonics),
    )  # fmt: skip


def modes_at(path: StrokePath, index: int, plan: StrokePlan) -> dict[int, Modes]:
    """Modes of the plan's orders about one state, orders left out in which something grows instead of swinging, if only
    slowly, at the moduli of the slowest motion: a rubber step that gives way had a "first mode" of 161 kHz."""
    found, slowest_hz = {}, SLOWEST * plan.modes_up_to_hz
    for m in plan.orders:
        structure = structure_about(path.shell, path.states[index].unknowns, m)
        beyond_rounding = -((2 * np.pi * slowest_hz) ** 2)
        both = structure.stiffness, structure.stiffness_at(slowest_hz)
        if not any(count_below(stiffness, structure.mass, beyond_rounding) for stiffness in both):
            found[m] = solve_modes(structure, plan.modes_up_to_hz)
    return found


def _alone(path: StrokePath, plug: float | None) -> Iterator[str]:
    """What the file puts around the part, which moves without it, by how much a rear chamber would stiffen it, and the
    stroke in m at which it meets its plug."""
    driver = path.shell.model.design.driver or Driver()
    parts = {"motor": driver.motor, "rear chamber": driver.rear_chamber, "front": driver.front}
    there = [name for name, given in parts.items() if given is not None]
    if not there:
        return
    words = f"the part moves alone, without the {', '.join(there)} of its file"
    rear = driver.rear_chamber
    if rear is not None:
        added, stiffness = path.held_by(spring_of(rear, air_of(driver.climate))), path.stiffness[path.rest]
        words += (
            f"; the rear chamber of {rear.volume * 1e6:.3g} cm³ would add {added / 1e3:.3g} N/mm to the "
            f"{stiffness / 1e3:.3g} N/mm at rest"
        )
    if plug is not None:
        words += f"; it meets its plug at {1e3 * plug:.3g} mm"
    yield words


def _other_motor(path: StrokePath, plan: StrokePlan) -> Iterator[str]:
    """That a force factor over stroke is of another size than the motor's, which alone counts."""
    driver = path.shell.model.design.driver
    if plan.motor is None or driver is None or driver.motor is None:
        return
    told, own = float(plan.motor.curve(0.0)), driver.motor.force_factor
    if abs(told / own - 1) > OTHER_MOTOR:
        yield (
            f"stroke.motor has {told:.3g} N/A where the coil is drawn, the motor {own:.3g} N/A: its shape alone counts"
        )


def _warnings(
    path: StrokePath,
    snaps: tuple[float | None, float | None],
    wrinkles: tuple[Wrinkle | None, Wrinkle | None],
    strength: Strength,
) -> list[str]:
    """What the user must know, each with its number."""
    texts = [stop for stop in (path.rear_stop, path.front_stop) if stop]
    for stroke in snaps:
        if stroke is not None:
            texts.append(
                f"the stiffness falls through zero at {1e3 * stroke:.3g} mm: beyond it the part snaps by itself"
            )
    for wrinkle in wrinkles:
        if wrinkle is not None:
            texts.append(
                f"from {1e3 * wrinkle.stroke:.3g} mm on the part is not stable: a motion of order m = {wrinkle.order} "
                "grows there (rocking, for m = 1; wrinkles around, for more), and force and area beyond are those of a "
                "part kept round"
            )
    for demand in strength.worst_by_zone:
        if demand.value > LARGE_STRAIN:
            texts.append(
                f"{demand.place.zone}: the fibre strain is {100 * demand.value:.2g} % at {1e3 * demand.stroke:.3g} mm; "
                f"above {100 * LARGE_STRAIN:g} % the linear law of the material is no more than a trend"
            )
    given = {reached.material for reached in strength.reached}
    for k, material in enumerate(path.shell.model.design.materials):
        most = float(strength.of_material[0, :, k].max())
        if material.youngs_modulus >= STIFF and most > STIFF_STRAIN and material.name not in given:
            texts.append(
                f"{material.name}: the fibre strain reaches {100 * most:.2g} %; metal foils and laminates as stiff may "
                f"stay bent or crack from about {100 * STIFF_STRAIN:g} % on (common practice, no source): give what "
                f'yours bears under [stroke.allowable."{material.name}"]'
            )
    for reached in strength.reached:
        if reached.used > 1:
            rest, met = path.stroke[path.rest], [x for x in (reached.rear, reached.front) if x is not None]
            side = dict.fromkeys("rest" if x == rest else f"{1e3 * x:.3g} mm" for x in met)
            texts.append(
                f"{reached.material}: the {reached.quantity} that you allow is reached at {' and '.join(side)}, in the "
                f"{reached.worst.place.zone} at r = {1e3 * reached.worst.place.r:.4g} mm ({reached.worst.place.words})"
            )
    return texts
