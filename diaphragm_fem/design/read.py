"""Reading designs: from a TOML file, from the same data in Python, from arrays."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import radians
from pathlib import Path
from re import findall
from typing import Any

from numpy.typing import ArrayLike
from pydantic import ValidationError

from diaphragm_fem.design.build import build_design, wall_tables
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.freemeridian import KINK_ANGLE, MeridianPoint, draw_meridian
from diaphragm_fem.design.library import find_material, load_materials
from diaphragm_fem.design.material import Material
from diaphragm_fem.design.meridianfile import read_meridian_file
from diaphragm_fem.design.outline import Corner, Outline
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.profile import FreeProfile
from diaphragm_fem.design.spec.refusal import refusal
from diaphragm_fem.design.walls import zone_wall
from diaphragm_fem.errors import DesignError

Changes = Mapping[str, Any]


@dataclass(frozen=True)
class DesignFile:
    """A design with where it came from: the file's data with the changes made, the checked tables, the design."""

    path: Path | None
    data: Mapping[str, Any]
    spec: DesignSpec
    design: Design

    @property
    def notes(self) -> tuple[str, ...]:
        return self.design.notes


def load_design(path: str | Path, changes: Changes | None = None) -> Design:
    """The design of a TOML file; `changes` maps key paths such as "profile.outer.steps.0.tread" to new values.

    Raises DesignError naming the file, the key, what was received and what is allowed.

    >>> design = load_design("studies/metal_dome.toml", {"wall.thickness": "40 um"})
    >>> design.name, [zone.name for zone in design.zones]
    ('north hall, metal dome', ['dome', 'surround', 'former', 'winding'])
    """
    return read_design_file(path, changes).design


def read_design_file(path: str | Path, changes: Changes | None = None) -> DesignFile:
    """As load_design, with the file's data and checked tables beside the design."""
    path = Path(path)
    data = read_toml(path)
    return _read(changed(data, changes, str(path)) if changes else data, str(path), path)


def design_from(
    data: Mapping[str, Any], origin: str = "design", *, folder: str | Path = ".", changes: Changes | None = None
) -> Design:
    """The design of the same data from Python; files it names lie in `folder`, messages begin with `origin`."""
    return _read(changed(data, changes, origin) if changes else data, origin, Path(folder) / "design").design


def free_design(
    r: ArrayLike,
    z: ArrayLike,
    thickness: ArrayLike,
    material: Material | Sequence[Material],
    *,
    zone: str | Sequence[str] = "wall",
    name: str = "free meridian",
    kink_angle: float = KINK_ANGLE,
    corner_radius: float = 0.0,
    **edges_and_coil: Any,
) -> Design:
    """A free meridian from arrays in SI: r, z and thickness (P,) in metres, from the axis or inner edge outward.

    thickness may be one number. zone and material may be one for all or one per point, each holding from its point to
    the next. Where the meridian turns by more than kink_angle (rad) it keeps a kink, rounded by corner_radius (m).
    Further keywords are fields of Design: inner_edge, outer_edge (free where absent), joint, former, ring.
    """
    import numpy as np

    r, z, thickness = np.broadcast_arrays(*(np.asarray(x, float) for x in (r, z, thickness)))
    count = len(r)
    zones = [zone] * count if isinstance(zone, str) else list(zone)
    materials = [material] * count if isinstance(material, Material) else list(material)
    if not len(zones) == len(materials) == count:
        raise DesignError(
            f"zone and material need one value or one per point ({count}); received {len(zones)} and {len(materials)}"
        )
    points = [
        MeridianPoint(float(r[i]), float(z[i]), zones[i], f"point {i}", float(thickness[i]), materials[i])
        for i in range(count)
    ]
    outline = draw_meridian(
        points, lambda _: zone_wall("wall", (), {}), kink_angle, Corner(corner_radius, "corner_radius")
    )
    profile = {"kind": "free", "r": ["0 mm"], "z": ["0 mm"]}
    spec = DesignSpec.model_validate({"name": name, "profile": profile})
    return replace(build_design(spec, {}, outline), **edges_and_coil)


def read_toml(path: Path) -> dict[str, Any]:
    """The data of a TOML file; DesignError where it is missing or not TOML (with the line)."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise DesignError(f"{path}: there is no such file; give the path of a design file (*.toml)") from None
    except OSError as error:
        raise DesignError(f"{path}: the file cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise DesignError(f"{path}: the file is not text in UTF-8: {error}") from error
    except tomllib.TOMLDecodeError as error:
        raise DesignError(f"{path}: not a valid TOML file: {error}; texts and quantities stand in quotes") from error


def changed(data: Mapping[str, Any], changes: Changes, origin: str = "design") -> dict[str, Any]:
    """A copy of the data with values set by key path; tables on the way are made where absent, list items are not.

    An item of a list may also be written steps[0]; a key with a dot in it stands in quotes, as in TOML.
    """
    copy: dict[str, Any] = copied(data)
    for path, value in changes.items():
        keys = [name.strip('"') for name in findall(r'"[^"]*"|[^.\[\]]+', path)]
        place: Any = copy
        for n, key in enumerate(keys):
            here = ".".join(keys[: n + 1])
            last = n == len(keys) - 1
            if isinstance(place, list):
                if not key.isdigit() or int(key) >= len(place):
                    raise DesignError(
                        f"{origin}: {here}: '{key}' must number one of the {len(place)} items there, counted from 0"
                    )
                index: Any = int(key)
            elif isinstance(place, dict):
                index = key
                if not last:
                    place.setdefault(key, {})
            else:
                raise DesignError(
                    f"{origin}: {path}: {'.'.join(keys[:n])} is a value, not a table, so it has no '{key}'"
                )
            if last:
                place[index] = value
            else:
                place = place[index]
    return copy


def copied(data: Any) -> Any:
    """A copy in which no two places share a table, unlike deepcopy's."""
    if isinstance(data, Mapping):
        return {key: copied(value) for key, value in data.items()}
    return [copied(item) for item in data] if isinstance(data, list | tuple) else data


def _read(data: Mapping[str, Any], origin: str, path: Path) -> DesignFile:
    try:
        spec = DesignSpec.model_validate(data)
    except ValidationError as error:
        raise refusal(error, data, origin) from None
    try:
        materials = _materials(spec, path, origin)
        outline = _free_outline(spec, spec.profile, materials, path) if isinstance(spec.profile, FreeProfile) else None
        design = build_design(spec, materials, outline, name=path.stem)
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
    if profile.file is not None:
        points = read_meridian_file(path.parent / profile.file, materials)
    else:
        points = _listed_points(profile, materials)
    corner = None if profile.corner_radius is None else Corner(profile.corner_radius, "profile.corner_radius")
    return draw_meridian(
        points,
        lambda zone: zone_wall(zone, wall_tables(spec, zone), materials),
        radians(15) if profile.kink_angle is None else profile.kink_angle,
        corner,
    )


def _listed_points(profile: FreeProfile, materials: Mapping[str, Material]) -> list[MeridianPoint]:
    r, z = profile.r or (), profile.z or ()
    zone, thickness, material, role = profile.zone, profile.thickness, profile.material, profile.role
    for key, values in (("z", z), ("thickness", thickness), ("zone", zone), ("material", material), ("role", role)):
        if values is not None and len(values) != len(r):
            raise DesignError(
                f"profile.{key}: the lists must be equally long; received {len(values)} values beside {len(r)} of r"
            )
    return [
        MeridianPoint(
            r=r[i],
            z=z[i],
            zone="wall" if zone is None else zone[i],
            row=f"profile, point {i}",
            thickness=None if thickness is None else thickness[i],
            material=None if material is None else find_material(materials, material[i], where=f"profile.material.{i}"),
            role="" if role is None else role[i],
        )
        for i in range(len(r))
    ]
