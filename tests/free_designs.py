"""Free meridians from arrays."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.outline import Corner
from diaphragm_fem.design.meridian.zone_walls import zone_wall
from diaphragm_fem.design.profile.free_meridian import KINK_ANGLE, MeridianPoint, draw_meridian
from diaphragm_fem.design.read.build import build_design
from diaphragm_fem.design.spec.file import DesignSpec


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
    r, z, thickness = np.broadcast_arrays(*(np.asarray(x, float) for x in (r, z, thickness)))
    count = len(r)
    zones = [zone] * count if isinstance(zone, str) else list(zone)
    materials = [material] * count if isinstance(material, Material) else list(material)
    points = [
        MeridianPoint(float(r[i]), float(z[i]), zones[i], f"point {i}", float(thickness[i]), materials[i])
        for i in range(count)
    ]
    outline = draw_meridian(
        points, lambda _: zone_wall("wall", (), {}), kink_angle, Corner(corner_radius, "corner_radius")
    )
    profile = {"kind": "free", "r": ["0 mm"], "z": ["0 mm"]}
    spec = DesignSpec.model_validate({"name": name, "profile": profile})
    return replace(build_design(spec, {}, outline, name), **edges_and_coil)
