"""Isotropic layers integrated through the wall: the A, B, D law of a shell and its inertia."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material import Material

Array = NDArray[np.float64]

SHEAR_FACTOR = 5 / 6  # Reissner (1945): parabolic transverse shear in a homogeneous wall


def plane_stress(material: Material) -> Array:
    """(3, 3) law of plane stress on (e_s, e_th, g_sth) in Pa: E/(1-nu^2) [[1, nu, 0], [nu, 1, 0], [0, 0, (1-nu)/2]]."""
    nu = material.poisson_ratio
    return material.youngs_modulus / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])


def stiffness_law(pieces: Sequence[Piece], owner: NDArray[np.int64], fraction: Array, material: Material) -> Array:
    """Stiffness law (8, 8, E, Q) of the layers of one material.

    pieces[owner[e]] is the piece of element e, fraction (E, Q) the place along it. Rows and columns run as the strains
    of the shell: membrane, bending (both N and M about the middle of the whole stack), transverse shear.
    Source: Reddy, Mechanics of Laminated Composite Plates and Shells (2004), ch. 3, isotropic layers (from memory).
    """
    zeroth, first, second = _moments(pieces, owner, fraction, material)
    elastic = plane_stress(material)[:, :, None, None]
    shear = SHEAR_FACTOR * material.youngs_modulus / (2 * (1 + material.poisson_ratio))
    law = np.zeros((8, 8, *fraction.shape))
    law[:3, :3] = elastic * zeroth
    law[:3, 3:6] = law[3:6, :3] = elastic * first
    law[3:6, 3:6] = elastic * second
    law[6, 6] = law[7, 7] = shear * zeroth
    return law


def inertia_law(pieces: Sequence[Piece], owner: NDArray[np.int64], fraction: Array, material: Material) -> Array:
    """Inertia (5, 5, E, Q) of the layers of one material on the motions (u, v, w, b, q), arguments as above.

    Rotations move points along the tangent and around.
    """
    zeroth, first, second = (material.density * x for x in _moments(pieces, owner, fraction, material))
    inertia = np.zeros((5, 5, *fraction.shape))
    for k in range(3):
        inertia[k, k] = zeroth
    inertia[3, 3] = inertia[4, 4] = second
    inertia[1, 4] = inertia[4, 1] = first
    if np.any(first):
        for p in np.unique(owner):
            pick = owner == p
            tangent = pieces[p].curve.tangent(fraction[pick] * pieces[p].curve.length)
            for k, component in ((0, 0), (2, 1)):
                inertia[k, 3, pick] = inertia[3, k, pick] = first[pick] * tangent[..., component]
    return inertia


def _moments(
    pieces: Sequence[Piece], owner: NDArray[np.int64], fraction: Array, material: Material
) -> tuple[Array, Array, Array]:
    """Integrals of 1, zeta, zeta^2 over the layers of one material, zeta from the middle of the stack."""
    layers = np.zeros((3, len(pieces), max(len(piece.wall.layers) for piece in pieces)))
    for p, piece in enumerate(pieces):
        for k, layer in enumerate(piece.wall.layers):
            layers[:, p, k] = layer.begin_thickness, layer.end_thickness, layer.material.name == material.name
    begin, end, inside = layers[:, owner, :, None]
    h = begin + (end - begin) * fraction[:, None, :]
    middle = np.cumsum(h, axis=1) - (h + h.sum(axis=1, keepdims=True)) / 2
    own = h * inside
    return own.sum(axis=1), (own * middle).sum(axis=1), (own * (middle**2 + h**2 / 12)).sum(axis=1)
