"""Reading designs: from a TOML file, from the same data in Python."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.from_spec import make_driver
from diaphragm_fem.design.files.file_kind import expect_kind
from diaphragm_fem.design.files.input_file import check_data, read_toml_file
from diaphragm_fem.design.files.key_path import copied, write_path
from diaphragm_fem.design.library.library import find_material, load_materials
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.outline import Corner, Outline
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.design.meridian.zone_walls import drawn_wall, zone_wall
from diaphragm_fem.design.profile.free_meridian import KINK_ANGLE, MeridianPoint, draw_meridian
from diaphragm_fem.design.profile.meridian_file import read_meridian_file
from diaphragm_fem.design.read.build import build_design, wall_tables
from diaphragm_fem.design.read.usual import check_usual, unusual_values
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.profile import FreeProfile
from diaphragm_fem.design.spec.refusal import refusal
from diaphragm_fem.design.spec.wall import WallSpec
from diaphragm_fem.errors import DesignError, UnusualError

Changes = Mapping[str, Any]


@dataclass(frozen=True)
class DesignFile:
    """A design with where it came from: the file's data with the changes made, the checked tables, the design."""

    path: Path | None
    data: Mapping[str, Any]
    spec: DesignSpec
    design: Design


def load_design(path: str | Path, changes: Changes | None = None, *, allow_unusual: bool = False) -> Design:
    """The design of a TOML file; `changes` maps key paths such as "profile.outer.steps[0].tread" to new values.

    Raises DesignError naming the file, the key, what was received and what is allowed; UnusualError for values
    outside what is commonly built, unless allow_unusual or the file's own list `unusual` says they are meant.

    >>> design = load_design("studies/metal_dome.toml", {"wall.thickness": "40 um"})
    >>> design.name, [zone.name for zone in design.zones]
    ('north hall, metal dome', ['dome', 'surround', 'former', 'winding'])
    """
    return read_design_file(path, changes, allow_unusual=allow_unusual).design


def read_design_file(path: str | Path, changes: Changes | None = None, *, allow_unusual: bool = False) -> DesignFile:
    """As load_design, with the file's data and checked tables beside the design.

    With allow_unusual what lies outside the usual is not asked about: its keys are added to `unusual` in the data.
    """
    path = Path(path)
    data = read_toml_file(path)
    expect_kind(data, "design", path)
    data = changed(data, changes or {}, str(path))
    check_data(data)
    return _read(data, str(path), path, allow_unusual)


def design_from(
    data: Mapping[str, Any],
    origin: str = "design",
    *,
    folder: str | Path = ".",
    changes: Changes | None = None,
    allow_unusual: bool = False,
) -> Design:
    """The design of the same data from Python; files it names lie in `folder`, messages begin with `origin`."""
    data = changed(data, changes, origin) if changes else data
    return _read(data, origin, Path(folder) / "design", allow_unusual).design


def changed(data: Mapping[str, Any], changes: Changes, origin: str = "design") -> dict[str, Any]:
    """A copy of the data with values set by key path (`files/key_path.py`); DesignError where a path does not fit."""
    copy: dict[str, Any] = copied(data)
    for path, value in changes.items():
        try:
            write_path(copy, path, value)
        except DesignError as error:
            raise DesignError(f"{origin}: {error}") from None
    return copy


def _read(data: Mapping[str, Any], origin: str, path: Path, allow_unusual: bool = False) -> DesignFile:
    try:
        spec = DesignSpec.model_validate(data)
    except ValidationError as error:
        raise refusal(error, data, origin, DesignSpec) from None
    try:
        materials = _materials(spec, path, origin)
        written = tuple(unusual_values(data))
        check_usual(data, written=written)
        outline = _free_outline(spec, spec.profile, materials, path) if isinstance(spec.profile, FreeProfile) else None
        design = build_design(spec, materials, outline, name=path.stem)
        driver = make_driver(spec, path.parent, design.joint is not None)
        design = design if driver is None else replace(design, driver=driver)
        design = replace(design, unusual=check_usual(data, design, written))
    except UnusualError as error:
        if allow_unusual and error.keys:  # named as meant, and asked whether more is unusual
            return _read({**data, "unusual": [*data.get("unusual", ()), *error.keys]}, origin, path, allow_unusual)
        raise UnusualError("\n".join(f"{origin}: {line}" for line in str(error).splitlines()), error.keys) from None
    except DesignError as error:
        if str(error).startswith(origin):
            raise
        raise type(error)(f"{origin}: {error}") from error
    return DesignFile(path, data, spec, design)


def _materials(spec: DesignSpec, path: Path, origin: str) -> Mapping[str, Material]:
    if spec.materials:
        extra = path.parent / spec.materials_file if spec.materials_file else None
        return load_materials(extra, spec.materials, overrides_from=origin)
    return _library(path.parent / spec.materials_file if spec.materials_file else None)


@lru_cache(maxsize=8)
def _library(extra: Path | None) -> Mapping[str, Material]:
    return load_materials(extra)


def _free_outline(spec: DesignSpec, profile: FreeProfile, materials: Mapping[str, Material], path: Path) -> Outline:
    if profile.is_drawing:
        return _drawn_outline(spec, profile, materials, path)
    if profile.file is not None:
        points = read_meridian_file(path.parent / profile.file, materials)
    else:
        points = _listed_points(profile, materials)
    corner = None if profile.corner_radius is None else Corner(profile.corner_radius, "profile.corner_radius")
    return draw_meridian(
        points,
        lambda point: zone_wall(point.zone, [*wall_tables(spec, point.zone), _of_point(point)], materials),
        KINK_ANGLE if profile.kink_angle is None else profile.kink_angle,
        corner,
    )


def _of_point(point: MeridianPoint) -> tuple[str, WallSpec]:
    """What a point says of its wall as the weakest table: a table that gives the rest alone is none that lacks it."""
    material = None if point.material is None else point.material.name
    thickness = None if point.thickness is None else (point.thickness, point.thickness)
    return "wall", WallSpec.model_construct(material=material, thickness=thickness, layers=None)


def _drawn_outline(spec: DesignSpec, profile: FreeProfile, materials: Mapping[str, Material], path: Path) -> Outline:
    from diaphragm_fem.design.drawing.drawing import draw_from_file

    def wall_of(zone: str, first: float, last: float) -> Wall:
        return drawn_wall(zone, wall_tables(spec, zone), materials, first, last)

    return draw_from_file(profile, path.parent / str(profile.file), wall_of)


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
