"""Isotropic layers integrated through the wall: the A, B, D law of a shell and its inertia."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material import Material

TINY = 1e-30  # of a modulus: a complex step, whose imaginary part is the derivative to rounding
SHEAR_FACTOR = 5 / 6  # Reissner (1945): parabolic transverse shear in a homogeneous wall


def plane_stress(material: Material) -> Array:
    """(3, 3) law of plane stress on (e_s, e_th, g_sth) in Pa: E/(1-nu^2) [[1, nu, 0], [nu, 1, 0], [0, 0, (1-nu)/2]]."""
    nu = material.poisson_ratio
    return material.youngs_modulus / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])


def stiffness_law(pieces: Sequence[Piece], owner: Index, fraction: Array, material: Material) -> Array:
    """Stiffness law (8, 8, E, Q) of the layers of one material.

    pieces[owner[e]] is the piece of element e, fraction (E, Q) the place along it. Rows and columns run as the strains
    of the shell: membrane, bending (both N and M about the middle of the whole stack), transverse shear.
    Source: Reddy, Mechanics of Laminated Composite Plates and Shells (2004), ch. 3, isotropic layers (from memory).
    """
    zeroth, first, second = _moments(pieces, owner, fraction, material)
    elastic = plane_stress(material)[:, :, None, None]
    law = np.zeros((8, 8, *fraction.shape))
    law[:3, :3] = elastic * zeroth
    law[:3, 3:6] = law[3:6, :3] = elastic * first
    law[3:6, 3:6] = elastic * second
    law[6, 6] = law[7, 7] = _shear_stiffness(pieces, owner, fraction, material, zeroth)
    return law


class OneLayer(NamedTuple):
    """Elements (E,) whose wall has one layer: Young's modulus in Pa, Poisson ratio and density in kg/m3 (E, 1),
    thickness in m (E, Q) at two sets of points."""

    elements: Index
    modulus: Array
    nu: Array
    density: Array
    stiff: Array
    heavy: Array


def one_layer(pieces: Sequence[Piece], owner: Index, stiff: Array, heavy: Array) -> OneLayer:
    """Walls of one layer among elements whose pieces are pieces[owner], at fractions (E, Q) of them."""
    layers = [piece.wall.layers for piece in pieces]
    single = np.array([len(x) == 1 for x in layers])
    elements = np.flatnonzero(single[owner])
    found = [(x[0].material, x[0].begin_thickness, x[0].end_thickness) for x in layers]
    table = np.array([(x.youngs_modulus, x.poisson_ratio, x.density, begin, end) for x, begin, end in found])
    modulus, nu, density, begin, end = table[owner[elements]].T[:, :, None]
    return OneLayer(elements, modulus, nu, density, *(begin + (end - begin) * x[elements] for x in (stiff, heavy)))


def one_layer_law(walls: OneLayer) -> Array:
    """The same law (8, 8, E, Q) of walls of one layer, of any materials."""
    h, nu, plane = walls.stiff, walls.nu, walls.modulus / (1 - walls.nu**2)
    law, second = np.zeros((8, 8, *h.shape)), h * (h**2 / 12)
    for k, moment in ((0, h), (3, second)):
        law[k, k] = law[k + 1, k + 1] = plane * moment
        law[k, k + 1] = law[k + 1, k] = plane * nu * moment
        law[k + 2, k + 2] = plane * ((1 - nu) / 2) * moment
    law[6, 6] = law[7, 7] = SHEAR_FACTOR * (walls.modulus / (2 * (1 + nu))) * h
    return law


def one_layer_inertia(walls: OneLayer) -> Array:
    """The inertia (5, 5, E, Q) of walls of one layer on the motions of `inertia_law`."""
    h = walls.heavy
    inertia = np.zeros((5, 5, *h.shape))
    inertia[0, 0] = inertia[1, 1] = inertia[2, 2] = walls.density * h
    inertia[3, 3] = inertia[4, 4] = walls.density * (h * (h**2 / 12))
    return inertia


def inertia_law(pieces: Sequence[Piece], owner: Index, fraction: Array, material: Material) -> Array:
    """Inertia (5, 5, E, Q) of the layers of one material on the motions (u, v, w, b, q), arguments as above.

    Rotations move points along the tangent and around.
    """
    zeroth, first, second = (material.density * x for x in _moments(pieces, owner, fraction, material))
    inertia = np.zeros((5, 5, *fraction.shape))
    add_inertia(inertia, pieces, owner, fraction, zeroth, first, second)
    return inertia


def add_inertia(
    inertia: Array, pieces: Sequence[Piece], owner: Index, fraction: Array, zeroth: Array, first: Array, second: Array
) -> None:
    """Add moments (E, Q) of the density through the wall to an inertia (5, 5, E, Q)."""
    for k in range(3):
        inertia[k, k] += zeroth
    for k in (3, 4):
        inertia[k, k] += second
    inertia[1, 4] += first
    inertia[4, 1] += first
    if np.any(first):
        for p in np.unique(owner):
            pick = owner == p
            tangent = pieces[p].curve.tangent(fraction[pick] * pieces[p].curve.length)
            for k, component in ((0, 0), (2, 1)):
                gain = first[pick] * tangent[..., component]
                inertia[k, 3, pick] += gain
                inertia[3, k, pick] += gain


def _shear_stiffness(
    pieces: Sequence[Piece], owner: Index, fraction: Array, material: Material, thickness: Array
) -> Array:
    """One material's share (E, Q) in N/m of the transverse shear stiffness; thickness (E, Q) is all it has there.

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
    share = np.asarray(SHEAR_FACTOR * _shear_modulus(material) * thickness)
    stacks = [piece.wall.layers for piece in pieces if len(piece.wall.layers) > 1]
    place = {x: float(k) for k, x in enumerate(dict.fromkeys(layer.material for own in stacks for layer in own))}
    if material not in place:
        return share
    stacked = np.flatnonzero(np.array([len(piece.wall.layers) > 1 for piece in pieces])[owner])
    begin, end, number = layers_of(pieces, lambda x: place.get(x, 0.0))[:, owner[stacked], :, None]
    h = begin + (end - begin) * fraction[stacked, None]
    table = np.array([(plane_stress(x)[0, 0], _shear_modulus(x)) for x in place])
    plane, shear = np.moveaxis(table[number.astype(int)], -1, 0)
    grown = [1 + TINY * 1j * (number == k) for k in place.values()]
    each = np.array([_of_layers(h, plane * x, shear * x).imag / TINY for x in grown])
    positive = np.maximum(each, 0.0)
    share[stacked] = each.sum(axis=0) * positive[int(place[material])] / positive.sum(axis=0)
    return share


def _of_layers(h: Array, plane: Complex, shear: Complex) -> Complex:
    """S (E, Q) of layers (E, L, Q), plane is E/(1 - nu^2) of each, shear its shear modulus."""
    force, middle = plane * h, np.cumsum(h, axis=1) - h / 2
    middle = middle - (force * middle).sum(axis=1, keepdims=True) / force.sum(axis=1, keepdims=True)
    bending = (force * (middle**2 + h**2 / 12)).sum(axis=1)
    below = np.cumsum(force * middle, axis=1) - force * middle  # the first moment below the layer, -g at its rear face
    x, weight = np.polynomial.legendre.leggauss(3)  # exact: g^2 is of the fourth degree in z
    half = h[..., None] / 2
    z = half * x
    g = below[..., None] + plane[..., None] * (middle[..., None] * (z + half) + (z**2 - half**2) / 2)
    return np.asarray(bending**2 / ((g**2 @ weight) * h / 2 / shear).sum(axis=1))


def _shear_modulus(material: Material) -> float:
    return material.youngs_modulus / (2 * (1 + material.poisson_ratio))


def _moments(pieces: Sequence[Piece], owner: Index, fraction: Array, material: Material) -> tuple[Array, Array, Array]:
    """Integrals of 1, zeta, zeta^2 over the layers of one material, zeta from the middle of the stack."""
    h, middle, inside = layer_heights(pieces, owner, fraction, material)
    own = h * inside
    return own.sum(axis=1), (own * middle).sum(axis=1), (own * (middle**2 + h**2 / 12)).sum(axis=1)


def fibres_of(
    pieces: Sequence[Piece], materials: Sequence[Material], owner: Index, fraction: Array, number: Index
) -> tuple[Array, Array]:
    """Heights from the middle of the stack and widths (E, Q, F) in m of two fibres a layer, none where it is not of the
    material whose number (E,) is given; they integrate cubes. Other arguments as above."""
    place = {material: float(k) for k, material in enumerate(materials)}
    begin, end, own = layers_of(pieces, lambda x: place[x])[:, owner, None]
    h = begin + (end - begin) * fraction[..., None]
    middle = np.cumsum(h, axis=-1) - (h + h.sum(axis=-1, keepdims=True)) / 2
    width = h * (own == number[:, None, None]) / 2
    height = middle[..., None] + h[..., None] * (np.array([-0.5, 0.5]) / np.sqrt(3))
    shape = (*fraction.shape, -1)
    return height.reshape(shape), np.repeat(width, 2, axis=-1).reshape(shape)


def layer_heights(
    pieces: Sequence[Piece], owner: Index, fraction: Array, material: Material
) -> tuple[Array, Array, Array]:
    """Thickness and middle (E, L, Q) of every layer from the rear face on, and which (E, L, 1) are of the material."""
    begin, end, inside = layers_of(pieces, lambda x: float(x == material))[:, owner, :, None]
    h = begin + (end - begin) * fraction[:, None, :]
    return h, np.cumsum(h, axis=1) - (h + h.sum(axis=1, keepdims=True)) / 2, inside


def layers_of(pieces: Sequence[Piece], number: Callable[[Material], float]) -> Array:
    """Thickness at both ends and a number of the material (3, P, L) of every layer from the rear face on; nothing where
    a piece has fewer."""
    most, flat = max(len(piece.wall.layers) for piece in pieces), list[float]()
    for piece in pieces:
        for layer in piece.wall.layers:
            flat += layer.begin_thickness, layer.end_thickness, number(layer.material)
        flat += [0.0] * 3 * (most - len(piece.wall.layers))
    return np.array(flat).reshape(len(pieces), most, 3).transpose(2, 0, 1)
