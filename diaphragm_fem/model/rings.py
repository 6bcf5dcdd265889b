"""What is added circle by circle: winding, plain ring, elastic supports, alike for both models; the shell's glue."""

from collections.abc import Sequence

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Bead, Ring, Winding
from diaphragm_fem.design.glued.bead import bead_section
from diaphragm_fem.model.law import Constant, Elastic
from diaphragm_fem.model.structure import STIFFNESS, Term, body

WITH_ITS_WALL = np.eye(3)
GLUE = "glue"  # made of it: elastic, yet no wall


def winding_blocks(
    winding: Winding, length: float, m: int, around: float, hoop: tuple[Array, Array, Array], mass: tuple[Array, Array],
    moves: Array = WITH_ITS_WALL,
) -> tuple[Array, Array]:  # fmt: skip
    """Stiffness and mass (E, M F, M F) of a winding spread over its length, on M motions function by function; moves
    (3, M) says its own u, v, w of them, which are these themselves where it is left out.

    Hoop force per length (E A/L) e_th with e_th = (u + m v)/r, mass per area mass/(2 pi r L). hoop holds the functions
    (F, E, Q), the weights times ds (E, Q) and the radius (E, Q) at the points for the stiffness; mass the first two at
    those for the mass. around is the integral of cos^2(m theta) over the circle.
    """
    shape, share, r = hoop
    strain = np.array([1.0, m, 0.0]) @ moves
    stretching = _products(shape, share / r) * (winding.hoop_stiffness * around / length)
    inertia = _products(*mass) * (winding.mass * around / (2 * np.pi * length))
    return _on_motions(np.outer(strain, strain), stretching), _on_motions(moves.T @ moves, inertia)


def _products(shape: Array, share: Array) -> Array:
    """Integrals (E, F, F) of the products of functions (F, E, Q)."""
    n = shape.transpose(1, 0, 2)
    return np.asarray((n * share[:, None]) @ n.transpose(0, 2, 1))


def _on_motions(motions: Array, products: Array) -> Array:
    count, size, _ = products.shape
    each = motions[:, None, :, None] * products[:, None, :, None]
    return np.asarray(each.reshape(count, len(motions) * size, len(motions) * size))


def winding_terms(winding: Winding, zone: int, stiffness: csr_matrix, mass: csr_matrix) -> tuple[Term, Term]:
    """The two terms of a winding from its assembled matrices."""
    return body(stiffness, mass, Constant(1 + 1j * winding.loss_factor), "winding", zone)


def ring_terms(ring: Ring, u: Array, v: Array, w: Array, radius: float, m: int, around: float) -> tuple[Term, Term]:
    """A plain ring on the motions u, v, w (n,) of a circle: mass on all three; hoop force E A (u + m v)/r."""
    stiffness = ring.hoop_stiffness * around / radius * square(u + m * v)
    mass = ring.mass * around / (2 * np.pi) * (square(u) + square(v) + square(w))
    return body(csr_matrix(stiffness), csr_matrix(mass), Constant(1 + 1j * ring.loss_factor), "ring")


def bead_terms(bead: Bead, zone: int, u: Array, v: Array, w: Array, m: int, around: float) -> tuple[Term, Term]:
    """A bead of glue as a ring on the motions u, v, w (n,) of its centroid: its section's mass and hoop stiffness."""
    (area, radius, _), material = bead_section(bead), bead.material
    stiffness = material.youngs_modulus * area * around / radius * square(u + m * v)
    mass = material.density * area * radius * around * (square(u) + square(v) + square(w))
    return body(csr_matrix(stiffness), csr_matrix(mass), Elastic(material), GLUE, zone)


def support_term(springs: Sequence[tuple[Array, float]], radius: float, around: float, loss_factor: float) -> Term:
    """The elastic support of an edge: springs per metre of edge, each on a motion (n,) of it."""
    stiffness = sum(around * radius * k * square(row) for row, k in springs)
    return Term(csr_matrix(stiffness), Constant(1 + 1j * loss_factor), STIFFNESS, made_of="support")


def square(row: Array) -> csr_matrix:
    """The sparse outer product of a functional with itself."""
    column = csr_matrix(row[:, None])
    return csr_matrix(column @ column.T)
