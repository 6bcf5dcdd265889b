"""Isotropic layers integrated through the wall: the A, B, D law of a shell and its inertia."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex, Flags, Index
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.wall import lifted
from diaphragm_fem.model.quadrature import gauss
from diaphragm_fem.model.shell.strain import Geometry

Moduli = TypeVar("Moduli", Array, Complex)

TINY = 1e-30  # of a modulus: a complex step, whose imaginary part is the derivative to rounding
SHEAR_FACTOR = 5 / 6  # Reissner (1945): parabolic transverse shear in a homogeneous wall


@dataclass(frozen=True, eq=False)
class WallRows:
    """R rows, what each material is of the wall of each element: the element and the material's number (R,), Young's
    modulus in Pa, Poisson ratio and density in kg/m3 (R, 1). Of all L layers of that wall, rear face first, (R, L, 1):
    thickness in m at both ends of the piece, E/(1 - nu^2) and shear modulus in Pa, which are of the material. lift
    (4, R, 1): by which the middle of the stack stands over the meridian, see `lifted`; length (R, 1) of pieces in m;
    aside (R, 1): by which that meridian, about which it turns, stands inside of the piece's curve in m; ends (R,):
    whether it is the free end of a wall aside that is one material."""

    elements: Index
    material: Index
    modulus: Array
    nu: Array
    density: Array
    begin: Array
    end: Array
    plane: Array
    shear: Array
    own: Flags
    lift: Array
    length: Array
    aside: Array
    ends: Flags

    @cached_property
    def count(self) -> Index:
        """How many layers (R,) the wall has."""
        return np.asarray((self.begin + self.end > 0).sum(axis=(1, 2)))

    def heights(self, fraction: Array, some: Index | slice = slice(None)) -> tuple[Array, Array]:
        """Thickness and middle (R, L, Q) in m of every layer, from the meridian, at places (E, Q); of some rows."""
        at, begin = fraction[self.elements[some]], self.begin[some]
        h = begin + (self.end[some] - begin) * at[:, None]
        lift = lifted(self.lift[:, some], at)[0][:, None]
        return h, np.cumsum(h, axis=1) - (h + h.sum(axis=1, keepdims=True)) / 2 + lift

    def moments(self, fraction: Array) -> tuple[Array, Array, Array]:
        """Integrals (R, Q) of 1, z, z^2 over the layers of the material, z from the meridian."""
        h, middle = self.heights(fraction)
        own = h * self.own
        return own.sum(axis=1), (own * middle).sum(axis=1), (own * (middle**2 + h**2 / 12)).sum(axis=1)

    def fibres(self, fraction: Array, some: Index | slice = slice(None)) -> tuple[Array, Array]:
        """Heights from the meridian and widths (R, Q, F) in m of two fibres a layer, none where it is not of
        the material; they integrate cubes. Of some rows."""
        h, middle = (x.swapaxes(1, 2)[..., None] for x in self.heights(fraction, some))
        width = h * self.own[some].swapaxes(1, 2)[..., None] / 2
        height = middle + h * np.array([-0.5, 0.5]) / np.sqrt(3)
        return height.reshape(*height.shape[:2], -1), np.repeat(width, 2, axis=-1).reshape(*height.shape[:2], -1)


def wall_rows(pieces: Sequence[Piece], owner: Index, materials: Sequence[Material], aside: ArrayLike = 0.0) -> WallRows:
    """The walls of elements whose pieces are pieces[owner], in the order of the elements; aside (P,) as `WallRows`."""
    number = {material: k + 1.0 for k, material in enumerate(materials)}  # 0: no layer
    begin, end, kind = layers_of(pieces, number.__getitem__)
    table = np.array([(x.youngs_modulus, x.poisson_ratio, x.density) for x in materials])
    holds = (kind[..., None] == np.arange(1, len(materials) + 1)).any(axis=1)
    elements, material = np.nonzero(holds[owner])
    begin, end, kind = (x[owner[elements], :, None] for x in (begin, end, kind))
    modulus, nu, _ = np.moveaxis(table[kind.astype(int) - 1], -1, 0)
    own = kind == material[:, None, None] + 1
    lengths = np.array([piece.curve.length for piece in pieces])
    asides = np.broadcast_to(aside, lengths.shape)
    lift, length, aside = (x[..., owner[elements], None] for x in (lifts_of(pieces), lengths, asides))
    last = (asides[-2:] != 0).sum() == 2  # a former is the last of all, and its end where it has more than one piece
    ends = last & (owner[elements] == len(pieces) - 1) & (own.sum(axis=(1, 2)) == 2)
    layers = begin, end, modulus / (1 - nu**2), modulus / (2 * (1 + nu)), own, lift, length, aside, ends
    modulus, nu, density = table[material].T[:, :, None]
    return WallRows(elements, material, modulus, nu, density, *layers)


def stiffness_law(rows: WallRows, fraction: Array, moments: Array | None = None) -> Array:
    """Stiffness law (8, 8, R, Q) of walls at places (E, Q) along the pieces of their elements; moments (3, R, Q) are
    `WallRows.moments` there, where they are known.

    Rows and columns run as the strains of the shell: membrane, bending (both N and M about the meridian), transverse
    shear.
    Source: Reddy, Mechanics of Laminated Composite Plates and Shells (2004), ch. 3, isotropic layers (from memory).
    """
    zeroth, first, second = rows.moments(fraction) if moments is None else moments
    nu, plane = rows.nu, rows.modulus / (1 - rows.nu**2)
    law = np.zeros((8, 8, *zeroth.shape))
    for i, k, moment in ((0, 0, zeroth), (0, 3, first), (3, 0, first), (3, 3, second)):
        law[i, k] = law[i + 1, k + 1] = plane * moment
        law[i, k + 1] = law[i + 1, k] = plane * nu * moment
        law[i + 2, k + 2] = plane * ((1 - nu) / 2) * moment
    law[6, 6] = law[7, 7] = _shear_stiffness(rows, fraction, zeroth)
    return law


def turn_to_meridian(law: Array, rows: WallRows, fraction: Array) -> None:
    """Turn the law (8, 8, R, Q) of layers that rise from the meridian, at places (E, Q), from their own strains to the
    meridian's.

    A layer that rises by z' = tan a is ds/cos a long beside ds of meridian and h cos a thick where h counts along the
    normal, so the section of both is h ds. What moves with its fibres changes along them by cos a times as much as
    along the meridian, in components that are turned by a; strains around turn alone. So, own = turn @ meridian's,

        e_s: cos^2 a (e_s + z' g_sn)         g_sth: cos a (g_sth + z' g_thn)
        g_sn: cos^2 a (g_sn - z' e_s)        g_thn: cos a (g_thn - z' g_sth)
        k_s: cos^2 a k_s (once for h)        k_sth: cos a k_sth

    and under the forces N and Q across the normal a layer bears N + z' Q along and Q - z' N across it, as it must.
    Derived here; what shear along owes to k_s off the meridian is left out. Without all of it modes of a metal dome
    from 23 to 33 kHz were 0.4 to 0.7 % low where laps of 0.4 and 0.8 mm lie in front instead of up to 0.21 %.
    """
    tilted = np.flatnonzero((rows.lift[2] != rows.lift[3])[:, 0])
    if not len(tilted):
        return
    slope = lifted(rows.lift[:, tilted], fraction[rows.elements[tilted]])[1] / rows.length[tilted]
    cosine, turn = 1 / np.sqrt(1 + slope**2), np.zeros((*slope.shape, 8, 8))
    for k, power in enumerate((2, 0, 1, 2, 0, 1, 2, 1)):
        turn[..., k, k] = cosine**power
    for along, across, power in ((0, 6, 2), (2, 7, 1)):
        turn[..., along, across] = slope * cosine**power
        turn[..., across, along] = -slope * cosine**power
    own = np.moveaxis(law[:, :, tilted], (0, 1), (-2, -1))
    law[:, :, tilted] = np.moveaxis(turn.mT @ own @ turn, (-2, -1), (0, 1))


def inertia_law(rows: WallRows, at: Geometry, moments: Array) -> Array:
    """Inertia (5, 5, R, Q) of walls of some `WallRows.moments` (3, R, Q) on the motions (u, v, w, b, q); rotations move
    points along s and around."""
    inertia = np.zeros((5, 5, len(rows.elements), at.r.shape[1]))
    add_inertia(inertia, rows, at, rows.density * moments)
    return inertia


def add_inertia(
    inertia: Array, rows: WallRows, at: Geometry, moments: Array, some: Index | slice = slice(None)
) -> None:
    """Add moments (3, R, Q) of the density through some of the walls to an inertia (5, 5, R, Q)."""
    zeroth, first, second = moments
    for k, moment in enumerate((zeroth, zeroth, zeroth, second, second)):
        inertia[k, k, some] += moment
    if np.any(first):
        pick = rows.elements[some]
        for i, k, way in ((0, 3, at.t_r[pick]), (1, 4, 1.0), (2, 3, at.t_z[pick])):
            inertia[i, k, some] += way * first
            inertia[k, i, some] += way * first


def _shear_stiffness(rows: WallRows, fraction: Array, thickness: Array) -> Array:
    """Each material's share (R, Q) in N/m of the transverse shear stiffness; thickness (R, Q) is all it has there.

    A shear force V makes tau(z) = V g(z)/D in a bent wall, g the first moment of C = E/(1-nu^2) above the height z
    about the neutral surface, D the bending stiffness about it: so S = D^2 / integral(g^2/G dz), one layer gives
    5/6 G h. A material's share is dS/d ln E of all its layers, and these add up to S (Euler: S is of the first degree
    in all moduli); where one is negative, for stiffer layers may move the neutral surface to where all slide more, it
    has none, and the others are scaled. So a material's term is how the whole follows its modulus, as its losses do: by
    the energy in each layer a lap of silk on foil had 25 % too much loss at its break-up mode.
    Source: Timoshenko and Goodier, Theory of Elasticity (1970), the shear stress from equilibrium (from memory);
    compare Whitney, J. Appl. Mech. 40 (1973) 302 (named from memory).
    Limits: the layers bend about one neutral surface, so the faces of a sandwich must not bend each on their own: a
    core far softer than the faces needs the solid. Shares are taken at the reference moduli. With complex moduli, or
    moduli that change over frequency, the sum of shares times factors is linear where the law is not: a soft core
    that doubles its modulus between stiff faces is met within 0.2 %, with a loss of 0.3 within 0.04 % of that loss; one
    that is half as stiff as its faces within 5 % and 1.3 %. In two layers of unlike stiffness S may double, and it may
    even gain energy, which shares never do; there hardly anything slides.
    """
    share = SHEAR_FACTOR * (rows.modulus / (2 * (1 + rows.nu))) * thickness
    stacked = np.flatnonzero(rows.count > 1)
    if len(stacked):
        h, grown = rows.heights(fraction, stacked)[0], 1 + TINY * 1j * rows.own[stacked]
        each = shear_of_layers(h, rows.plane[stacked] * grown, rows.shear[stacked] * grown).imag / TINY
        positive, element = np.maximum(each, 0.0), rows.elements[stacked]
        whole, shared = np.zeros((2, *fraction.shape))
        np.add.at(whole, element, each)
        np.add.at(shared, element, positive)
        share[stacked] = whole[element] * positive / shared[element]
    return share


def shear_of_layers(h: Array, plane: Complex, shear: Complex) -> Complex:
    """S (E, Q) of layers (E, L, Q), plane is E/(1 - nu^2) of each, shear its shear modulus."""
    bending, g, weight = moments_below(h, plane, 3)  # exact: g^2 is of the fourth degree in z
    return np.asarray(bending**2 / ((g**2 * weight).sum(axis=-1) / shear).sum(axis=1))


def moments_below(h: Array, plane: Moduli, points: int) -> tuple[Moduli, Moduli, Array]:
    """The bending stiffness (E, Q) of layers (E, L, Q) about the neutral surface, the first moment of their stiffness
    below Gauss points in each (E, L, Q, points), the shear stress for V = -D, and the weights there in m."""
    force, middle = plane * h, np.cumsum(h, axis=1) - h / 2
    middle = middle - (force * middle).sum(axis=1, keepdims=True) / force.sum(axis=1, keepdims=True)
    bending = (force * (middle**2 + h**2 / 12)).sum(axis=1)
    below = np.cumsum(force * middle, axis=1) - force * middle  # the first moment below the layer, -g at its rear face
    x, weight = gauss(points)
    over = h[..., None] * x  # the rear face of the layer
    g = below[..., None] + (plane * middle)[..., None] * over + plane[..., None] * (over**2 - h[..., None] * over) / 2
    return bending, g, h[..., None] * weight


def lifts_of(pieces: Sequence[Piece]) -> Array:
    """By which middles of stacks stand over the meridian (4, P), as `lifted` takes it."""
    return np.array([(*piece.wall.lift, *piece.wall.passed) for piece in pieces]).T


def layers_of(pieces: Sequence[Piece], number: Callable[[Material], float]) -> Array:
    """Thickness at both ends and a number of the material (3, P, L) of every layer from the rear face on; nothing where
    a piece has fewer."""
    most, flat = max(len(piece.wall.layers) for piece in pieces), list[float]()
    for piece in pieces:
        for layer in piece.wall.layers:
            flat += layer.begin_thickness, layer.end_thickness, number(layer.material)
        flat += [0.0] * 3 * (most - len(piece.wall.layers))
    return np.array(flat).reshape(len(pieces), most, 3).transpose(2, 0, 1)
