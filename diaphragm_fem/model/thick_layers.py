"""What curvature does to a wall of several layers: a fibre at height z is longer by 1 + z c, along s and around.

With c_s = -kappa, c_th = -t_z/r as in `thick_wall`, the section at height z weighs (1 + z c_s)(1 + z c_th), its
strain along s is (e_s + z k_s)/(1 + z c_s), around likewise. So stiffness along s counts (1 + z c_th)/(1 + z c_s)
times, around the inverse, and the inertia as the section does. A stiff layer off the middle of a tight bend is that
much longer or shorter. In-plane shear, twist, shear across and the squeeze of a curved wall are left as they are. z c
is held at +-`LARGEST`.

Source: strains of thick curved shells, e.g. Fluegge, Stresses in Shells (1960), ch. 5 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material import Material
from diaphragm_fem.model.elasticity import add_inertia, layer_heights, plane_stress
from diaphragm_fem.model.shell_strain import Geometry
from diaphragm_fem.model.solid_shapes import gauss

LARGEST = 0.8  # of z c
POINTS = 4  # Gauss points through a layer


def thicken_layers(
    law: Array, pieces: Sequence[Piece], owner: Index, fraction: Array, at: Geometry, pick: Index, material: Material
) -> None:
    """Add to the law (8, 8, E, Q) of one material's layers at the elements `pick` (E,) of a geometry what curvature
    does; other arguments as in `elasticity.stiffness_law`."""
    z, area, along, around = _stretched(pieces, owner, fraction, at, pick, material)
    elastic = plane_stress(material)[0, 0]
    for k, weight in ((0, around / along), (1, along / around)):
        zeroth, first, second = (elastic * ((weight - 1) * area * z**n).sum(axis=(1, 3)) for n in range(3))
        law[k, k] += zeroth
        law[k, k + 3] += first
        law[k + 3, k] += first
        law[k + 3, k + 3] += second


def thicken_inertia(
    inertia: Array,
    pieces: Sequence[Piece],
    owner: Index,
    fraction: Array,
    at: Geometry,
    pick: Index,
    material: Material,
) -> None:
    """The same for the inertia (5, 5, E, Q)."""
    z, area, along, around = _stretched(pieces, owner, fraction, at, pick, material)
    more = material.density * (along * around - 1) * area
    add_inertia(inertia, pieces, owner, fraction, *((more * z**n).sum(axis=(1, 3)) for n in range(3)))


def longer(curvature: float | Array, z: Array) -> Array:
    """1 + z c of fibres at heights z."""
    return 1 + np.clip(z * curvature, -LARGEST, LARGEST)


def _stretched(
    pieces: Sequence[Piece], owner: Index, fraction: Array, at: Geometry, pick: Index, material: Material
) -> tuple[Array, Array, Array, Array]:
    """Heights, thickness that counts there, and how much longer fibres are along s and around, (E, L, Q, points)."""
    h, middle, inside = layer_heights(pieces, owner, fraction, material)
    x, w = gauss(POINTS)
    z = middle[..., None] + h[..., None] * (x - 0.5)
    along = longer(-at.kappa[pick][:, None, :, None], z)
    around = longer((-at.t_z[pick] / at.r[pick])[:, None, :, None], z)
    return z, (h * inside)[..., None] * w, along, around
