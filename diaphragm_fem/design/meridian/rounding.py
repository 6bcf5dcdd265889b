"""Rounding an outline: a fillet in every corner that asks for one, cut where zones meet."""

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass
from math import degrees, hypot, radians

from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.fillet import Fillet, crossings, fillet, largest_radius, tip_fillet, turn
from diaphragm_fem.design.meridian.outline import Outline, Point, Stretch, begin, end, position
from diaphragm_fem.design.meridian.smooth_run import NO_TURN, before_corner, beyond_corner, what_is_left
from diaphragm_fem.design.units.units import show, show_below, show_place
from diaphragm_fem.errors import DesignError

DEFAULT_RADIUS = 4.0  # wall thicknesses; formed parts have corner radii of several (common practice, no source)
SMALLEST_RADIUS = 0.5  # wall thicknesses: below, the inside of the bend would turn over
SHORTEST_ARC = 0.1  # wall thicknesses: a shorter fillet is no longer than the wall's own roughness of form: left out
FULLEST = 0.98  # part of a stretch that its two fillets may take: what is left must stay long enough to be an element
SHORTEST_LEFT = 1e-9  # m, of what fillets leave of a stretch: an element so short costs digits. Modes of a V moved by
# 1e-6 of themselves with 1.5e-11 m left, by 1e-4 with 1e-13 m, and by 3e-7 as 1e-9 m was left out
NEAR = 0.02  # wall thicknesses: a drive circle so near to a drawn point or the end of a fillet is at it. A former
# joined 60 nm beside a border of walls, as digits are rounded, had modes 7 % off, and no solid could be cut there
SHARPEST_TURN = radians(165)  # beyond, the two walls of a sharp kink overlap over many thicknesses


@dataclass(frozen=True)
class Run:
    """A smooth run of the rounded meridian: its curve, the stretch it belongs to, and the fractions of that stretch
    (by arc length) between which it lies or, for half a fillet, which it stands for."""

    curve: Curve
    stretch: int
    fractions: tuple[float, float]


@dataclass(frozen=True)
class Rounded:
    """Runs from the inner to the outer edge, the joint (index of the run that begins there), notes for the reader."""

    runs: tuple[Run, ...]
    joint: int | None
    notes: tuple[str, ...]


def round_corners(outline: Outline, thickness: Sequence[float], drive: Point | None) -> Rounded:
    """The outline with its corners rounded and cut at the drive circle.

    thickness (S,) is the wall of each stretch in metres. A radius that was asked for and does not fit is refused with
    the one that would; a default radius is made smaller and noted.
    """
    chosen, notes = _fillets(outline, thickness)
    stretches = outline.stretches
    lengths = [stretch.curve.length for stretch in stretches]
    left = what_is_left(stretches, chosen)
    runs: list[Run] = []
    joint = None
    for i, stretch in enumerate(stretches):
        before, after = chosen[i], chosen[i + 1]
        if before is not None and i == 0:
            runs.append(Run(before.arc, 0, (0.0, left[0][0] / lengths[0])))
        if drive is not None and i > 0 and outline.drive_corner == i - 1 and before is None:
            joint = len(runs)
        first, last = left[i]
        if last - first > SHORTEST_LEFT:
            curve = stretch.curve if last - first == lengths[i] else stretch.curve.part(first, last)
            runs.append(Run(curve, i, (first / lengths[i], last / lengths[i])))
        if after is not None and i + 1 < len(stretches):
            at_drive = drive is not None and outline.drive_corner == i
            cut = _cut_of_fillet(after.arc, drive if at_drive else None, NEAR * thickness[i])
            if cut > 0:
                runs.append(Run(after.arc.part(0.0, cut), i, (last / lengths[i], 1.0)))
            if at_drive:
                joint = len(runs)
            if cut < after.arc.length:
                runs.append(Run(after.arc.part(cut, after.arc.length), i + 1, (0.0, left[i + 1][0] / lengths[i + 1])))
    if drive is not None and joint is None:
        runs, joint = _cut_at(runs, thickness, drive, from_file=stretches[0].key.startswith("profile.file"))
    if drive is not None and joint is not None:
        place = begin(runs[joint].curve) if joint < len(runs) else end(runs[-1].curve)
        if (off := abs(place[0] - drive[0])) > SHORTEST_LEFT:
            notes.append(f"the drive circle is at the end of a stretch {show(off)} beside it, at {show_place(place)}")
    return Rounded(tuple(runs), joint, tuple(notes))


def _cut_of_fillet(arc: Arc, drive: Point | None, near: float) -> float:
    """Arc length at which a fillet is cut between its zones: its middle; at the drive circle where it crosses that, or
    its end where it touches it, for a wall that stands upright there has its fillet on one side alone."""
    middle = arc.length / 2
    if drive is None:
        return middle
    near = max(1e-6 * arc.length, near)
    cut = min(crossings(arc, drive[0]), key=lambda s: abs(s - middle), default=middle)
    return 0.0 if cut <= near else arc.length if cut >= arc.length - near else cut


def _cut_at(runs: list[Run], thickness: Sequence[float], drive: Point, *, from_file: bool) -> tuple[list[Run], int]:
    """Cut the run that crosses the drive circle nearest to `drive`; the index of the run that begins there."""
    best: tuple[float, int, float] | None = None
    for i, run in enumerate(runs):
        for s in crossings(run.curve, drive[0]):
            r, z = position(run.curve, s)
            distance = hypot(r - drive[0], z - drive[1])
            if best is None or distance < best[0] - 1e-12:
                best = (distance, i, s)
    if best is None:
        radii = [r for run in runs for r in (begin(run.curve)[0], end(run.curve)[0])]
        low, high = min(radii), max(radii)
        look = ". Is the file's unit right, and r its distance from the axis (in a drawing x)?" if from_file else ""
        raise DesignError(
            f"coil.diameter: the drive circle must lie on the meridian, between {show(2 * low)} and {show(2 * high)}; "
            f"received {show(2 * drive[0])}{look}"
        )
    _, i, s = best
    run, length = runs[i], runs[i].curve.length
    near = max(1e-7 * length, NEAR * thickness[run.stretch])
    if min(s, length - s) <= near:
        return runs, i + int(s > length / 2)
    a, b = run.fractions
    middle = a + (b - a) * s / length
    halves = [
        Run(run.curve.part(0.0, s), run.stretch, (a, middle)),
        Run(run.curve.part(s, length), run.stretch, (middle, b)),
    ]
    return [*runs[:i], *halves, *runs[i + 1 :]], i + 1


def _fillets(outline: Outline, thickness: Sequence[float]) -> tuple[list[Fillet | None], list[str]]:
    """Fillet of each corner, the tip's first and a None for the outer end last."""
    stretches = outline.stretches
    count = len(stretches)
    walls = [max(thickness[max(i - 1, 0)], thickness[min(i, count - 1)]) for i in range(count + 1)]
    chosen: list[Fillet | None] = [None] * (count + 1)
    asked: dict[int, float] = {}
    keys: dict[int, str] = {}
    by_default: list[int] = []
    for i, corner in enumerate([outline.tip, *outline.corners]):
        angle = abs(_turn_at(outline, i))
        if corner is None or angle <= NO_TURN:
            continue
        if corner.radius is None:
            by_default += [i] if DEFAULT_RADIUS * angle > SHORTEST_ARC else []
        elif corner.radius > 0:
            _refuse_tight(corner.radius, walls[i], corner.key)
            if corner.radius * angle < SHORTEST_ARC * walls[i]:
                continue
            asked[i], keys[i] = corner.radius, corner.key
            chosen[i] = _try(stretches, i, corner.radius)
    for i, radius in asked.items():
        if not _fits(chosen, i, chosen[i], stretches, asked):
            raise _too_large(chosen, i, radius, keys, stretches, asked)
    for i in by_default:
        chosen[i] = _largest_touching(stretches, i, DEFAULT_RADIUS * walls[i])
    notes = [_settle_default(chosen, i, walls[i], stretches, asked) for i in by_default]
    for i in range(1, count):
        if chosen[i] is None and abs(_turn_at(outline, i)) > SHARPEST_TURN:
            raise DesignError(
                f"{stretches[i].key}: {_place(stretches, i)} folds the wall back onto itself, a turn of "
                f"{degrees(abs(_turn_at(outline, i))):.0f} deg that no radius can round; make one side less "
                "steep, such as by a lower roll"
            )
    return chosen, [note for note in notes if note]


def _refuse_tight(radius: float, wall: float, key: str) -> None:
    if radius < SMALLEST_RADIUS * wall:
        raise DesignError(
            f"{key}: a corner radius must be 0 mm (a sharp kink) or at least half the wall thickness, here "
            f"{show(SMALLEST_RADIUS * wall, radius)}; received {show(radius)}"
        )


def _too_large(
    chosen: Sequence[Fillet | None],
    i: int,
    radius: float,
    keys: Mapping[int, str],
    stretches: Sequence[Stretch],
    asked: Container[int],
) -> DesignError:
    """The refusal of a radius that was asked for, with the one that would fit in all corners of the same key."""
    alike = [j for j, key in keys.items() if key == keys[i]]

    def fits(common: float) -> bool:
        trial = list(chosen)
        for j in alike:
            trial[j] = _try(stretches, j, common)
        return all(_fits(trial, j, trial[j], stretches, asked) for j in alike)

    largest = largest_radius(fits, radius)
    text = f"{keys[i]}: {_place(stretches, i)} has no room for a radius of {show(radius)}"
    if largest < 1e-3 * radius:
        return DesignError(
            f"{text}, nor for a smaller one: make the radii of the corners beside it smaller, or this one 0 mm"
        )
    where = "fits beside its neighbours" if len(alike) == 1 else f"fits in all {len(alike)} corners this key speaks of"
    return DesignError(f"{text}; at most {show_below(largest, radius)} {where}")


def _settle_default(
    chosen: list[Fillet | None], i: int, wall: float, stretches: Sequence[Stretch], asked: Container[int]
) -> str:
    """Make a default fillet as small as its neighbours need; a note where that changed it or where it moves much."""
    full = DEFAULT_RADIUS * wall
    now = chosen[i]
    if now is not None and now.arc.radius == full and _fits(chosen, i, now, stretches, asked):
        return _far_off(now, stretches, i)
    top = now.arc.radius if now is not None else full
    radius = largest_radius(lambda x: _fits(chosen, i, _try(stretches, i, x), stretches, asked), top)
    if radius < SMALLEST_RADIUS * wall:
        chosen[i] = None
        return f"{_place(stretches, i)} stays sharp: no radius of half the wall or more fits beside its neighbours"
    chosen[i] = _try(stretches, i, radius)
    return (
        f"{_place(stretches, i)} has a radius of {show_below(radius)}, the largest that fits, instead of {show(full)}"
    )


def _far_off(rounded: Fillet, stretches: Sequence[Stretch], i: int) -> str:
    """A note where a default fillet leaves the point of its corner by more than its radius, a turn of 120 degrees.
    It may decide: of a textile dome with a semicircle beside it the even band ended 1.8 kHz elsewhere."""
    (r, z), (r_point, z_point) = rounded.arc.centre, begin(stretches[i].curve)
    off = hypot(r - r_point, z - z_point) - rounded.arc.radius
    if i == 0 or off <= rounded.arc.radius:
        return ""
    return (
        f"{_place(stretches, i)} has no radius given: {show(rounded.arc.radius)}, four wall thicknesses, takes its "
        f"point off by {off * 1e3:.2g} mm, which may decide: give corner_radius"
    )


def _place(stretches: Sequence[Stretch], i: int) -> str:
    if i == 0:
        return f"the tip of '{stretches[0].zone.name}' on the axis"
    first, second = stretches[i - 1].zone.name, stretches[i].zone.name
    return f"the corner between '{first}' and '{second}'" if first != second else f"a corner within '{first}'"


def _turn_at(outline: Outline, i: int) -> float:
    stretches = outline.stretches
    if i == len(stretches):
        return 0.0
    if i == 0:
        first = stretches[0].curve
        return (
            2 * turn(Line((0.0, 0.0), (1.0, 0.0)), first)
            if outline.tip is not None and isinstance(first, Line)
            else 0.0
        )
    return turn(stretches[i - 1].curve, stretches[i].curve)


def _try(stretches: Sequence[Stretch], i: int, radius: float) -> Fillet | None:
    if i == 0:
        first = stretches[0].curve
        return tip_fillet(first, radius) if isinstance(first, Line) else None
    sides = before_corner(stretches, i), beyond_corner(stretches, i)
    before, beyond = ([stretches[k].curve for k in run] for run in sides)
    return fillet(before, beyond, radius) if before and beyond else None


def _largest_touching(stretches: Sequence[Stretch], i: int, radius: float) -> Fillet | None:
    """The fillet of that radius, or the largest below it that touches both neighbours at all."""
    full = _try(stretches, i, radius)
    if full is not None:
        return full
    return _try(stretches, i, largest_radius(lambda x: _try(stretches, i, x) is not None, radius))


def _fits(
    chosen: Sequence[Fillet | None],
    i: int,
    candidate: Fillet | None,
    stretches: Sequence[Stretch],
    asked: Container[int],
) -> bool:
    """Whether a fillet leaves room for those at the far ends of its two neighbours.

    Two default fillets may each take half of the stretch between them, or what the other leaves; one that was asked for
    takes what it needs.
    """
    if candidate is None:
        return False
    before, beyond = before_corner(stretches, i), beyond_corner(stretches, i)
    for way, run, mine in ((-1, before, candidate.cut_first), (1, beyond, candidate.cut_second)):
        if not run:
            continue
        j, length = i + way * len(run), sum(stretches[k].curve.length for k in run)
        other = chosen[j]
        theirs = 0.0 if other is None else other.cut_second if j < i else other.cut_first
        gives_way = i not in asked and j not in asked and mine <= length / 2 and theirs > length / 2
        if mine + theirs > FULLEST * length and not gives_way:
            return False
    return True
