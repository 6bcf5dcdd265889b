"""A design at large stroke in words and tables: the same blocks on the screen and on the page."""

import numpy as np

from diaphragm_fem.answer.stroke.far_steps import FarStep, harmonics, met_at
from diaphragm_fem.answer.stroke.motor_limit import MotorLimit
from diaphragm_fem.answer.stroke.opinion import StrokeOpinion
from diaphragm_fem.answer.stroke.strength import Demand
from diaphragm_fem.answer.stroke.stroke import ModesAt, StrokeAnswer
from diaphragm_fem.design.driver.driver import Driver
from diaphragm_fem.report.blocks.blocks import Block, Heading, Points, Table, Words, noticed
from diaphragm_fem.report.words.figures import step_words
from diaphragm_fem.report.words.trust import cautions_of
from diaphragm_fem.report.words.words import (
    NONE,
    digits,
    join_words,
    show_area,
    show_hz,
    show_share,
    signed_digits,
    signed_share,
)

NO_ALLOWABLE = (
    "Nothing is said here about how long it lasts: no numbers for the endurance of thin formed films were found "
    "published. Give your own under [stroke.allowable]."
)
MODES_SHOWN = 3  # of each order
TOLD_FROM = 0.1  # of what is met or of a harmonic: a step that moves it by less is not told (a choice)
LEAST_HARMONIC = 1e-3  # of the first: below it no change is told


def stroke_blocks(answer: StrokeAnswer) -> list[Block]:
    """Everything about one design at large stroke."""
    blocks: list[Block] = [Points(points(answer))]
    if answer.path.shell.at_hz is not None:
        slow = show_hz(answer.path.shell.at_hz)
        blocks.append(Words(f"Moduli that depend on frequency are those at the fundamental, {slow}, at every stroke."))
    blocks += _notices(answer)
    blocks += [Heading("Over the stroke"), _path_table(answer), *_limit_blocks(answer)]
    if answer.modes:
        blocks += [Heading("Modes over the stroke"), _mode_table(answer)]
    blocks += [Heading("Largest strains"), _strain_table(answer)]
    blocks += [_reached_table(answer)] if answer.strength.reached else [Words(NO_ALLOWABLE)]
    if answer.opinion is not None and answer.opinion.rows:
        blocks += [Heading("Second opinion: the force by the solid model"), _opinion_table(answer.opinion)]
    return [*blocks, *_distortion_blocks(answer), *_tried(answer), Words(left_out(answer))]


def brief_stroke_blocks(answer: StrokeAnswer) -> list[Block]:
    """What a designer reads first: how far it may move, by what it is ended, what must not be overlooked."""
    told = [Points(points(answer)), *_notices(answer), *_limit_blocks(answer), *_distortion_blocks(answer)]
    return [*told, *_tried(answer)]


def _tried(answer: StrokeAnswer) -> list[Block]:
    """What the steps that an examination told move of what is met, and of harmonics, by a tenth and more. Four told
    steps of a dome took the amplitude that feeds its rocking from 0.59 to 0.098 mm, untold."""
    told = {step_words(one.step): [one.refused] if one.refused else _moved(answer, one) for one in answer.tried}
    lines = [f"{step}: {', '.join(moved)}" for step, moved in told.items() if moved]
    still = [step for step, moved in told.items() if not moved]
    lines += [f"{join_words(still)}: nothing by a tenth"] if still else []
    how = "Steps of the verdict, tried at large stroke (distances from rest, in brackets without the step)"
    return [Words(f"{how}. {'. '.join(lines)}.")] if lines else []


def _moved(answer: StrokeAnswer, now: FarStep) -> list[str]:
    """What a step moves, each with what it is without it."""
    told, met, made = [], met_at(answer), harmonics(answer)
    for what in {**met, **now.met_at}:
        was, way = met.get(what), now.met_at.get(what)
        if _differ(was, way):
            told.append(f"{what} {_met(way)} ({_met(was)})")
    for name in {**made, **now.harmonics}:
        was, share = made.get(name), now.harmonics.get(name)
        if _differ(was, share) and max(was or 0.0, share or 0.0) >= LEAST_HARMONIC:
            told.append(f"{name} {_made(share)} ({_made(was)})")
    return told


def _differ(was: float | None, now: float | None) -> bool:
    if was is None or now is None:
        return was is not now
    return was != now and abs(now - was) >= TOLD_FROM * was


def _met(way: float | None) -> str:
    return "not met" if way is None else f"at {digits(1e3 * way)} mm"


def _made(share: float | None) -> str:
    return "not found" if share is None else show_share(share)


def _notices(answer: StrokeAnswer) -> list[Block]:
    return noticed("Warning", answer.warnings) + noticed("Caution", cautions_of(answer.design.materials))


def _limit_blocks(answer: StrokeAnswer) -> list[Block]:
    limits = [(limit.what, show_stroke(limit.rear), show_stroke(limit.front)) for limit in answer.limits]
    table = Table(("from here on", "toward the rear at", "toward the listener at"), limits)
    return [Heading("How far it may move: what is met on the way, nearest first"), table] if limits else []


def _distortion_blocks(answer: StrokeAnswer) -> list[Block]:
    if not answer.distortion:
        return []
    return [Heading(f"Distortion at {drive_level(answer)} (amplitude)"), _distortion_table(answer)]


def left_out(answer: StrokeAnswer) -> str:
    """What large stroke does not know."""
    bare = "" if answer.path.shell.model.corrected else ", by the bare shell"
    driver = answer.design.driver or Driver()
    source = "current" if driver.motor is None else "voltage"
    held = "" if driver.motor is None else " (a force is that on the coil held still, which brakes as it moves)"
    pulls = "" if answer.plan.motor else ", the force factor the same at every stroke"
    still = "chambers and air around" if driver.motor is None else "inductance, chambers and air around"
    around = "" if driver == Driver() else f", with {still} as at rest but for a closed chamber's spring"
    return (
        f"Slow and elastic{bare}, in vacuum: no hysteresis, no creep, no heating, no touching of "
        f"parts{pulls}. Distortion is that of a {source} of one frequency{held}, its springs those "
        f"of slow motion{around}. A stress is that of a linear law. This guides a prototype; measure stroke, "
        "distortion and life on it."
    )


def show_stroke(value: float | None) -> str:
    """ "−0.330 mm", "+0.500 mm", "0 mm"; "none" where there is no such stroke."""
    return NONE if value is None else f"{signed_digits(1e3 * value)} mm"


def show_stiffness(value: float) -> str:
    return f"{digits(value / 1e3)} N/mm"


def verdict(answer: StrokeAnswer) -> str:
    """The points of the verdict in one paragraph."""
    return " ".join(points(answer))


def points(answer: StrokeAnswer) -> list[str]:
    """How far it may move; stiffness, then area at rest and where they go; stability and rocking: a point each."""
    path, slope = answer.path, area_slope(answer)
    low, high = int(np.argmin(path.stiffness)), int(np.argmax(path.stiffness))
    least, most = int(np.argmin(path.total_area)), int(np.argmax(path.total_area))
    stiffness = (
        f"From {show_stroke(path.stroke[0])} to {show_stroke(path.stroke[-1])} the stiffness at the coil runs between "
        f"{show_stiffness(path.stiffness[low])} at {show_stroke(path.stroke[low])} and "
        f"{show_stiffness(path.stiffness[high])} at {show_stroke(path.stroke[high])}; at rest "
        f"({show_stroke(path.stroke[path.rest])}) it is {show_stiffness(answer.rest_stiffness)}."
    )
    area = (
        f"The area is {show_area(answer.rest_area)} at rest, where it {'rises' if slope > 0 else 'falls'} by "
        f"{digits(abs(slope), 2)} % per mm of stroke toward the listener; over the stroke it runs between "
        f"{show_area(path.total_area[least])} at {show_stroke(path.stroke[least])} and "
        f"{show_area(path.total_area[most])} at {show_stroke(path.stroke[most])}."
    )
    stable = [] if is_unstable(answer) else ["No snap and no wrinkles were found on the way."]
    if answer.rocking is not None:
        stable.append(
            f"Driven near {show_hz(2 * answer.rocking.frequency_hz)} the stroke itself feeds rocking at "
            f"{show_hz(answer.rocking.frequency_hz)} from an amplitude of "
            f"{digits(1e3 * answer.rocking.threshold, 2)} mm on (an estimate)."
        )
    told = (" ".join([bounds(answer), *of_motor(answer.motor)]), stiffness, area, " ".join(stable))
    return [point for point in told if point]


def of_motor(found: MotorLimit | None) -> list[str]:
    """That the force factor over stroke limits the stroke before the part does, what would mend it as far as its curve
    tells, and that it makes most of the distortion; nothing where it does neither."""
    told = []
    if found is not None and found.reach is not None:
        before = "" if found.after is None else f", before {found.after.what}"
        told = [f"The force factor limits it first: changed by {100 * found.share:g} % {_away(found.reach)}{before}."]
        told += _mends(found)
    if found is not None and (made := found.made) is not None and made.is_most:
        told.append(
            f"The force factor makes most of the distortion at {show_hz(made.frequency_hz)}: second and third harmonic "
            f"of the volume acceleration together are {show_share(made.all)}, {show_share(made.without)} were it the "
            "same at every stroke."
        )
    return told


def _mends(found: MotorLimit) -> list[str]:
    """Where the coil should rest in its gap, and how much higher its winding should be."""
    told = []
    if found.aside:
        side = "toward the listener" if found.aside > 0 else "toward the rear"
        shifted = f"{digits(1e3 * abs(found.aside), 2)} mm further {side} in its gap"
        told.append(f"resting {shifted}, the coil meets that only {_away(found.best_reach)}")
    if found.higher and found.after is not None:
        more = f"a winding about {digits(1e3 * found.higher, 2)} mm higher"
        told.append(f"{more} would let it go on to where it meets {found.after.what} (an estimate)")
    return [f"{told[0][0].upper()}{'; '.join(told)[1:]}."] if told else []


def _away(reach: float) -> str:
    return f"{digits(1e3 * reach)} mm from rest"


def bounds(answer: StrokeAnswer) -> str:
    """What first ends the stroke, toward both sides, in a sentence."""
    ends = [limit for limit in answer.limits if limit.ends]
    rest = answer.path.stroke[answer.path.rest]
    first: dict[str, list[str]] = {}
    for side in ("rear", "front"):
        there = [(abs(at - rest), at, limit.what) for limit in ends if (at := getattr(limit, side)) is not None]
        if there:
            _, at, what = min(there)
            first.setdefault(what, []).append("rest" if at == rest else show_stroke(at))
    if not first:
        return "Nothing that would end its stroke was met."
    told = " and by ".join(f"{what} at {' and '.join(dict.fromkeys(at))}" for what, at in first.items())
    return f"Its stroke is bounded first by {told}."


def area_slope(answer: StrokeAnswer) -> float:
    """Change of the area per mm of stroke at rest, in per cent."""
    return answer.path.area_slope / answer.rest_area / 1e3 * 100


def is_unstable(answer: StrokeAnswer) -> bool:
    """Whether it snaps or wrinkles on the way."""
    return any(x is not None for x in (*answer.snaps, *answer.wrinkles))


def _path_table(answer: StrokeAnswer) -> Table:
    """Some ten states evenly over the stroke: those that were added where it snaps lie close together."""
    path = answer.path
    rows = [
        (
            show_stroke(path.stroke[k]),
            f"{digits(path.force[k])} N" if abs(path.force[k]) > 1e-9 else "0 N",
            show_stiffness(path.stiffness[k]),
            f"{signed_digits(100 * (path.stiffness[k] / answer.rest_stiffness - 1), 2)} %",
            show_area(path.total_area[k]),
            f"{signed_digits(100 * (path.total_area[k] / answer.rest_area - 1), 2)} %",
            f"{digits(1e6 * path.compliance_volume[k])} cm³",
        )
        for k in path.evenly(9)
    ]
    return Table(("stroke", "force", "stiffness", "change", "area", "change", "equivalent air volume"), rows, 0)


def _mode_table(answer: StrokeAnswer) -> Table:
    head = ["m", "mode", *(show_stroke(answer.path.stroke[at.index]) for at in answer.modes)]
    rows = []
    for m in answer.plan.orders:
        for k in range(MODES_SHOWN):
            if any(k < at.count(m) for at in answer.modes):
                cells = [_mode_text(at, m, k) for at in answer.modes]
                rows.append([str(m), str(k + 1), *cells])
    return Table(head, rows, 2)


def _mode_text(at: ModesAt, m: int, k: int) -> str:
    return show_hz(at.frequency(m, k)) if k < at.count(m) else "" if m in at.modes else "not stable"


def _strain_table(answer: StrokeAnswer) -> Table:
    strength, zones = answer.strength, answer.design.zones
    rows = []
    for z, (demand, load) in enumerate(zip(strength.worst_by_zone, strength.most_stressed, strict=True)):
        strain = show_share(float(strength.membrane[:, z].max())), show_share(demand.value)
        stress = f"{digits(load.value / 1e6)} MPa"
        if load.place.material != demand.place.material:  # in a stiffer layer: silk has no 34 MPa at 0.25 %
            stress = f"{stress}, {load.place.material}"
        rows.append((zones[z].name, *strain, stress, show_stroke(demand.stroke), _where(demand)))
    head = ("zone", "in the membrane", "in the fibre", "stress", "fibre at the stroke", "fibre most strained where")
    return Table(head, rows, words=(5,))


def _where(demand: Demand) -> str:
    place = demand.place
    return f"r = {digits(1e3 * place.r, 4)} mm, {place.words}, {place.material}"


def _reached_table(answer: StrokeAnswer) -> Table:
    rows = []
    for reached in answer.strength.reached:
        strain = reached.quantity == "strain"
        shown = show_share if strain else lambda value: f"{digits(value / 1e6)} MPa"
        used, where = f"{100 * reached.used:.0f} %", f"{reached.worst.place.zone}, {_where(reached.worst)}"
        allowed = f"{reached.quantity} {shown(reached.allowable)}"
        rows.append((reached.material, allowed, used, where, show_stroke(reached.rear), show_stroke(reached.front)))
    head = ("material", "you allow", "used at most", "where", "reached toward the rear", "toward the listener")
    return Table(head, rows)


def _opinion_table(opinion: StrokeOpinion) -> Table:
    rows = [
        (show_stroke(x.stroke), f"{digits(x.shell, 4)} N", f"{digits(x.solid, 4)} N", signed_share(x.difference))
        for x in opinion.rows
    ]
    return Table(("stroke", "shell", "solid", "shell less solid"), rows, 0)


def drive_level(answer: StrokeAnswer) -> str:
    """ "0.1 mm of motion", "0.5 N of force": the amplitude that harmonics stand for."""
    drive = answer.plan.drive
    assert drive is not None  # there is distortion
    if drive.motion is not None:
        return f"{digits(1e3 * drive.motion)} mm of motion"
    return f"{digits(drive.force or 0.0)} N of force"


def _distortion_table(answer: StrokeAnswer) -> Table:
    head = (
        "drive", "motion", "force", "shift of the mean",
        "2nd of motion", "3rd of motion", "2nd of volume acceleration", "3rd of volume acceleration",
    )  # fmt: skip
    rows = []
    for found in answer.distortion:
        if found.reason:
            rows.append((show_hz(found.frequency_hz), *[""] * (len(head) - 1)))
            continue
        shares = [show_share(of(n)) for of in (found.of_motion, found.of_acceleration) for n in (2, 3)]
        motion, force = f"{digits(1e3 * abs(found.motion[0]))} mm", f"{digits(found.force)} N"
        rows.append((show_hz(found.frequency_hz), motion, force, f"{digits(1e6 * found.mean, 2)} µm", *shares))
    return Table(head, rows, 0)
