"""What a wall of finite thickness adds to the law of a thin shell between its ends: shear under load, and curvature.

With c_s = -kappa and c_th = -t_z/r (the curvatures seen along the normal n, a fibre at height z above the mid-line is
longer by 1 + z c), C = E/(1 - nu^2), D = C h^3/12 and the strains of `shell_strain`, one layer of thickness h gains:

- shear across s: the factor 5/6 becomes 5/(6 - nu). A load q spread through the wall turns the moment's law into
  M = D k + nu h^2 q/(60 (1 - nu)); with M' = Q and q = -Q' the term, integrated by parts, is a softer factor of shear
  and a product M Q at the ends, which `joint_patch` takes over. Rayleigh-Lamb's first branch of waves is then met to
  the fourth power of the wave number (the tests measure it). Shear around keeps 5/6: with it a strip's torsion at its
  free edges is Saint-Venant's, 1 - 0.632 h/b for 1 - 0.630 h/b, and waves around are long.
- membrane and bending couple: along s by -D (c_s - c_th), around by +D (c_s - c_th), because the outer fibres are
  longer; and all four by -nu/(1 - nu) D (c_s + nu c_th) (k_s), ... because bending a curved wall squeezes it:
  the through-stress carries -(M_s c_s + M_th c_th)/h on the average and strains both directions by -nu/E of it.
- D (c_s - c_th) c_s in membrane stiffness, and in bending D (c_s h)^2 (1/(12 (1 - nu)^2) - 1/30), with which a curved
  bar in pure bending turns by M/D (1 + (h c_s)^2/30) as in elasticity (Golovin 1881; Timoshenko and Goodier, Theory of
  Elasticity (1970), art. 29: the tests evaluate it).
- inertia: rho h^3/12 (c_s + c_th) between the motion along the meridian or around and its rotation, put at the nodes:
  as near (the tests measure it), and a mass with half the entries.

Named sources recalled, from memory; first order in h c but where said. In-plane shear and twist are left as they are.
"""

from __future__ import annotations

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.shell_strain import Geometry

LARGEST_BEND = 1.0  # thickness over the radius of curvature around


def shear_gain(nu: float | Array) -> float | Array:
    """5/(6 - nu) over 5/6."""
    return 1 / (1 - nu / 6)


def bent_stiffening(nu: float | Array) -> float | Array:
    """Relative gain of the bending law of a wall with (h c_s)^2 = 1."""
    return 1 / (12 * (1 - nu) ** 2) - 1 / 30


def thicken(law: Array, at: Geometry, pick: Index, nu: Array) -> None:
    """Add to the law (8, 8, E, Q) of walls of one layer at the elements `pick` (E,) of a geometry what thickness does.

    nu (E, 1). Within a thickness of the axis there is no shell: c_th is held at `LARGEST_BEND`, so that the law stays
    positive.
    """
    membrane, bending = law[0, 0].copy(), law[3, 3].copy()
    law[6, 6] *= shear_gain(nu)
    most = LARGEST_BEND * np.sqrt(membrane / (12 * bending))
    c_s, c_th = -at.kappa[pick], np.clip(-at.t_z[pick] / at.r[pick], -most, most)
    difference = bending * (c_s - c_th)
    squeeze = nu / (1 - nu) * bending
    along, around = squeeze * (c_s + nu * c_th), squeeze * (c_th + nu * c_s)
    for i, k, gain in ((0, 3, -difference - along), (0, 4, -around), (1, 3, -along), (1, 4, difference - around)):
        law[i, k] += gain
        law[k, i] += gain
    law[0, 0] += difference * c_s
    law[1, 1] -= difference * c_th
    law[3, 3] += 12 * bending**2 / membrane * c_s**2 * bent_stiffening(nu)


def first_moment(inertia: Array, at: Geometry, pick: Index) -> Array:
    """Inertia (E, Q) in kg/m between the motion of walls of one layer along the meridian, or around, and its rotation,
    from the inertia (5, 5, E, Q) of thin ones."""
    c, most = at.kappa[pick] + at.t_z[pick] / at.r[pick], LARGEST_BEND * np.sqrt(inertia[0, 0] / (12 * inertia[3, 3]))
    return -inertia[3, 3] * np.clip(c, -most, most)
