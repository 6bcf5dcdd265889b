"""The outline of a meridian: stretches of wall end to end, sharp corners between them, before rounding."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import copysign, cos, pi, sin

from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.spec.wall import WallSpec

Point = tuple[float, float]

NO_PIECE = 1e-9  # m: what rounding leaves of numbers that ought to be equal; far less than any wall is thick


@dataclass(frozen=True)
class Stretch:
    """One smooth stretch of the outline; `key` is where the file describes it; `wall` only where points give some
    of it, that of its whole zone if `zone_wide`."""

    curve: Curve
    zone: Zone
    key: str
    wall: Wall | None = None
    zone_wide: bool = False


@dataclass(frozen=True)
class Corner:
    """The corner between two stretches: its radius in metres (None: the default) and the key that gave it."""

    radius: float | None = None
    key: str = ""


@dataclass(frozen=True)
class Outline:
    """A meridian from the axis or inner edge outward.

    corners     one between each two stretches.
    tip         the corner on the axis, where the first stretch begins there with a slope.
    walls       per zone the wall tables that speak of it, each with its key, the strongest first.
    drive       (r, z) of the drive circle before rounding, None where the profile has none of its own.
    drive_corner   the corner at the drive circle, None where that is a free end or no corner at all.
    notes       what the reader should know of how it was drawn.
    """

    stretches: tuple[Stretch, ...]
    corners: tuple[Corner, ...]
    walls: Mapping[Zone, tuple[tuple[str, WallSpec], ...]] = field(default_factory=dict)
    tip: Corner | None = None
    drive: Point | None = None
    drive_corner: int | None = None
    notes: tuple[str, ...] = ()

    @property
    def surrounds(self) -> tuple[bool, bool]:
        """Whether a surround leads to the inner and to the outer edge."""
        first, last = self.stretches[0].zone, self.stretches[-1].zone
        return first.role is Role.SURROUND, last.role is Role.SURROUND


def begin(curve: Curve) -> Point:
    """The first point of a curve."""
    return position(curve, 0.0)


def end(curve: Curve) -> Point:
    """The last point of a curve."""
    return position(curve, curve.length)


def backward(curves: Sequence[Curve]) -> list[Curve]:
    """Curves end to end, run from their last point to their first."""
    return [curve.reverse() for curve in reversed(curves)]


def position(curve: Curve, s: float) -> Point:
    """The point at arc length s, as plain floats: for one point that is ten times faster than an array."""
    if isinstance(curve, Line):
        if s == curve.length:
            return curve.end
        share = s / curve.length
        return curve.begin[0] + share * (curve.end[0] - curve.begin[0]), curve.begin[1] + share * (
            curve.end[1] - curve.begin[1]
        )
    if isinstance(curve, Arc):
        angle = curve.start + s * copysign(1.0, curve.sweep) / curve.radius
        return curve.centre[0] + curve.radius * cos(angle), curve.centre[1] + curve.radius * sin(angle)
    r, z = curve.point(s)
    return float(r), float(z)


def direction(curve: Curve, s: float) -> Point:
    """The tangent at arc length s, as plain floats."""
    if isinstance(curve, Line):
        return (curve.end[0] - curve.begin[0]) / curve.length, (curve.end[1] - curve.begin[1]) / curve.length
    if isinstance(curve, Arc):
        angle, sign = curve.start + copysign(s / curve.radius, curve.sweep), copysign(1.0, curve.sweep)
        return -sign * sin(angle), sign * cos(angle)
    r, z = curve.tangent(s)
    return float(r), float(z)


def shifted(curve: Curve, radius: float) -> Curve:
    """A line or arc drawn in (x, z), moved to r = radius + x."""
    if isinstance(curve, Line):
        return Line((radius + curve.begin[0], curve.begin[1]), (radius + curve.end[0], curve.end[1]))
    if isinstance(curve, Arc):
        return Arc((radius + curve.centre[0], curve.centre[1]), curve.radius, curve.start, curve.sweep)
    raise TypeError(f"cannot move a {type(curve).__name__}")


def mirrored(curve: Curve, radius: float) -> Curve:
    """A line or arc drawn in (x, z), moved to r = radius - x and run backward; near the axis it ends on it."""

    def move(point: Point) -> Point:
        r = radius - point[0]
        return (0.0 if abs(r) < 1e-9 * radius else r, point[1])

    if isinstance(curve, Line):
        return Line(move(curve.end), move(curve.begin))
    if isinstance(curve, Arc):
        return Arc(
            (radius - curve.centre[0], curve.centre[1]), curve.radius, pi - curve.start - curve.sweep, curve.sweep
        )
    raise TypeError(f"cannot mirror a {type(curve).__name__}")
