"""The law of a laminate along an arm of a joint's patch, and the stress that a plate of these layers carries.

With C = E/(1 - nu^2) of each layer and z from the line on which walls meet, (N, M) = [[A, B], [B, D]] (e, k), A, B, D
the integrals of C, C z, C z^2. Where N is constant and M' = Q the stress C (e + z k) changes along the wall and the
shear stress tau(z) is what balances it; S, with 1/S the integral of tau^2/G for Q = 1, is that of `elasticity`. All
this is exact plane strain between the ends of a straight laminate. A layer's share is how the whole follows its
modulus, as in `elasticity`: for N and M its energy, for Q not, because tau(z) follows the moduli.
"""

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.model.joint.kind import Arm, Ply, unit
from diaphragm_fem.model.quadrature import gauss
from diaphragm_fem.model.shell.elasticity import TINY, shear_of_layers
from diaphragm_fem.model.shell.thick_wall import bend_of_layers, longer, squeezed

Layered: TypeAlias = "tuple[float, complex, float]"  # a ply whose modulus may have an imaginary part
POINTS = 6  # Gauss points along a bend and through a layer


def resultants(arm: Arm, s: float | Array) -> Array:
    """(N, Q, M) (..., 3, 3) at arc lengths s, which run away from the joint, from the arm's (f_r, f_z, m)."""
    at, angle = arm.place(np.asarray(s))
    c, d = unit(angle)
    none, one = np.zeros_like(c), np.ones_like(c)
    rows = np.array([[c, d, none], [-d, c, none], [-at[1], at[0], one]])
    return np.moveaxis(rows, (0, 1), (-2, -1))


def shear_stiffness(layers: Sequence[Layered]) -> complex:
    """In N/m, of shear around."""
    return sum(h * modulus / (2 * (1 + nu)) for h, modulus, nu in layers)


def layered_stress(layers: Sequence[Layered], lift: float, elastic: Complex, z: Array) -> list[Complex]:
    """Stress along for N = 1 and for M = 1, and shear stress for Q = 1, at heights z (K, Q) in m over the line, in
    layers whose middle lies by `lift` over it and whose Young's modulus and Poisson ratio are elastic (K, 2)."""
    soft = np.linalg.inv(_plane_laws(layers, lift).sum(axis=0))
    modulus, nu = elastic.T[:, :, None]
    own = modulus / (1 - nu**2)
    along = [own * (soft[0, k] + z * soft[1, k]) for k in range(2)]
    return [*along, _balance(layers, lift, soft[:, 1], z)]


def softness(layers: Sequence[Ply], lift: float, c: float) -> Array:
    """Compliance (L, 3, 3) of a piece of wall under (N, Q, M), by layer its fall with ln E; c as in `thick_wall`."""
    laws, grown = _plane_laws(layers, lift, c), 1 + TINY * 1j * np.eye(len(layers))[..., None]
    soft, (h, modulus, nu) = np.linalg.inv(laws.sum(axis=0)), np.array(layers).T[..., None]
    found = np.zeros((len(layers), 3, 3))
    found[:, ::2, ::2] = soft @ laws @ soft
    shear = shear_of_layers(h[None], modulus / (1 - nu**2) * grown, modulus / (2 * (1 + nu)) * grown)
    found[:, 1, 1] = -(1 / shear[:, 0]).imag / TINY
    return found


def stiffened(layers: Sequence[Layered], n: int) -> list[Layered]:
    """Layers of which the n-th is stiffer by a complex step."""
    grows = [1 + TINY * 1j * (k == n) for k in range(len(layers))]
    return [(h, modulus * more, nu) for (h, modulus, nu), more in zip(layers, grows, strict=True)]


def _borders(layers: Sequence[Layered], lift: float) -> Array:
    h = np.array([h for h, _, _ in layers])
    return np.concatenate(([0.0], np.cumsum(h))) - h.sum() / 2 + lift


def _plane_laws(layers: Sequence[Layered], lift: float, c: float = 0.0) -> Array:
    """[[A, B], [B, D]] (L, 2, 2) of every layer."""
    x, w = gauss(POINTS)
    h, modulus, nu = (np.array(x) for x in zip(*layers, strict=True))
    plane = modulus / (1 - nu**2)
    z = _borders(layers, lift)[:-1, None] + h[:, None] * x
    each = (plane * h)[:, None] * w / longer(c, z)
    moments = np.array([(each * z**k).sum(axis=1) for k in range(3)])
    law = moments[[[0, 1], [1, 2]]]
    if c:
        one = np.array((h, z @ w, plane, modulus / (2 * (1 + nu))))[:, None, :, None]
        half = squeezed(one[0], one[1], one[2], one[3])[:, :, 0, :, 0] * bend_of_layers(c, h.sum())
        law -= half + half.swapaxes(0, 1)
    return np.moveaxis(law, -1, 0)


def _balance(layers: Sequence[Layered], lift: float, change: Array, z: Array) -> Array:
    """Shear stress at heights z that balances the stress along, which changes by C (e + z k), (e, k) = change."""
    found, borders = np.zeros(z.shape, change.dtype), _borders(layers, lift)
    for low, high, (_, modulus, nu) in zip(borders[:-1], borders[1:], layers, strict=True):
        top = np.clip(z, low, high)
        found -= modulus / (1 - nu**2) * (change[0] * (top - low) + change[1] * (top**2 - low**2) / 2)
    return found
