"""The dome: part of a sphere, a quarter ellipse or a cone over its rim, with steps and a surround."""

from collections.abc import Callable
from math import acos, asin, atan2, pi

import numpy as np

from diaphragm_fem.design.meridian.curve import Arc, Curve, Line, freeform_from
from diaphragm_fem.design.meridian.outline import Corner, Outline, Stretch, begin, end, shifted
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.profile.steps import check_steps, numbered
from diaphragm_fem.design.profile.surround import draw_surround
from diaphragm_fem.design.spec.profile import DomeProfile
from diaphragm_fem.design.spec.wall import WallSpec
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import DesignError

FLAT = 1e-7  # a dome lower than this part of its rim radius is drawn as a disc
CapPart = Callable[[float, float, float], Curve]


def draw_dome(spec: DomeProfile) -> Outline:
    """The outline of a dome whose rim lies at r = rim_diameter / 2, z = 0; convex bulges to +z.

    Raises DesignError for a sphere higher than its rim radius and for steps that do not fit.
    """
    rim = spec.rim_diameter / 2
    if spec.shape == "sphere" and spec.height > rim * (1 + 1e-12):
        raise DesignError(
            f"profile.height: part of a sphere over its rim is at most a hemisphere, {show(rim, spec.height)} "
            "high here; "
            f'received {show(spec.height)}; for a higher dome write shape = "ellipse" or draw it with kind = "free"'
        )
    up = 1.0 if spec.facing == "convex" else -1.0
    cap = _cap(spec.shape, rim, float(spec.height), up)
    default = Corner(spec.corner_radius, "profile.corner_radius")
    walls: dict[Zone, tuple[tuple[str, WallSpec], ...]] = {}
    stretches, corners = _cut_dome(spec, cap, rim, default, walls)
    tip = default if spec.tip_radius is None else Corner(spec.tip_radius, "profile.tip_radius")
    drive_corner = None
    if spec.surround is not None:
        radius = spec.surround.corner_radius
        corner = default if radius is None else Corner(radius, "profile.surround.corner_radius")
        zone = Zone("surround", Role.SURROUND)
        walls[zone] = (("profile.surround", spec.surround),)
        drive_corner = len(corners)
        for curve in draw_surround(spec.surround, (0.0, 0.0)):
            corners.append(corner)
            stretches.append(Stretch(shifted(curve, rim), zone, "profile.surround"))
    return Outline(
        stretches=tuple(stretches),
        corners=tuple(corners),
        walls=walls,
        tip=tip if spec.shape == "cone" else None,
        drive=(rim, 0.0),
        drive_corner=drive_corner,
    )


def _cut_dome(
    spec: DomeProfile, cap: CapPart, rim: float, default: Corner, walls: dict[Zone, tuple[tuple[str, WallSpec], ...]]
) -> tuple[list[Stretch], list[Corner]]:
    """Stretches from the axis to the rim and the corners between them, drawn from the rim inward and turned round."""
    steps = numbered(spec.steps, "profile")
    check_steps(steps, rim, "profile", width_name="half of profile.rim_diameter")
    inward: list[Stretch] = []
    corners: list[Corner] = []
    zone = Zone("dome driven zone" if steps else "dome", Role.DRIVEN)
    outer, lift = rim, 0.0

    def add(curve: Curve, zone: Zone, key: str, *tables: tuple[str, WallSpec]) -> None:
        inward.append(Stretch(curve, zone, key))
        walls[zone] = tables

    for step in steps:
        near, far = rim - step.spec.distance, rim - step.spec.distance - step.spec.tread
        add(cap(near, outer, lift), zone, "profile", ("profile", spec))
        top = begin(inward[-1].curve)
        foot = (far, top[1] + step.spec.rise)
        tread = Zone(f"dome step{step.suffix}", Role.STEP, "", step.number)
        add(Line(foot, top), tread, step.key, (step.key, step.spec), ("profile", spec))
        corners += [step.corner(0, default), step.corner(1, default)]
        lift = foot[1] - end(cap(0.0, far, 0.0))[1]
        zone = Zone(f"dome beyond step{step.suffix}", Role.BEYOND, "", step.number)
        outer = far
    add(cap(0.0, outer, lift), zone, "profile", ("profile", spec))
    return inward[::-1], corners[::-1]


def _cap(shape: str, rim: float, height: float, up: float) -> CapPart:
    """The part of the dome's meridian between two radii, lifted axially: cap(r from, r to, lift), all in metres."""
    if height <= FLAT * rim:
        return lambda r0, r1, lift: Line((r0, lift), (r1, lift))
    if shape == "cone":
        slope = up * height / rim
        return lambda r0, r1, lift: Line((r0, slope * (rim - r0) + lift), (r1, slope * (rim - r1) + lift))
    if shape == "ellipse":
        return lambda r0, r1, lift: _ellipse(rim, up * height, r0, r1, lift)
    return lambda r0, r1, lift: _sphere(rim, height, up, r0, r1, lift)


def _sphere(rim: float, height: float, up: float, r0: float, r1: float, lift: float) -> Arc:
    """Sphere of radius (rim^2 + height^2) / 2 height; the angle from its axis at radius r is asin(r / radius)."""
    radius = (rim**2 + height**2) / (2 * height)
    half = atan2(rim, radius - height)

    def angle(r: float) -> float:
        return half if r == rim else asin(min(r / radius, 1.0))

    return Arc((0.0, up * (height - radius) + lift), radius, up * (pi / 2 - angle(r0)), -up * (angle(r1) - angle(r0)))


def _ellipse(rim: float, height: float, r0: float, r1: float, lift: float) -> Curve:
    """r = rim sin t, z = height cos t between two radii."""
    first, last = (pi / 2 - acos(min(r / rim, 1.0)) for r in (r0, r1))
    intervals = 8
    points = np.linspace(first, last, intervals + 1)

    def position(t: np.ndarray) -> np.ndarray:
        return np.stack((rim * np.sin(t), height * np.cos(t) + lift), axis=-1)

    return freeform_from(position, points, fineness=50)
