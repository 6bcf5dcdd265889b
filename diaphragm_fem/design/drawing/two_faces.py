"""From the two faces of a wall to its mid-line: curves opposite one another are paired, their middles cut where either
face goes over to its next curve, and joined."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.drawing.chain import JOIN, Chain, gap_between, moved
from diaphragm_fem.design.drawing.dxf import Drawing, Drawn, far
from diaphragm_fem.design.drawing.end_face import squared
from diaphragm_fem.design.drawing.face_joint import edge_of, joint_of, met, slope_between
from diaphragm_fem.design.drawing.face_pair import Match, Middle, fan, pair_of
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.fillet import turn
from diaphragm_fem.design.meridian.foot import distances
from diaphragm_fem.design.meridian.outline import Point, begin, end, position
from diaphragm_fem.errors import DesignError

TURNED_ROUND = np.radians(120)  # by which the wall turns over an end face, at least
ALONG = 0.7  # cosine: a curve that stands steeper to the other face is a shoulder and no partner
STEEP = np.radians(40)  # by which a shoulder turns off the face beside it
LINEAR = 2e-4  # of the thickness, by which a piece's own may differ from a linear one
MOST_PARTS = 32  # that a middle of uneven thickness is cut into
LONGER = 3.0  # times the longer of the shortest end faces, up to which others are tried as well
MOST_ENDS = 6
FARTHEST = 3.0  # times the nearest point of the other face that a partner may be away
SAMPLES = np.linspace(0.05, 0.95, 13)


def middle_of(chains: Sequence[Chain], drawing: Drawing, place: str) -> list[Middle]:
    """The mid-line from the inner edge or the axis outward. Raises DesignError where there are not two faces."""
    refused: DesignError | None = None
    for one, other in _faces(chains, drawing, place):
        try:
            return _middle(one, other, drawing, place)
        except DesignError as error:
            refused = refused or error
    assert refused is not None
    raise refused


def _faces(chains: Sequence[Chain], drawing: Drawing, place: str) -> list[tuple[list[Drawn], list[Drawn]]]:
    """The two faces, each from the inner edge outward, in as many ways as the end faces may be chosen."""
    if len(chains) == 2 and not any(chain.closed for chain in chains):
        return [(_outward(list(chains[0].parts)), _outward(list(chains[1].parts)))]
    if len(chains) != 1:
        raise DesignError(
            f"{place}: the two faces must be two chains, or one closed outline, but the curves make {len(chains)}; "
            f"{gap_between(list(chains), drawing)}: close the gap, or name the part's own layers in profile.layers"
        )
    chain = chains[0]
    if not chain.closed and max(r for r, _ in chain.ends) > JOIN:
        raise DesignError(
            f"{place}: the outline of the two faces must be closed, but it ends at {drawing.place(chain.ends[0])} and "
            f'at {drawing.place(chain.ends[1])}; close it, or for a mid-line say drawn = "mid-line"'
        )
    parts = list(chain.parts)
    ends = _end_faces(parts, chain.closed)
    needed = 2 if chain.closed else 1
    if len(ends) < needed:
        parts = squared(parts, chain.closed, needed - len(ends))
        ends = _end_faces(parts, chain.closed)
    if len(ends) < needed:
        raise DesignError(
            f"{place}: the outline needs an end face at each edge of the wall, where it turns round, straight or half "
            f"round; found {len(ends)} of {needed}"
        )
    ways = list(combinations(ends, needed))
    found = []
    for way in ways:
        if chain.closed:
            i, j = sorted(way)
            found.append((_outward(parts[i + 1 : j]), _outward(parts[j + 1 :] + parts[:i])))
        else:
            found.append((_outward(parts[: way[0]]), _outward(parts[way[0] + 1 :])))
    return [(one, other) for one, other in found if one and other]


def _end_faces(parts: list[Drawn], closed: bool) -> list[int]:
    """Lines over which the outline turns round: those on a layer of end faces, else on the axis, else the shortest."""
    named = [k for k, p in enumerate(parts) if p.layer.lower().endswith(" end face")]
    if len(named) >= (2 if closed else 1):
        return named
    found = []
    for k, part in enumerate(parts):
        if not isinstance(part.curve, Line) or (not closed and k in (0, len(parts) - 1)):
            continue
        before, after = parts[k - 1].curve, parts[(k + 1) % len(parts)].curve
        turns = turn(before, part.curve), turn(part.curve, after)
        if turns[0] * turns[1] > 0 and abs(sum(turns)) > TURNED_ROUND:
            on_axis = max(begin(part.curve)[0], end(part.curve)[0]) < JOIN
            found.append((not on_axis, part.curve.length, k))
    found.sort()
    needed = 2 if closed else 1
    longest = max((length for _, length, _ in found[:needed]), default=0.0)
    return [k for beside, length, k in found if not beside or length <= LONGER * longest][:MOST_ENDS]


def _outward(parts: list[Drawn]) -> list[Drawn]:
    if parts and begin(parts[0].curve)[0] > end(parts[-1].curve)[0] + JOIN:
        return [replace(p, curve=p.curve.reverse()) for p in reversed(parts)]
    return parts


def _middle(one: list[Drawn], other: list[Drawn], drawing: Drawing, place: str) -> list[Middle]:
    if far(begin(one[0].curve), begin(other[0].curve)) > far(begin(one[0].curve), end(other[-1].curve)):
        other = [replace(p, curve=p.curve.reverse()) for p in reversed(other)]
    matches = _matches(one, other, drawing, place)
    joints = [joint_of(a, b, one, other, drawing, place) for a, b in pairwise(matches)]
    firsts = [edge_of(matches[0], begin(one[0].curve), begin(other[0].curve)), *(joint.after for joint in joints)]
    lasts = [*(joint.before for joint in joints), edge_of(matches[-1], end(one[-1].curve), end(other[-1].curve))]
    found: list[Middle] = []
    for k, match in enumerate(matches):
        middle = match.pair.middle
        low = position(middle, firsts[k]) if k == 0 or joints[k - 1].sloped else end(found[-1].curve)
        high = position(middle, lasts[k])
        if lasts[k] - firsts[k] <= JOIN:
            raise DesignError(
                f"{place}: the two faces do not run beside one another near {drawing.place(low)}; draw them so that "
                "each curve lies opposite its partner"
            )
        if k < len(joints) and not joints[k].sloped:
            onward = position(matches[k + 1].pair.middle, firsts[k + 1])
            high = ((high[0] + onward[0]) / 2, (high[1] + onward[1]) / 2)
        pieces = _pieces(match, firsts[k], lasts[k], _off_axis(low), _off_axis(high))
        if min(min(piece.thickness) for piece in pieces) <= 0:
            raise DesignError(f"{place}: the two faces near {drawing.place(low)}: they touch or cross")
        if k and joints[k - 1].sloped:
            found += slope_between(found[-1], pieces[0])
        elif k:
            found[-1], pieces[0] = met(found[-1], pieces[0])
        found += pieces
    return found


def _off_axis(point: Point) -> Point:
    """The point, on the axis where it lies as good as there."""
    return (0.0, point[1]) if abs(point[0]) < JOIN else point


def _matches(one: list[Drawn], other: list[Drawn], drawing: Drawing, place: str) -> list[Match]:
    """Curves that lie opposite one another, in order along both faces."""
    pairs = _opposite(one, other) | {(i, j) for j, i in _opposite(other, one)}
    found = []
    for i, j in sorted(pairs):
        a, b = one[i], other[j]
        if _zone(a.layer) != _zone(b.layer):
            raise DesignError(
                f"{place}: opposite curves must lie on layers of one zone; near {drawing.place(begin(a.curve))} they "
                f"lie on '{a.layer}' and '{b.layer}'"
            )
        try:
            pair = pair_of(a.curve, b.curve)
        except DesignError as error:
            raise DesignError(f"{place}: the two faces near {drawing.place(begin(a.curve))}: {error}") from None
        found.append(Match(i, j, pair, a.layer))
    thickest = max((float(m.pair.thickness(np.array(0.0))) for m in found), default=0.0)
    for own, partner, along_one in ((one, other, True), (other, one, False)):
        corners = [end(p.curve) for p in partner[:-1]]
        for k, part in enumerate(own):
            if any((m.i if along_one else m.j) == k for m in found):
                continue
            curve = part.curve
            near = [c for c, p in enumerate(corners) if isinstance(curve, Arc) and far(p, curve.centre) < 2 * JOIN]
            if near and isinstance(curve, Arc):
                corner = near[0] + 0.5
                found.append(Match(k if along_one else corner, corner if along_one else k, fan(curve), part.layer))
            elif curve.length > thickest or not _is_shoulder(own, k):
                raise DesignError(
                    f"{place}: the curve from {drawing.place(begin(curve))} to {drawing.place(end(curve))} has no "
                    "partner on the other face; draw both faces of the whole wall, or its mid-line alone"
                )
    found.sort(key=lambda m: (m.i, m.j))
    if not found or any(b.j < a.j for a, b in pairwise(found)):
        raise DesignError(f"{place}: the two faces do not run beside one another; draw the outline of one wall")
    return found


def _is_shoulder(face: list[Drawn], k: int) -> bool:
    """Whether a short curve stands up from both beside it, as where the thickness jumps."""
    return all(abs(turn(a.curve, b.curve)) > STEEP for a, b in pairwise(face[max(k - 1, 0) : k + 2]))


def _zone(layer: str) -> str:
    return layer.lower().removesuffix(" front face").removesuffix(" rear face").removesuffix(" end face")


def _opposite(one: list[Drawn], other: list[Drawn]) -> set[tuple[int, int]]:
    """For curves of one face those of the other on which the feet of two or more of their points lie.

    Of the curves that run along there the nearest counts: next to a shoulder the thinner wall's end would be nearer.
    """
    curves = [part.curve for part in one]
    points = np.concatenate([c.point(SAMPLES * c.length) for c in curves])
    tangents = np.concatenate([c.tangent(SAMPLES * c.length) for c in curves])
    nearest = np.full(len(points), np.inf)
    away = np.full((len(other), len(points)), np.inf)
    for j, part in enumerate(other):
        found = distances(part.curve, points)
        along = (part.curve.tangent(np.clip(found.foot, 0.0, part.curve.length)) * tangents).sum(axis=1)
        nearest = np.minimum(nearest, found.away)
        away[j] = np.where(found.inside & (along > ALONG), found.away, np.inf)
    chosen = away.argmin(axis=0)
    fitting = away.min(axis=0) <= FARTHEST * nearest
    count: dict[tuple[int, int], int] = {}
    for n in np.flatnonzero(fitting).tolist():
        key = (n // len(SAMPLES), int(chosen[n]))
        count[key] = count.get(key, 0) + 1
    return {key for key, times in count.items() if times > 1}


def _pieces(match: Match, s: float, t: float, a: Point, b: Point) -> list[Middle]:
    """The middle from arc length s to t, moved to its ends a and b, in pieces over which the thickness is linear."""
    middle, thickness = match.pair.middle, match.pair.thickness
    curve = moved(middle.part(s, t), a, b)
    count = 1
    while count < MOST_PARTS and not _linear(thickness, s, t, count):
        count *= 2
    wall = [float(x) for x in thickness(np.linspace(s, t, count + 1))]
    cuts = np.linspace(0.0, curve.length, count + 1).tolist()
    parts = [curve] if count == 1 else [curve.part(p, q) for p, q in pairwise(cuts)]
    return [Middle(part, match.layer, (wall[k], wall[k + 1])) for k, part in enumerate(parts)]


def _linear(thickness: Callable[[Array], Array], s: float, t: float, count: int) -> bool:
    at = np.linspace(s, t, 8 * count + 1)
    own = thickness(at)
    straight = np.interp(at, at[::8], own[::8])
    return bool((np.abs(own - straight) <= LINEAR * own).all())
