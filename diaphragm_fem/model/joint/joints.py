"""Where a design has joints and held ends, and what kind each one is."""

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import chain, combinations, islice
from math import cos, inf, pi, sin, tan
from typing import NamedTuple

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.meridian.wall import risen
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.former_top import STEEPEST_TOP
from diaphragm_fem.mesh.meridian import SAME_DIRECTION, MeridianMesh
from diaphragm_fem.mesh.strip_ends import FADE_SHARE, FULL_FADE
from diaphragm_fem.model.joint.kind import STRAIGHT, Arm, Bend, Glue, Kind, Ply, arm_of, together
from diaphragm_fem.model.joint.lying_wall import lying_wall
from diaphragm_fem.model.joint.moduli import joint_modulus
from diaphragm_fem.model.shell.numbering import edges

End = tuple[int, int]  # a piece and its end: 0 where it begins, 1 where it ends
Meeting = tuple[tuple[End, ...], Kind]  # the ends that meet in a joint, and its kind

STRAIGHT_ON = cos(SAME_DIRECTION)  # of the angle between two walls, below which they run on
SAME_THICKNESS = 1e-9  # relative
LONGEST_BEND = 3.0  # thicknesses of a bend that the patch follows, beside its neighbours; beyond, the wall's law has it
MITRE = FULL_FADE / FADE_SHARE / 2  # of the thicker wall's thickness, that a bend is followed beside a mitre at a right
# angle: where the solid's had more room than the patch's, its former hung and this one was a union, 3 to 9 % off
LEAST_STRETCH = 1.0  # thicknesses of wall beside a joint whose elements change
PER_OVERLAP = 2.4  # of how far its neighbours lie over it that the stretch is longer: a stretch hardly gives way there,
# and one much shorter than twice that would have to give way less than not at all (`STIFFEST`): a dome whose steep film
# met a thick former at 34 degrees was 1.6 % off with 0.6 of the former's thickness
HELD_STRETCH = 0.5  # thicknesses of a soft wall that a thinner stiff one holds by its middle: it gives way, and what
# lies in a stretch moves as if it did not: modes of a dome's thick surround were 0.8 % off with more
PER_COVER = 2.0  # of how far the former's top lies under such a wall that its stretch is long at least: of 60 joints on
# formers of 60 to 300 um modes were 1.3 % off in the rms, at worst 6 %, now 0.25 and 2.5 %
HELD_THICKER, HELD_SOFTER = 1.3, 5.0  # ratios from which it counts as one
MOST_JOINTS = 1000  # 40 s and 1.1 GB where none is like another
SHARPEST = 4.0  # cotangent of half an angle between two walls beyond which stretches and bends grow no longer


class Joint(NamedTuple):
    """The ends of pieces that meet, in the order of the arms of their kind; a held end stands alone.

    place: (r, z) in m; stretches: of each end the elements whose stiffness changes, in order away from the joint;
    crowded: whether one of them is another joint's as well; lies: whether a surround lies along its former there.
    """

    ends: tuple[End, ...]
    place: tuple[float, float]
    kind: Kind
    stretches: tuple[range, ...]
    crowded: bool
    lies: bool


def joints_of(mesh: MeridianMesh, found: Sequence[Meeting] | None = None) -> list[Joint]:
    """Joints of walls, and ends held in every motion of the section; `found` what `kinds_of` finds, where it is known.

    Left alone: joints of more than three walls; edges that are hinged, elastic or held in part. A fillet at an edge is
    left out of its joint's patch: with its wall's other layers it takes what that yields. MeshError for too many.
    """
    found = kinds_of(mesh) if found is None else found
    taken, lying = taken_ends(found), lying_wall(mesh.design)
    every, shared = apart(
        _stretch(mesh, taken, end, lying.stretch(least) if lying and end == lying.end else least)
        for ends, kind in found
        for end, least in zip(ends, least_of(kind), strict=True)
    )
    stretches = iter(every)
    return [
        Joint(
            ends, mesh.tip(ends[0]).point, kind, own := tuple(islice(stretches, len(ends))),
            bool(shared) and not shared.isdisjoint(chain(*own)),
            lying is not None and lying.end in ends,
        )
        for ends, kind in found
    ]  # fmt: skip


def taken_ends(found: Sequence[Meeting]) -> set[End]:
    """The ends of pieces that some joints take."""
    return {end for ends, _ in found for end in ends}


def kinds_of(mesh: MeridianMesh) -> list[Meeting]:
    """The ends that meet in each joint, and its kind: the same however walls are cut. MeshError for too many."""
    pieces, next_of = mesh.pieces, {}
    groups: list[tuple[End, ...]] = [group for group in mesh.joints if 2 <= len(group) <= 3]
    groups += [
        (end,)
        for end, on_axis, edge in edges(mesh)
        if not on_axis and edge.radial == edge.axial == edge.rotation == inf
    ]
    for one, other in (ends for ends in groups if len(ends) == 2):
        if _runs_on(pieces, one, other):
            next_of[one], next_of[other] = other, one
    groups = [ends for ends in groups if ends[0] not in next_of]
    if len(groups) > MOST_JOINTS:
        raise MeshError(
            f"the meridian has {len(groups)} corners and held ends, and joints of at most {MOST_JOINTS} are solved: "
            "draw arcs or splines, or fewer chords; --bare-shell leaves joints out"
        )
    return [(ends, Kind(_arms(pieces, ends, next_of), _glue(mesh, ends))) for ends in groups]


def apart(stretches: Iterable[range]) -> tuple[list[range], set[int]]:
    """Stretches, those that meet from both sides shortened until they share no element, each to one at least; what they
    still share."""
    every = list(stretches)
    if sum(map(len, every)) == len(set().union(*every)):
        return every, set()
    for one, other in combinations(range(len(every)), 2):
        while set(every[one]) & set(every[other]) and max(len(every[one]), len(every[other])) > 1:
            longer = one if len(every[one]) >= len(every[other]) else other
            every[longer] = every[longer][:-1]
    return every, {x for x, owners in Counter(chain(*every)).items() if owners > 1}


def _runs_on(pieces: tuple[Piece, ...], one: End, other: End) -> bool:
    """Whether two ends are one wall that goes on smoothly."""
    (p, a), (k, b) = one, other
    turn = pieces[p].curve.ends[a].angle - pieces[k].curve.ends[b].angle
    if cos(turn) * (1 if a != b else -1) <= STRAIGHT_ON:
        return False
    own, others = pieces[p].wall.ends[a], pieces[k].wall.ends[b][::-1]
    return own == others or (
        [made_of for _, made_of in own] == [made_of for _, made_of in others]
        and all(abs(x / y - 1) <= SAME_THICKNESS for (x, _), (y, _) in zip(own, others, strict=True))
    )


def _arms(pieces: tuple[Piece, ...], ends: tuple[End, ...], next_of: Mapping[End, End]) -> tuple[Arm, ...]:
    """The walls at some ends as arms of a joint, as thick as there; next_of what runs on smoothly there."""
    stacks, arms = [pieces[p].wall.ends[end] for p, end in ends], []
    thickness = [sum([x for x, _ in own]) for own in stacks]
    angles = [pieces[p].curve.ends[end].angle + pi * end for p, end in ends]
    *_, second, most = sorted((0.0, *thickness))
    mitre = MITRE * max(thickness[:2]) * _sharp(*angles[:2]) if len(ends) > 1 else 0.0
    for k, (p, end) in enumerate(ends):
        h, stack = thickness[k], stacks[k]
        reach = max(LONGEST_BEND * h + (second if h == most else most), mitre)
        bends = together(_bend(pieces, (p, end), next_of, h, reach), _rise(pieces[p], end, reach))
        if len(stack) == 1:
            material = stack[0][1]
            arms.append(Arm(angles[k], h, joint_modulus(material), material.poisson_ratio, bends))
        else:
            wall = pieces[p].wall.without_fillet
            lift = wall.lift[end] * risen(wall.passed[end]) * (1 - 2 * end)
            plies = tuple([Ply(x, joint_modulus(m), m.poisson_ratio) for x, m in stack])
            arms.append(arm_of(angles[k], plies, bends, lift))
    return tuple(arms)


def _bend(pieces: tuple[Piece, ...], end: End, next_of: Mapping[End, End], h: float, reach: float) -> Bend:
    """The bend, at most `reach` long, with which the line of a wall of thickness h leaves a joint.

    Where it is shorter than h and goes on into others, as a fillet into a roll, these join its turn and its mean
    distance, the more the shorter it is: a fillet that shrinks to nothing is missed by nobody (S jumped by 2.7e-3).
    """
    turn, moment, begin, share = 0.0, 0.0, 0.0, 1.0
    own = STRAIGHT
    while begin < reach and share > 0:
        curve = pieces[end[0]].curve
        curvature = curve.ends[end[1]].curvature * (-1 if end[1] else 1)
        if not curvature:
            break
        length = min(curve.length, reach - begin)
        turn, moment = turn + share * curvature * length, moment + share * curvature * length * (begin + length / 2)
        if not begin:
            own, share = Bend(curvature, length), 1 - length / h
        begin += length
        if (end[0], 1 - end[1]) not in next_of:
            break
        end = next_of[end[0], 1 - end[1]]
    if begin == own.length or not turn:
        return own
    length = min(max(abs(2 * moment / turn), own.length), reach)
    return Bend(turn / length, length)


def _rise(piece: Piece, end: int, reach: float) -> Bend:
    """The bend, at most `reach` long, with which a stack leaves its line at either end of its way over it: its
    curvature, which falls to nothing half way, as one of three quarters over two thirds of that, with as much turn at
    the same mean distance. Straight walls there left modes of a metal dome on a lap of 0.4 mm up to 0.73 % off, not
    0.32."""
    wall, near, far = piece.wall, piece.wall.passed[end], piece.wall.passed[1 - end]
    if (near - far) * (near - 0.5) <= 0:
        return STRAIGHT
    whole = piece.curve.length / abs(near - far)
    curvature = wall.lift[end] * (6 - 12 * near) / whole**2 * (-1 if end else 1)
    return Bend(0.75 * curvature, min(whole * abs(2 * near - 1) / 3, reach))


def _glue(mesh: MeridianMesh, ends: tuple[End, ...]) -> tuple[Glue, ...]:
    """The glue of a joint: all of it is at the former's top."""
    if len(ends) < 3 or (len(mesh.design.meridian), 0) not in ends:
        return ()
    return tuple(
        Glue(bead.inside, bead.radius, joint_modulus(bead.material), bead.material.poisson_ratio)
        for bead in mesh.design.beads
    )


@lru_cache(maxsize=1024)  # asked for twice: by `cut_beside_joints`, and of shells made side by side much later
def least_of(kind: Kind) -> tuple[float, ...]:
    """How long stretches must be at least, in m: as a wall is thick and its neighbours or glue overlap it; less of one
    that is held by its middle, unless it lies along another, which holds it there: over a short stretch the joint could
    not stiffen it by as much (fundamentals of eight domes 0.4 to 21 % too low, now 0.06 to 6)."""
    found, by_middle = [], _held_by_its_middle(kind)
    for k, arm in enumerate(kind.arms):
        others = kind.arms[:k] + kind.arms[k + 1 :]
        over = [(arm.thickness + x.thickness) / 2 * _sharp(arm.direction, x.direction) for x in others]
        if kind.glue:
            over += [kind.leg(arm, glue) for glue in kind.glue]
        whole = LEAST_STRETCH * arm.thickness + PER_OVERLAP * max(over, default=0.0)
        if k == by_middle:
            held = max(HELD_STRETCH * arm.thickness, PER_COVER * _cover(kind, k))
            sharpest = max(_sharp(arm.direction, x.direction) for x in others)
            along = min(max(sharpest - 1.0, 0.0), 1.0)  # not up to a right angle, wholly from 53 degrees on
            whole = held + along * (whole - held)
        found.append(whole)
    return tuple(found)


def _sharp(one: float, other: float) -> float:
    """Nothing where two arms of these directions go straight on, 1 at a right angle, the more the sharper the angle."""
    return min(abs(tan((one - other + pi) / 2)), SHARPEST)


def _cover(kind: Kind, k: int) -> float:
    """How far in m along an arm of the meridian, from the joint to the former's side, the top of a former reaches that
    follows the rear face: nothing where that is too steep for a top."""
    if len(kind.arms) < 3:
        return 0.0
    arm, former = kind.arms[k], kind.arms[-1]
    away = arm.direction - former.direction
    if abs(sin(away)) < STEEPEST_TOP:
        return 0.0
    side = former.thickness / 2 + (former.lift if sin(away) > 0 else -former.lift)
    return max(side + arm.thickness / 2 * cos(away), 0.0) / abs(sin(away))


def _held_by_its_middle(kind: Kind) -> int | None:
    """Which arm of the meridian is a soft wall that a thinner stiff one holds by its middle."""
    if kind.held or kind.glue or any([arm.layers for arm in kind.arms[:2]]):
        return None
    one, other = kind.arms[:2]
    return 0 if holds_by_its_middle(other, one) else 1 if holds_by_its_middle(one, other) else None


def holds_by_its_middle(one: Arm, other: Arm) -> bool:
    """Whether one wall is so thin and stiff beside another that it holds that by its middle."""
    softer = one.youngs_modulus > HELD_SOFTER * other.youngs_modulus
    return softer and other.thickness > HELD_THICKER * one.thickness


def _stretch(mesh: MeridianMesh, taken: set[End], end: End, least: float) -> range:
    """Elements beside an end, at least as long as asked where there are as many."""
    (piece, last), many = end, 0
    left = least * (1 - 1e-6)  # where a node stands for its end
    for place in beside(mesh, taken, end):
        cuts = mesh.stations[place].tolist()
        many += min(within(cuts, last, left), len(cuts) - 1)
        left -= cuts[-1]
        if left <= 0:
            break
    own, way = mesh.elements[piece], 1 - 2 * last
    first = own.stop - 1 if last else own.start
    return range(first, first + way * many, way)


def within(cuts: list[float], end: int, length: float) -> int:
    """How many elements from an end of a piece on are as long as asked together, more than it has where all are
    shorter; cuts in m from its begin."""
    return len(cuts) - bisect_right(cuts, cuts[-1] - length) if end else bisect_left(cuts, length)


def beside(mesh: MeridianMesh, taken: Container[End], end: End) -> Iterator[int]:
    """Pieces away from an end, of one wall and of no joint beyond."""
    place, begin = end
    yield place  # most stretches end there
    count, way = len(mesh.design.meridian), 1 - 2 * begin
    line = range(count, len(mesh.pieces)) if place >= count else range(count)
    while (place, 1 - begin) not in taken and place + way in line:
        own, others = (mesh.pieces[k].wall.layers for k in (place, place + way))
        if [layer.material for layer in own] != [layer.material for layer in others]:
            return
        place += way
        yield place
