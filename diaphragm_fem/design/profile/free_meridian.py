"""The free meridian: points of r, z, thickness and zone, joined by straight lines and smooth curves."""

import itertools
from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import atan2, degrees, hypot, radians
from re import search

from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.curve import Curve, Line, freeform_through
from diaphragm_fem.design.meridian.outline import Corner, Outline, Point, Stretch
from diaphragm_fem.design.meridian.wall import Wall, plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.spec.profile import FreeProfile
from diaphragm_fem.design.spec.wall import WallSpec
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import DesignError

KINK_ANGLE = radians(15)
SURELY_A_KINK = radians(45)  # a roll of four chords turns by as much; corners of steps turn by more
NAMED = 4  # zones in a note
MOST_POINTS = 2000  # of a meridian
SHARP = Corner(0.0)
HINTS = (
    (Role.BEYOND, ("beyond",)),
    (Role.SURROUND, ("surround", "roll")),
    (Role.STEP, ("step",)),
    (Role.DRIVEN, ("driven", "dome", "cone", "flank")),
)  # words of a name that say a role, the first that is met
STRAIGHT = 1e-7  # points off their chord by less than this part of it lie on a line


@dataclass(frozen=True)
class MeridianPoint:
    """One point in metres; zone, material and role hold from here to the next point; `row` names it in messages.

    Thickness runs evenly to the next point's, or stays up to there where that begins another material.
    """

    r: float
    z: float
    zone: str = "wall"
    row: str = ""
    thickness: float | None = None
    material: Material | None = None
    role: str = ""


def draw_meridian(
    points: Sequence[MeridianPoint],
    wall_of: Callable[[MeridianPoint], Wall],
    kink_angle: float = KINK_ANGLE,
    corner: Corner = SHARP,
    tables: Mapping[str, WallSpec] | None = None,
) -> Outline:
    """The outline through the points, from the axis or inner edge to the outer edge.

    Where the meridian turns by more than kink_angle (rad) it has a kink; between kinks points on a line are joined by
    it and three or more others by a smooth curve. `wall_of` gives the wall of a zone where points have no thickness
    or material of their own; `tables` are the zones' own, which go before what points say. Raises DesignError naming
    the point.
    """
    _check_points(points)
    zones = {
        point.zone: zone_named(point.zone, next((p.role for p in points if p.zone == point.zone and p.role), ""))
        for point in points
    }
    own = [_own(point, (tables or {}).get(point.zone)) for point in points]
    arriving = _arriving(points, own, wall_of)
    stretches: list[Stretch] = []
    corners: list[Corner] = []
    kinks = [0, *[i for i in range(1, len(points) - 1) if abs(_turn(points, i)) > kink_angle], len(points) - 1]
    for first, last in itertools.pairwise(kinks):
        for n, (i, j, curve) in enumerate(_curves(own, arriving, first, last)):
            if stretches:
                corners.append(SHARP if n else corner)
            wall = _wall(own[i], arriving[j], wall_of)
            stretches.append(Stretch(curve, zones[own[i].zone], own[i].row, wall, own[i].thickness is None))
    unsaid = roles_unsaid(stretches, {p.zone for p in points if p.role}, "them roles, or names that do")
    return Outline(tuple(stretches), tuple(corners), notes=(*_curve_of_kinks(points, kinks[1:-1], kink_angle), *unsaid))


def corner_at_kinks(profile: FreeProfile) -> Corner:
    """Sharp where no radius is asked for."""
    return SHARP if profile.corner_radius is None else Corner(profile.corner_radius, "profile.corner_radius")


def zone_named(name: str, role: str = "") -> Zone:
    """A zone whose role and side follow from the words of its name, unless a role is given; none is the coil's by its
    name, for a ring "close to the coil" moves air."""
    words = name.lower()
    side = "inner" if "inner" in words else "outer" if "outer" in words else ""
    number = search(r"(\d+)\s*$", words)
    found = Role(role) if role else _role_of(words)
    step = int(number[1]) if number else 1
    return Zone(name, found, side, step if found in (Role.STEP, Role.BEYOND) else 0)


def _role_of(words: str) -> Role:
    return next((role for role, hints in HINTS if any(hint in words for hint in hints)), Role.OTHER)


def roles_unsaid(stretches: Iterable[Stretch], given: Container[str], give: str) -> tuple[str, ...]:
    """Zones of several whose name says nothing, such as the cap or the edge of a cone, without those whose role is
    given, be it "other", and what they count as (`driven_zones` of `analysis`); `give` says what to give."""
    zones = dict.fromkeys(stretch.zone for stretch in stretches)
    names = [f"'{zone.name}'" for zone in zones if zone.role is Role.OTHER and zone.name not in given]
    if not names or len(zones) == 1:
        return ()
    words = [hint for _, hints in HINTS[::-1] for hint in hints]
    counted = "none of these" if any(zone.role is Role.DRIVEN for zone in zones) else "driven, since no zone is"
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return (
        f"zones whose names say no role (by {', '.join(words[:-1])} or {words[-1]}), and which count as {counted}: "
        f"{', '.join(names[:NAMED])}{more}; give {give}",
    )


def _check_points(points: Sequence[MeridianPoint]) -> None:
    if len(points) < 2:
        raise DesignError(f"profile: a free meridian needs at least two points; received {len(points)}")
    if len(points) > MOST_POINTS:
        raise DesignError(
            f"profile: a free meridian has at most {MOST_POINTS} points; received {len(points)}: leave some out, "
            "a curve goes through those that stay"
        )
    for point in points:
        if point.r < 0:
            raise DesignError(f"{point.row}: r must be at least 0, the axis; received {show(point.r)}")
        if point.thickness is not None and not point.thickness > 0:
            raise DesignError(f"{point.row}: thickness must be above 0; received {show(point.thickness)}")
        if point.role and point.role not in list(Role):
            raise DesignError(f"{point.row}: unknown role '{point.role}'; allowed are {', '.join(Role)}")
    for a, b in itertools.pairwise(points):
        if hypot(b.r - a.r, b.z - a.z) < 1e-9:
            raise DesignError(f"{b.row}: the point lies on the one before it; remove one of them")
        if a.r == 0 == b.r:
            raise DesignError(f"{b.row}: the meridian runs along the axis; remove one of the two points on it")
    if points[-1].r < points[0].r * (1 - 1e-9):
        raise DesignError(
            f"{points[-1].row}: points must run from the inner edge to the outer edge, so that the listener is on "
            f"their left; received r = {show(points[0].r)} first and {show(points[-1].r)} last: turn their order round"
        )


def _turn(points: Sequence[MeridianPoint], i: int) -> float:
    """Angle (rad, left positive) by which the polygon of the points turns at point i."""
    a, b, c = points[i - 1 : i + 2]
    u, v = (b.r - a.r, b.z - a.z), (c.r - b.r, c.z - b.z)
    return atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])


def _curve_of_kinks(points: Sequence[MeridianPoint], kinks: Sequence[int], kink_angle: float) -> tuple[str, ...]:
    """What to tell where three points or more in a row turn the same way, each by less than `SURELY_A_KINK`."""
    rows: list[list[int]] = []
    for i in kinks:
        if abs(_turn(points, i)) > SURELY_A_KINK:
            continue
        if rows and rows[-1][-1] == i - 1 and _turn(points, i) * _turn(points, i - 1) > 0:
            rows[-1].append(i)
        else:
            rows.append([i])
    return tuple(
        f"from {points[row[0]].row}, to {points[row[-1]].row}, every point turns by more than "
        f"kink_angle = {degrees(kink_angle):.3g} deg, {degrees(max(abs(_turn(points, i)) for i in row)):.3g} deg at "
        "most, and stays a kink: where a curve is meant give more points, or a larger profile.kink_angle"
        for row in rows
        if len(row) > 2
    )


def _own(point: MeridianPoint, table: WallSpec | None) -> MeridianPoint:
    """What a point says of its wall that the table of its zone does not."""
    if table is None:
        return point
    material, thickness = (table.layers is None and given is None for given in (table.material, table.thickness))
    return replace(
        point, material=point.material if material else None, thickness=point.thickness if thickness else None
    )


def _arriving(
    points: Sequence[MeridianPoint], own: Sequence[MeridianPoint], wall_of: Callable[[MeridianPoint], Wall]
) -> list[float | None]:
    """Thickness with which a wall arrives at each point: the one before keeps its own where another material begins;
    None where it has none of points. own: what of the points counts."""

    def material(point: MeridianPoint) -> Material:
        return point.material or wall_of(point).layers[0].material

    def arriving(k: int) -> float | None:
        before, here = own[k - 1], points[k].thickness
        if before.thickness is None or before.thickness == here or k == len(points) - 1:
            return before.thickness and here
        return here if material(before) == material(own[k]) else before.thickness

    return [own[0].thickness, *map(arriving, range(1, len(points)))]


def _curves(
    points: Sequence[MeridianPoint], arriving: Sequence[float | None], first: int, last: int
) -> list[tuple[int, int, Curve]]:
    """Curves of one smooth run as (from point, to point, curve), cut where zone, material or taper changes."""
    rz: list[Point] = [(p.r, p.z) for p in points[first : last + 1]]
    if _straight(rz):
        cuts = _cuts(points, arriving, first, last)
        return [(i, j, Line(rz[i - first], rz[j - first])) for i, j in itertools.pairwise(cuts)]
    whole = freeform_through(rz)
    stride = (len(whole.knots) - 1) // (len(rz) - 1)  # freeform_through puts as many knots between any two points
    at = whole.knots[::stride]
    cuts = _cuts(points, arriving, first, last)
    return [(i, j, whole.part(at[i - first], at[j - first])) for i, j in itertools.pairwise(cuts)]


def _straight(rz: Sequence[Point]) -> bool:
    (r0, z0), (r1, z1) = rz[0], rz[-1]
    chord = hypot(r1 - r0, z1 - z0)
    return all(abs((r - r0) * (z1 - z0) - (z - z0) * (r1 - r0)) <= STRAIGHT * chord * chord for r, z in rz)


def _cuts(points: Sequence[MeridianPoint], arriving: Sequence[float | None], first: int, last: int) -> list[int]:
    """Points at which a run must be cut: a new zone or material begins, or the thickness changes its slope."""
    cuts = [first]
    for i in range(first + 1, last):
        a, b = points[cuts[-1]], points[i]
        same = (points[i - 1].zone, points[i - 1].material) == (b.zone, b.material)
        if not same or not _linear(points, cuts[-1], i, i + 1, a.thickness, b.thickness, arriving[i + 1]):
            cuts.append(i)
    return [*cuts, last]


def _linear(
    points: Sequence[MeridianPoint],
    i: int,
    j: int,
    k: int,
    first: float | None,
    middle: float | None,
    last: float | None,
) -> bool:
    """Whether the thickness at point j lies on the straight line between those at i and k, by chord length."""
    if first is None or middle is None or last is None:
        return first is middle is last
    before = sum(hypot(points[n + 1].r - points[n].r, points[n + 1].z - points[n].z) for n in range(i, j))
    after = sum(hypot(points[n + 1].r - points[n].r, points[n + 1].z - points[n].z) for n in range(j, k))
    return abs(first + (last - first) * before / (before + after) - middle) <= 1e-6 * middle


def _wall(point: MeridianPoint, arriving: float | None, wall_of: Callable[[MeridianPoint], Wall]) -> Wall | None:
    """The wall of a stretch where its point gives thickness or material; None leaves it to the zone."""
    if point.thickness is None and point.material is None:
        return None
    zone_wall = wall_of(point) if point.thickness is None or point.material is None else None
    if zone_wall is not None and len(zone_wall.layers) > 1:
        raise DesignError(
            f"{point.row}: a point's thickness or material cannot change one of several layers; give both at the point"
        )
    layer = zone_wall.layers[0] if zone_wall is not None else None
    material = point.material if point.material is not None else layer.material  # type: ignore[union-attr]
    if point.thickness is None:
        return plain_wall(material, layer.begin_thickness, layer.end_thickness)  # type: ignore[union-attr]
    return plain_wall(material, point.thickness, point.thickness if arriving is None else arriving)
