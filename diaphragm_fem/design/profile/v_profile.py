"""The V-profile: a flank on either side of the coil circle, each with its steps and its surround."""

from diaphragm_fem.design.meridian.curve import Curve, Line
from diaphragm_fem.design.meridian.outline import NO_PIECE, Corner, Outline, Stretch, begin, mirrored, shifted
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.profile.steps import check_steps, numbered
from diaphragm_fem.design.profile.surround import draw_surround
from diaphragm_fem.design.spec.profile import FlankSpec, VProfile
from diaphragm_fem.design.spec.wall import WallSpec
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import DesignError

Walls = dict[Zone, tuple[tuple[str, WallSpec], ...]]


def draw_vprofile(spec: VProfile) -> Outline:
    """The outline of a V with the bottom at r = coil_diameter / 2, z = 0.

    Raises DesignError for steps that do not fit and an inner flank that passes the axis.
    """
    coil_radius = spec.coil_diameter / 2
    stretches: list[Stretch] = []
    corners: list[Corner] = []
    walls: Walls = {}
    corner_default = Corner(spec.corner_radius, "profile.corner_radius")
    drive_corner = None
    tip = None
    if spec.inner is not None:
        _check_reach(spec.inner, coil_radius)
        flank, joints = _draw_flank(spec.inner, "inner", corner_default, walls)

        stretches = [Stretch(mirrored(x.curve, coil_radius), x.zone, x.key) for x in reversed(flank)]
        corners = list(reversed(joints))
        tip = corner_default
    if spec.outer is not None:
        flank, joints = _draw_flank(spec.outer, "outer", corner_default, walls)
        if stretches:
            drive_corner = len(corners)
            bottom = spec.bottom_radius
            corners.append(corner_default if bottom is None else Corner(bottom, "profile.bottom_radius"))
        stretches += [Stretch(shifted(x.curve, coil_radius), x.zone, x.key) for x in flank]
        corners += joints
    return Outline(
        stretches=tuple(stretches),
        corners=tuple(corners),
        walls=walls,
        tip=tip if begin(stretches[0].curve)[0] == 0 else None,
        drive=(coil_radius, 0.0),
        drive_corner=drive_corner,
    )


def _draw_flank(spec: FlankSpec, side: str, default: Corner, walls: Walls) -> tuple[list[Stretch], list[Corner]]:
    """Stretches from the coil outward in local coordinates (x, z), and the corners between them."""
    key = f"profile.{side}"
    steps = numbered(spec.steps, key)
    check_steps(steps, spec.width, key, to_the_end=True)
    slope_width = spec.width - sum(step.spec.tread for step in steps)
    slope = (spec.rise - sum(step.spec.rise for step in steps)) / slope_width
    stretches: list[Stretch] = []
    corners: list[Corner] = []
    x, z = 0.0, 0.0

    def add(curve: Curve, zone: Zone, where: str, corner: Corner, *tables: tuple[str, WallSpec]) -> None:
        if stretches:
            corners.append(corner)
        stretches.append(Stretch(curve, zone, where))
        walls[zone] = tables

    zone = Zone(f"{side} driven zone", Role.DRIVEN, side)
    corner = default
    for step in steps:
        near, far = step.spec.distance, step.spec.distance + step.spec.tread
        before = (near, z + slope * (near - x))
        add(Line((x, z), before), zone, key, corner, (key, spec))
        x, z = far if spec.width - far > NO_PIECE else float(spec.width), before[1] + step.spec.rise
        add(
            Line(before, (x, z)), step.zone(side), step.key, step.corner(0, default), (step.key, step.spec), (key, spec)
        )
        zone, corner = step.zone_beyond(side), step.corner(1, default)
    flank_end = (float(spec.width), z + slope * (spec.width - x))
    if x < spec.width:
        add(Line((x, z), flank_end), zone, key, corner, (key, spec))
        corner = default
    if spec.surround is not None:
        where = f"{key}.surround"
        radius = spec.surround.corner_radius
        corner = corner if radius is None else Corner(radius, f"{where}.corner_radius")
        for curve in draw_surround(spec.surround, flank_end):
            zone = Zone(f"{side} surround", Role.SURROUND, side)
            add(curve, zone, where, corner, (where, spec.surround))
    return stretches, corners


def _check_reach(spec: FlankSpec, coil_radius: float) -> None:
    """The inner flank and its surround may reach the axis, not pass it."""
    surround = spec.surround
    reach = spec.width + (surround.width if surround is not None else 0.0)
    if reach > coil_radius * (1 + 1e-9):
        parts = "profile.inner.width" + (" + profile.inner.surround.width" if surround is not None else "")
        raise DesignError(
            f"profile.inner.width: the inner flank passes the axis: {parts} = {show(reach, spec.width)} must be at "
            f"most half the coil_diameter, {show(coil_radius, spec.width)}; received {show(spec.width)}"
            + (f" + {show(surround.width)}" if surround is not None else "")
        )
