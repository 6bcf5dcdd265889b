"""The outline that a design file tells: of a dome, a V, points or a drawing."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from diaphragm_fem.design.library.library import find_material
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.outline import Outline
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.design.meridian.zone_walls import drawn_wall, zone_wall
from diaphragm_fem.design.profile.dome import draw_dome
from diaphragm_fem.design.profile.free_meridian import KINK_ANGLE, MeridianPoint, corner_at_kinks, draw_meridian
from diaphragm_fem.design.profile.meridian_file import read_meridian_file
from diaphragm_fem.design.profile.v_profile import draw_vprofile
from diaphragm_fem.design.read.build import wall_tables
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.profile import DomeProfile, FreeProfile, VProfile
from diaphragm_fem.design.spec.wall import WallSpec
from diaphragm_fem.errors import DesignError, echo


def draw_outline(spec: DesignSpec, materials: Mapping[str, Material], folder: Path) -> Outline:
    """The meridian before rounding; files of points and drawings lie in `folder`. Raises DesignError where it cannot be
    drawn."""
    if isinstance(spec.profile, VProfile):
        return draw_vprofile(spec.profile)
    if isinstance(spec.profile, DomeProfile):
        return draw_dome(spec.profile)
    return _free(spec, spec.profile, materials, folder)


def _free(spec: DesignSpec, profile: FreeProfile, materials: Mapping[str, Material], folder: Path) -> Outline:
    if profile.is_drawing:
        return _drawn(spec, profile, materials, folder)
    if profile.file is not None:
        points = _thicker(read_meridian_file(folder / profile.file, materials), profile.thickness_factor or {}, spec)
    else:
        points = _listed_points(profile, materials)
    outline = draw_meridian(
        points,
        lambda point: zone_wall(point.zone, [*wall_tables(spec, point.zone), _of_point(point)], materials),
        KINK_ANGLE if profile.kink_angle is None else profile.kink_angle,
        corner_at_kinks(profile),
        spec.zones,
    )
    takes = {stretch.zone.name for stretch in outline.stretches if stretch.zone_wide} - _by_table(spec)
    if spec.wall.thickness is None or takes:
        return outline
    unused = "no zone takes the thickness of the table [wall]: points or tables [zones.NAME] give theirs"
    return replace(outline, notes=(*outline.notes, unused))


def _thicker(points: list[MeridianPoint], factors: Mapping[str, float], spec: DesignSpec) -> list[MeridianPoint]:
    """Points with the thickness of each zone times its factor. Raises DesignError for a zone whose thickness is not
    theirs."""
    given = thick_by_points(points, spec)
    if unknown := [name for name in factors if name not in given]:
        raise DesignError(
            f"profile.thickness_factor: the points give {echo(unknown[0])} no thickness; they give it to: "
            f"{', '.join(given) or 'none'}"
        )
    return [replace(one, thickness=one.thickness and one.thickness * factors.get(one.zone, 1.0)) for one in points]


def thick_by_points(points: Sequence[MeridianPoint], spec: DesignSpec) -> list[str]:
    """Zones, as they come, all of whose points give a thickness, and no table of theirs."""
    others = {point.zone for point in points if point.thickness is None} | _by_table(spec)
    return [zone for zone in dict.fromkeys(point.zone for point in points) if zone not in others]


def _by_table(spec: DesignSpec) -> set[str]:
    """Zones whose own table gives a thickness."""
    return {name for name, table in spec.zones.items() if table.gives_thickness}


def _of_point(point: MeridianPoint) -> tuple[str, WallSpec]:
    """What a point says of its wall as the weakest table: a table that gives the rest alone is none that lacks it."""
    material = None if point.material is None else point.material.name
    thickness = None if point.thickness is None else (point.thickness, point.thickness)
    return "wall", WallSpec.model_construct(material=material, thickness=thickness, layers=None)


def _drawn(spec: DesignSpec, profile: FreeProfile, materials: Mapping[str, Material], folder: Path) -> Outline:
    from diaphragm_fem.design.drawing.drawing import draw_from_file

    def wall_of(zone: str, first: float, last: float) -> Wall:
        return drawn_wall(zone, wall_tables(spec, zone), materials, first, last)

    return draw_from_file(profile, folder / str(profile.file), wall_of)


def _listed_points(profile: FreeProfile, materials: Mapping[str, Material]) -> list[MeridianPoint]:
    r, z = profile.r or (), profile.z or ()
    zone, thickness, material, role = profile.zone, profile.thickness, profile.material, profile.role
    for key, values in (("z", z), ("thickness", thickness), ("zone", zone), ("material", material), ("role", role)):
        if values is not None and len(values) != len(r):
            raise DesignError(
                f"profile.{key}: the lists must be equally long; received {len(values)} values beside {len(r)} of r"
            )

    def named(i: int) -> Material | None:
        return None if material is None else find_material(materials, material[i], where=f"profile.material[{i}]")

    return [
        MeridianPoint(
            r=r[i],
            z=z[i],
            zone="wall" if zone is None else zone[i],
            row=f"profile, point {i}",
            thickness=None if thickness is None else thickness[i],
            material=named(i),
            role="" if role is None else role[i],
        )
        for i in range(len(r))
    ]
