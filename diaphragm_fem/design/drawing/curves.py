"""One entity of a drawing as smooth curves in metres: a line and an arc stay what they are, others become free curves.

Arcs and polylines hold their points in a plane of their own, which mirroring turns over.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import atan, atan2, copysign, hypot, isfinite, pi, radians, sin, tan
from typing import Any

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.curve import Arc, Curve, Freeform, Line, freeform_from
from diaphragm_fem.design.meridian.outline import Point
from diaphragm_fem.errors import DesignError, echo

MOST_DEGREE = 11
MOST_CONTROL_POINTS = 2_000
MOST_VERTICES = 4_000
FREE_POINTS = 4000  # that a free curve is held by, or 16 to each of its pieces
FLAT = 1e-6  # of its extent that a curve may leave the plane
ROUND = 1e-12  # by how much the axes of an ellipse may differ that is a circle
TURN = 1e-6  # rad: a spline that turns by more at a knot has a kink there
NO_LENGTH = 1e-9  # m: what is shorter is nothing


@dataclass(frozen=True)
class Drafting:
    """From the drawing's coordinates to metres: one unit of it in metres, and where it has r = 0, z = 0."""

    unit: float
    origin: Point

    def point(self, x: float, y: float) -> Point:
        if not (isfinite(x) and isfinite(y)):
            raise DesignError("a coordinate is no finite number")
        return float((x - self.origin[0]) * self.unit), float((y - self.origin[1]) * self.unit)

    def points(self, xy: Array) -> Array:
        return (np.asarray(xy) - self.origin) * self.unit

    def place(self, x: float, y: float) -> str:
        return f"x = {x:.7g}, y = {y:.7g}"


def curves_of(entity: Any, drafting: Drafting) -> list[Curve]:
    """The curves of one entity, those of no length left out. Raises DesignError, without a place."""
    kind = entity.dxftype()
    make = {
        "LINE": _line, "ARC": _arc, "LWPOLYLINE": _light_polyline, "POLYLINE": _polyline, "SPLINE": _spline,
        "ELLIPSE": _ellipse,
    }.get(kind)  # fmt: skip
    if kind == "CIRCLE":
        centre = entity.ocs().to_wcs(entity.dxf.center)
        raise DesignError(
            f"a full circle about {drafting.place(centre.x, centre.y)} is no stretch of a wall; draw the arc meant, "
            "or leave its layer out"
        )
    if make is None:
        raise DesignError(
            f"a {echo(kind)} cannot be read; give lines, arcs, polylines, splines or ellipses, or leave its layer out"
        )
    return [curve for curve in make(entity, drafting) if curve.length > NO_LENGTH]


def _line(entity: Any, drafting: Drafting) -> list[Curve]:
    a, b = entity.dxf.start, entity.dxf.end
    _in_plane([a.z, b.z], hypot(b.x - a.x, b.y - a.y), drafting.place(a.x, a.y))
    return [Line(drafting.point(a.x, a.y), drafting.point(b.x, b.y))]


def _turned_over(entity: Any, place: str) -> bool:
    """Whether the plane of an entity is seen from behind, as mirroring leaves it."""
    axis = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    x, y, z = axis
    if hypot(x, y) > FLAT * abs(z):
        raise DesignError(f"a curve at {place} lies outside the plane of the drawing")
    return bool(z < 0)


def _arc(entity: Any, drafting: Drafting) -> list[Curve]:
    centre = entity.ocs().to_wcs(entity.dxf.center)
    radius = float(entity.dxf.radius)
    over = _turned_over(entity, drafting.place(centre.x, centre.y))
    if not (isfinite(radius) and radius > 0):
        raise DesignError(f"the arc about {drafting.place(centre.x, centre.y)} must have a radius above 0")
    first, last = radians(entity.dxf.start_angle), radians(entity.dxf.end_angle)
    sweep = (last - first) % (2 * pi) or 2 * pi
    at = drafting.point(centre.x, centre.y)
    return [Arc(at, radius * drafting.unit, pi - first if over else first, -sweep if over else sweep)]


def _light_polyline(entity: Any, drafting: Drafting) -> list[Curve]:
    _few(len(entity), "a polyline", MOST_VERTICES)
    return _bulged([tuple(p) for p in entity.get_points("xyb")], entity, bool(entity.closed), drafting)


def _polyline(entity: Any, drafting: Drafting) -> list[Curve]:
    _few(len(entity.vertices), "a polyline", MOST_VERTICES)
    if entity.is_polygon_mesh or entity.is_poly_face_mesh:
        raise DesignError("a mesh of faces cannot be read; draw the section alone")
    if entity.dxf.flags & 6:
        raise DesignError("a polyline that was smoothed cannot be read; draw it as a spline, or of lines and arcs")
    places = [v.dxf.location for v in entity.vertices]
    if places and entity.is_3d_polyline:
        size = max(hypot(p.x - places[0].x, p.y - places[0].y) for p in places)
        _in_plane([p.z for p in places], size, drafting.place(places[0].x, places[0].y))
    bulges = [0.0 if entity.is_3d_polyline else float(v.dxf.get("bulge", 0.0)) for v in entity.vertices]
    points = [(p.x, p.y, bulge) for p, bulge in zip(places, bulges, strict=True)]
    return _bulged(points, entity, bool(entity.is_closed), drafting)


def _bulged(points: list[Any], entity: Any, closed: bool, drafting: Drafting) -> list[Curve]:
    """Lines and arcs through points (x, y, bulge), the bulge being the tangent of a quarter of the arc's sweep."""
    if not points:
        return []
    over = _turned_over(entity, drafting.place(points[0][0], points[0][1]))
    flip = -1.0 if over else 1.0
    places = [(drafting.point(flip * x, y), flip * bulge) for x, y, bulge in points]
    ways = zip(places, places[1:] + (places[:1] if closed else []), strict=False)
    return [arc_between(a, b, 4 * atan(bulge)) if bulge else Line(a, b) for (a, bulge), (b, _) in ways if a != b]


def arc_between(a: Point, b: Point, sweep: float) -> Curve:
    """The arc from a to b that turns by `sweep` radians, anticlockwise where positive; a line where it is flat."""
    chord = hypot(b[0] - a[0], b[1] - a[1])
    if not isfinite(sweep) or abs(sweep) >= 2 * pi:
        raise DesignError("an arc of a polyline must turn by less than a full turn")
    if abs(sweep) < 1e-12:
        return Line(a, b)
    radius = chord / 2 / sin(abs(sweep) / 2)
    aside = chord / 2 / tan(sweep / 2)  # from the middle of the chord to the centre, to its left
    u = ((b[0] - a[0]) / chord, (b[1] - a[1]) / chord)
    centre = ((a[0] + b[0]) / 2 - aside * u[1], (a[1] + b[1]) / 2 + aside * u[0])
    return Arc(centre, radius, atan2(a[1] - centre[1], a[0] - centre[0]), sweep)


def _ellipse(entity: Any, drafting: Drafting) -> list[Curve]:
    centre, major, minor = entity.dxf.center, entity.dxf.major_axis, entity.minor_axis
    place = drafting.place(centre.x, centre.y)
    _turned_over(entity, place)
    first, last = float(entity.dxf.start_param), float(entity.dxf.end_param)
    if not all(map(isfinite, (first, last))) or not (major.magnitude > 0 and minor.magnitude > 0):
        raise DesignError(f"the ellipse about {place} needs two axes above 0")
    sweep = (last - first) % (2 * pi) or 2 * pi
    if abs(minor.magnitude / major.magnitude - 1) < ROUND:
        way = copysign(1.0, major.x * minor.y - major.y * minor.x)
        start = atan2(major.y, major.x) + way * first
        return [Arc(drafting.point(centre.x, centre.y), major.magnitude * drafting.unit, start, way * sweep)]
    middle, a, b = (np.array([v.x, v.y]) for v in (centre, major, minor))

    def position(t: Array) -> Array:
        return drafting.points(middle + np.cos(t)[..., None] * a + np.sin(t)[..., None] * b)

    return [_free(position, np.linspace(first, first + sweep, 11))]


def _spline(entity: Any, drafting: Drafting) -> list[Curve]:
    """The spline's own pieces between its kinks, evaluated exactly (de Boor), with weights where it has them."""
    from scipy.interpolate import BSpline

    degree = int(entity.dxf.degree)
    if not 1 <= degree <= MOST_DEGREE:
        raise DesignError(f"a spline must have a degree from 1 to {MOST_DEGREE}; received {degree}")
    _few(max(len(entity.control_points), len(entity.fit_points)), "a spline", MOST_CONTROL_POINTS)
    _few(len(entity.knots), "a spline", MOST_CONTROL_POINTS + 2 * MOST_DEGREE)
    tool = entity.construction_tool()
    control = np.array([(p.x, p.y, p.z) for p in tool.control_points])
    knots, degree = np.array(tool.knots(), float), int(tool.degree)
    weights = np.array(tool.weights(), float) if len(tool.weights()) else np.ones(len(control))
    place = drafting.place(*control[0, :2])
    if len(knots) != len(control) + degree + 1 or not (np.diff(knots) >= 0).all():
        raise DesignError(f"the knots of the spline from {place} do not fit its points")
    if not (np.isfinite(control).all() and np.isfinite(knots).all() and (weights > 0).all() and weights.max() < 1e9):
        raise DesignError(f"the spline from {place} needs finite points, knots and weights above 0")
    _in_plane(list(control[:, 2]), float(np.ptp(control[:, :2], axis=0).max()), place)
    curve = BSpline(knots, np.column_stack((control[:, :2] * weights[:, None], weights)), degree)

    def position(t: Array) -> Array:
        found = curve(t)
        return drafting.points(found[..., :2] / found[..., 2:])

    steps = np.unique(knots[degree : len(control) + 1])
    if len(steps) < 2:
        raise DesignError(f"the spline from {place} has no length")
    cuts = [0, *_kinks(position, steps), len(steps) - 1]
    return [_free(position, steps[i : j + 1]) for i, j in pairwise(cuts)]


def _kinks(position: Any, steps: Array) -> list[int]:
    """Inner knots at which a spline turns, by its chords just before and after."""
    reach = 1e-6 * np.minimum(np.diff(steps)[:-1], np.diff(steps)[1:])
    inner = steps[1:-1]
    before, here, after = position(inner - reach), position(inner), position(inner + reach)
    u, v = here - before, after - here
    turn = np.abs(np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1)))
    return [int(i) + 1 for i in np.flatnonzero(turn > max(TURN, 1e-4))]


def _free(position: Any, steps: Array) -> Freeform:
    found = freeform_from(position, steps, fineness=max(16, FREE_POINTS // (len(steps) - 1)))
    if not isfinite(found.length):
        raise DesignError("a curve has no finite length")
    return found


def _in_plane(heights: list[float], size: float, place: str) -> None:
    if max(heights) - min(heights) > FLAT * size or not all(map(isfinite, heights)):
        raise DesignError(f"a curve at {place} lies outside the plane of the drawing")


def _few(count: int, what: str, most: int) -> None:
    if count > most:
        raise DesignError(f"{what} has {count} points; at most {most} are read")


NEAR = 2e-11  # of its length, by which the spline may leave the curve
MOST = 513  # points


def cubic_of(curve: Curve) -> tuple[Array, Array]:
    """Knots (K + 4,), the first and last four equal, and control points (K, 2) in m."""
    from scipy.interpolate import make_interp_spline

    count = 17
    while True:
        s = np.linspace(0.0, curve.length, count)
        spline = make_interp_spline(s, curve.point(s), k=3)
        between = np.linspace(0.0, curve.length, 4 * count - 3)
        off = np.abs(spline(between) - curve.point(between)).max()
        if off <= NEAR * curve.length or count >= MOST:
            return np.asarray(spline.t), np.asarray(spline.c)
        count = 2 * count - 1
