"""What a wall of finite thickness adds to the law of a thin shell between its ends: shear under load, and curvature.

With c_s = -kappa and c_th = -t_z/r (the curvatures seen along the normal n, a fibre at height z above the mid-line is
longer by 1 + z c), C = E/(1 - nu^2), D = C h^3/12 and the strains of `shell.strain`, one layer of thickness h gains:

- shear across s: the factor 5/6 becomes 5/(6 - nu). A load q spread through the wall turns the moment's law into
  M = D k + nu h^2 q/(60 (1 - nu)); with M' = Q and q = -Q' the term, integrated by parts, is a stiffer factor of shear
  and a product M Q at the ends, which `joint.patch` takes over. Rayleigh-Lamb's first branch of waves is then met to
  the fourth power of the wave number (the tests measure it). Shear around keeps 5/6: with it a strip's torsion at its
  free edges is Saint-Venant's, 1 - 0.632 h/b for 1 - 0.630 h/b, and waves around are long.
- membrane and bending couple: along s by -D (c_s - c_th), around by +D (c_s - c_th), because the outer fibres are
  longer; and all four by -nu/(1 - nu) D (c_s + nu c_th) (k_s), ... because bending a curved wall squeezes it:
  the through-stress carries -(M_s c_s + M_th c_th)/h on the average and strains both directions by -nu/E of it.
- D (c_s - c_th) c_s in membrane stiffness along s, -D (c_s - c_th) c_th around, and in bending along s D (c_s h)^2
  (1/(12 (1 - nu)^2) - 1/30), with which a curved bar in pure bending turns by M/D (1 + (h c_s)^2/30) as in elasticity
  (Golovin 1881; Timoshenko and Goodier, Theory of Elasticity (1970), art. 29: the tests evaluate it).
- inertia: rho h^3/12 (c_s + c_th) between the motion along the meridian or around and its rotation, put at the nodes:
  as near (the tests measure it), and a mass with half the entries.

Of several layers the section at height z weighs (1 + z c_s)(1 + z c_th), its strain along s is (e_s + z k_s)/
(1 + z c_s), around likewise. So stiffness along s counts (1 + z c_th)/(1 + z c_s) times, around the inverse, and the
inertia as the section does: a stiff layer off the middle of a tight bend is that much longer or shorter (Fluegge,
Stresses in Shells (1960), ch. 5). Bending squeezes them, too: where the wall is stretched by e + z k, sums of both
directions, what lies at z comes nearer to the place whose deflection the shell has, the mean under shear, by the
integral of nu/(1 - nu) (e + z k) between, and strains there change by that times c_s or c_th (derived here; of one
layer it is the term above, but for what is in its factor of shear). Without it modes of conical walls of foil and silk
to 52 kHz were up to 0.16 % low where the silk lies outside, 0.10 % high where it lies inside; now they are 0.05 % low.
What it does to the inertia, 0.03 % of those, is left out, and so is shear under load.

Named sources recalled, from memory; first order in h c but where said. In-plane shear and twist are left as they are.
"""

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.model.quadrature import gauss
from diaphragm_fem.model.shell.elasticity import WallRows, add_inertia, moments_below
from diaphragm_fem.model.shell.strain import Geometry

LARGEST_BEND = 1.0  # thickness over the radius of curvature around
LARGEST = 0.8  # of z c in several layers
MOST_SQUEEZED = 0.5  # of h c by which they are squeezed, so that the law stays positive
POINTS = 4  # Gauss points through a layer
HARDLY_SLIDES = 1e3
# times the shear stiffness around that two layers have in the thick wall: waves around are far longer than what slides
# in them, but where they end, shear around, which acts on the middle, would twist the stiffer layer beside it: modes of
# m = 1 and 2 that turn a lap were 5 % too low; three layers and more may slide on a soft core. The two halves of a
# former beside the drive circle are told so, too: what acts around on its line acts beside its middle, and would twist
# it at its top by what the joint's patch has already (a soft dome's petals were 0.5 % too low). At its free end they
# slide as a strip's: petals of a metal dome on a former of 0.15 mm were 0.2 to 0.5 % too high


def shear_gain(nu: float | Array) -> float | Array:
    """5/(6 - nu) over 5/6."""
    return 1 / (1 - nu / 6)


def bent_stiffening(nu: float | Array) -> float | Array:
    """Relative gain of the bending law of a wall with (h c_s)^2 = 1."""
    return 1 / (12 * (1 - nu) ** 2) - 1 / 30


def thicken(law: Array, at: Geometry, rows: WallRows) -> None:
    """Add to the law (8, 8, R, Q) of walls what thickness does.

    Within a thickness of the axis there is no shell: c_th of one layer is held at `LARGEST_BEND`, so that the law stays
    positive.
    """
    single, stacked = _single_and_stacked(rows)
    pick, nu = rows.elements[single], rows.nu[single]
    law[7, 7, (rows.count == 2) & ~rows.ends] *= HARDLY_SLIDES
    law[6, 6, single] *= shear_gain(nu)
    membrane, bending = law[0, 0, single].copy(), law[3, 3, single].copy()
    most = LARGEST_BEND * np.sqrt(membrane / (12 * bending))
    c_s, c_th = -at.kappa[pick], np.clip(-at.t_z[pick] / at.r[pick], -most, most)
    difference = bending * (c_s - c_th)
    squeeze = nu / (1 - nu) * bending
    along, around = squeeze * (c_s + nu * c_th), squeeze * (c_th + nu * c_s)
    for i, k, gain in ((0, 3, -difference - along), (0, 4, -around), (1, 3, -along), (1, 4, difference - around)):
        law[i, k, single] += gain
        law[k, i, single] += gain
    law[0, 0, single] += difference * c_s
    law[1, 1, single] -= difference * c_th
    law[3, 3, single] += 12 * bending**2 / membrane * c_s**2 * bent_stiffening(nu)
    if len(stacked):
        z, area, long, wide = _stretched(rows, stacked, at)
        elastic = rows.modulus / (1 - rows.nu**2)
        for k, weight in ((0, wide / long), (1, long / wide)):
            zeroth, first, second = (elastic[stacked] * ((weight - 1) * area * z**n).sum(axis=(1, 3)) for n in range(3))
            for i, j, gain in ((k, k, zeroth), (k, k + 3, first), (k + 3, k, first), (k + 3, k + 3, second)):
                law[i, j, stacked] += gain
        _squeeze(law, at, rows, stacked)


def _squeeze(law: Array, at: Geometry, rows: WallRows, some: Index) -> None:
    """Add to the law what curvature does to some walls of several layers by squeezing them."""
    h, middle = rows.heights(at.fraction, some)
    pick, nu, thick = rows.elements[some], rows.nu[some], h.sum(axis=1)
    c_s, c_th = bend_of_layers(-at.kappa[pick], thick), bend_of_layers(-at.t_z[pick] / at.r[pick], thick)
    moments = squeezed(h, middle, rows.plane[some], rows.shear[some], rows.own[some])
    for k, n in np.ndindex(2, 2):
        for i, c in enumerate((c_s + nu * c_th, c_th + nu * c_s)):
            for j in range(2):
                law[3 * n + i, 3 * k + j, some] -= moments[k, n].sum(axis=1) * c
                law[3 * k + j, 3 * n + i, some] -= moments[k, n].sum(axis=1) * c


def bend_of_layers(c: float | Array, thick: float | Array) -> Array:
    """The curvature by which several layers are squeezed."""
    return np.clip(c, -MOST_SQUEEZED / thick, MOST_SQUEEZED / thick)


def squeezed(h: Array, middle: Array, plane: Array, shear: Array, own: Flags | bool = True) -> Array:
    """Integrals (2, 2, E, L, Q) of C z^n by which points come nearer where e, or k, grows by 1, over those of the
    layers that are `own`: (of e or k, n, ...); h, middle, plane and shear (E, L, Q) as `shear_of_layers` has them."""
    _, moment, weight = moments_below(h, plane, POINTS)
    shear_flow = moment * weight
    z, soft = middle[..., None] + h[..., None] * (gauss(POINTS)[0] - 0.5), (plane / (2 * shear) - 1) * (h > 0)
    found = np.empty((2, 2, *h.shape))
    for k, (whole, part) in enumerate(((h, z), (h * middle, z**2 / 2))):
        begin = (middle - h / 2) ** (k + 1) / (k + 1)
        near = (np.cumsum(soft * whole, axis=1) - soft * (whole + begin))[..., None] + soft[..., None] * part
        near -= (near * shear_flow).sum(axis=(1, 3), keepdims=True) / shear_flow.sum(axis=(1, 3), keepdims=True)
        found[k] = [(plane * own) * (weight * near * z**n).sum(axis=-1) for n in range(2)]
    return found


def thicken_inertia(inertia: Array, at: Geometry, rows: WallRows) -> Array:
    """Add to the inertia (5, 5, R, Q) of walls of several layers what curvature does, and return what it does to those
    of one: the inertia (R, Q) in kg/m between motion along the meridian, or around, and its rotation."""
    single, stacked = _single_and_stacked(rows)
    pick, second, moment = rows.elements[single], inertia[3, 3, single], np.zeros(inertia.shape[2:])
    c, most = at.kappa[pick] + at.t_z[pick] / at.r[pick], LARGEST_BEND * np.sqrt(inertia[0, 0, single] / (12 * second))
    moment[single] = -second * np.clip(c, -most, most)
    if len(stacked):
        z, area, along, around = _stretched(rows, stacked, at)
        more = rows.density[stacked, None, None] * (along * around - 1) * area
        add_inertia(inertia, rows, at, np.array([(more * z**n).sum(axis=(1, 3)) for n in range(3)]), stacked)
    return moment


def longer(curvature: float | Array, z: Array) -> Array:
    """1 + z c of fibres at heights z."""
    return 1 + np.clip(z * curvature, -LARGEST, LARGEST)


def _single_and_stacked(rows: WallRows) -> tuple[Index | slice, Index]:
    """Rows of walls of one layer, as a view where all are, and of more."""
    stacked = np.flatnonzero(rows.count > 1)
    return np.flatnonzero(rows.count == 1) if len(stacked) else slice(None), stacked


def _stretched(rows: WallRows, some: Index, at: Geometry) -> tuple[Array, Array, Array, Array]:
    """Heights, thickness of the material there, and how much longer fibres are along s and around, (R, L, Q, points)
    of some rows."""
    h, middle = (x[..., None] for x in rows.heights(at.fraction, some))
    pick, (x, w) = rows.elements[some], gauss(POINTS)
    z = middle + h * (x - 0.5)
    along = longer(-at.kappa[pick][:, None, :, None], z)
    around = longer((-at.t_z[pick] / at.r[pick])[:, None, :, None], z - rows.aside[some, :, None, None])
    return z, h * rows.own[some, ..., None] * w, along, around
