"""The thicknesses that a file of points gives its zones: no key of the design file holds them, yet they are levers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from diaphragm_fem.design.profile.meridian_file import read_meridian_file
from diaphragm_fem.design.spec.profile import FreeProfile
from diaphragm_fem.errors import DesignError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from diaphragm_fem.design.profile.free_meridian import MeridianPoint
    from diaphragm_fem.design.read.read import DesignFile


def thickness_by_points(file: DesignFile) -> Mapping[str, float]:
    """The largest thickness in m that a file of points gives each zone without its own in a table; none where no
    such file gives it to all points."""
    points = _points(file)
    own = {zone for zone, table in file.spec.zones.items() if table.gives_thickness}
    zones = dict.fromkeys(piece.zone.name for piece in file.design.meridian if piece.zone.name not in own)
    return {zone: max(p.thickness or 0.0 for p in points if p.zone == zone) for zone in zones} if points else {}


def with_thickness(file: DesignFile, zone: str, factor: float) -> dict[str, Any]:
    """The table [profile] with the points of its file as lists, the thickness of one zone's times a factor."""
    points = _points(file)
    lists: dict[str, list[str]] = {
        "r": [f"{p.r!r} m" for p in points],
        "z": [f"{p.z!r} m" for p in points],
        "thickness": [f"{(p.thickness or 0.0) * (factor if p.zone == zone else 1.0)!r} m" for p in points],
        "zone": [p.zone for p in points],
        "role": [p.role for p in points],
    }
    named = [p.material.name for p in points if p.material is not None]
    rest = {key: value for key, value in file.data["profile"].items() if key != "file"}
    return {**rest, **lists, **({"material": named} if named else {})}


def _points(file: DesignFile) -> list[MeridianPoint]:
    """The points of a design's file, where each has a thickness and each or none a material."""
    profile = file.spec.profile
    if not isinstance(profile, FreeProfile) or profile.file is None or profile.is_drawing:
        return []
    known = {material.name: material for material in file.design.materials}
    try:
        points = read_meridian_file(Path(file.path or "design").parent / profile.file, known)
    except DesignError:  # of a material that a table of its zone has replaced
        return []
    whole = all(p.thickness is not None for p in points) and len({p.material is None for p in points}) == 1
    return points if whole else []
