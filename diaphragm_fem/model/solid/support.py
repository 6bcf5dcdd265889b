"""Supports of the wall section: the axis, held edges, elastic edges, as rules on raw degrees of freedom.

A support of a shell acts on the motion of its mid-line; a wall of finite thickness needs a reading of it:

- a motion held together with the rotation: held over the whole end face (clamped: the face does not move);
- a motion held alone: its mean through the wall is zero (hinged; a mean and not a point, which in a solid would be
  singular), and the face may turn;
- the rotation held: the motion along the meridian is the same across the whole face (it stays plane and parallel);
- where all motion across the wall is held, the face turns about the meridian no more than it does as it moves around
  with v ~ r: the mean slope of v is -t_z v/r (the hard condition, as in the shell);
- springs act on the same means, and on the best-fit slope of the face.
"""

from dataclasses import dataclass
from functools import cached_property
from math import inf

import numpy as np
from scipy.linalg import null_space
from scipy.sparse import coo_matrix, csc_matrix, csr_matrix, hstack, identity

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.meridian.edge import Edge
from diaphragm_fem.model.shell.assembly import Blocks, Numbering
from diaphragm_fem.model.solid.inside import Following
from diaphragm_fem.model.solid.lines import CrossFace, U, V, W, row_of
from diaphragm_fem.model.solid.shapes import Shapes

ROUNDING = 1e-9  # of the largest coefficient of a rule
COMPONENT = {"u": U, "v": V, "w": W}


@dataclass(frozen=True)
class Reduction:
    """From raw degrees of freedom (3 N,) to free unknowns (n,): raw = `to_raw` @ unknowns.

    numbering is of those that are free; `rules` is None, or the sparse map from the unknowns that remain after the
    linear rules of the edges back to those numbered; following what has none of its own and moves with others.
    """

    numbering: Numbering
    rules: csr_matrix | None
    following: tuple[Following, ...]

    @property
    def size(self) -> int:
        return self.numbering.size if self.rules is None else int(self.rules.shape[1])

    def matrices(self, owners: int, *pieces: tuple[Index | int, Index, *tuple[Array, ...]]) -> list[list[csr_matrix]]:
        """Sparse (n, n) of each set and of each of 0...owners - 1, the sum of its cell blocks: pieces tell owner (E,),
        or one of all, raw degrees of freedom (E, F) and blocks (E, F, F) on them of every set."""
        every = Blocks(self.numbering, owners, len(pieces[0]) - 2)
        for owner, dofs, *blocks in pieces:
            every.add(owner, dofs, *blocks)
        found, rules = every.sums(), self.rules
        return found if rules is None else [[csr_matrix(rules.T @ one @ rules) for one in own] for own in found]

    def row(self, raw: Array) -> Array:
        """A functional (3 N,) on raw degrees of freedom as one on the unknowns (n,)."""
        return np.asarray(self.to_raw.T @ raw)

    def map(self, raw: csr_matrix) -> csr_matrix:
        """A sparse map (P, 3 N) from raw degrees of freedom as one from the unknowns."""
        return csr_matrix(raw @ self.to_raw)

    @cached_property
    def to_raw(self) -> csr_matrix:
        """Sparse map (3 N, n) from the unknowns to all raw degrees of freedom."""
        found = self.numbering.pick(np.arange(len(self.numbering.unknown)))
        if self.following:
            found = found + self._led @ found
        return found if self.rules is None else csr_matrix(found @ self.rules)

    @cached_property
    def _led(self) -> csr_matrix:
        """How raw degrees of freedom that follow are led by others (3 N, 3 N)."""
        each = [np.broadcast_arrays(x.own[:, :, None], x.leading[:, None], x.share) for x in self.following]
        row, column, value = (np.concatenate([x.ravel() for x in every]) for every in zip(*each, strict=True))
        return csr_matrix(coo_matrix((value, (row, column)), shape=(len(self.numbering.unknown),) * 2))


def reduce_unknowns(
    shapes: Shapes,
    following: tuple[Following, ...],
    m: int,
    axis: list[CrossFace],
    edges: list[tuple[CrossFace, list[str]]],
) -> Reduction:
    """Number the free unknowns of order m, all that functions in use have but for what follows.

    axis lists the faces on r = 0; edges the other end faces with the shell unknowns (u, v, w, b, q) held there.
    Regularity at r = 0: m = 0 only w lives; m = 1 w = 0 and u + v = 0; m >= 2 nothing moves.
    """
    free = np.repeat(shapes.used[:, None], 3, axis=1)
    for one in following:
        free.flat[one.own] = False
    same, sign = np.arange(free.size).reshape(free.shape), np.ones(free.shape)
    if m == 0:
        free[:, V] = False
    for face in axis:
        gone = {0: [U, V], 1: [W]}.get(m, [U, V, W])
        free[face.nodes[:, None], gone] = False
        if m == 1:
            same[face.nodes, V] = same[face.nodes, U]
            sign[face.nodes, V] = -1.0
    rules: list[tuple[Index, Array]] = []
    for face, held in edges:
        rules += _edge_rules(face, held, free)
    numbering = Numbering.of(same.ravel(), free.ravel(), sign.ravel(), np.repeat(shapes.elimination, 3))
    return Reduction(numbering, _solve_rules(rules, numbering.unknown, numbering.size), following)


def _edge_rules(face: CrossFace, held: list[str], free: Flags) -> list[tuple[Index, Array]]:
    """Hold whole faces in `free`, and return the linear rules: (raw degrees of freedom, coefficients)."""
    rules: list[tuple[Index, Array]] = []
    nodes, t = face.nodes, face.tangent
    for name, component in COMPONENT.items():
        if name in held and "b" in held:
            free[nodes, component] = False
        elif name in held:
            rules.append((3 * nodes + component, face.mean[nodes]))
    if "b" in held:
        first = face.corners[0]
        for node in face.corners[1:]:
            rules.append((np.array([3 * node + U, 3 * node + W, 3 * first + U, 3 * first + W]), np.array([*t, *-t])))
        rules += [(np.array([3 * node + U, 3 * node + W]), t) for node in face.inner]
    if "q" in held:
        slope = t[1] / face.radius if "u" in held else 0.0
        rules.append((3 * nodes + V, face.moment[nodes] + slope * face.mean[nodes]))
    return rules


def _solve_rules(rules: list[tuple[Index, Array]], unknown: Index, count: int) -> csr_matrix | None:
    """Sparse (count, n) map whose columns span what the rules allow: the identity away from the edges' unknowns."""
    # what a held motion leaves of a rule is one only if it is more than rounding
    left = [(unknown[dofs], value / np.abs(value).max()) for dofs, value in rules]
    rows = [(number, value) for number, value in left if np.abs(value[number >= 0]).max(initial=0.0) > ROUNDING]
    if not rows:
        return None
    touched = np.unique(np.concatenate([number[number >= 0] for number, _ in rows]))
    dense = np.zeros((len(rows), len(touched)))
    for i, (number, value) in enumerate(rows):
        np.add.at(dense[i], np.searchsorted(touched, number[number >= 0]), value[number >= 0])
    kernel = null_space(dense / np.maximum(np.abs(dense).max(axis=1, keepdims=True), ROUNDING))
    kept = np.setdiff1d(np.arange(count), touched)
    keep = csr_matrix(identity(count, format="csr")[:, kept])
    row, column = np.nonzero(np.abs(kernel) > 1e-14)
    spread = csr_matrix((kernel[row, column], (touched[row], column)), shape=(count, kernel.shape[1]))
    every = csc_matrix(hstack([keep, spread], format="csc"))
    return csr_matrix(every[:, np.argsort(every.indices[every.indptr[:-1]], kind="stable")])  # by their first unknown


def springs(face: CrossFace, edge: Edge) -> list[tuple[Array, float]]:
    """Functionals (3 N,) and stiffness per metre of an elastic edge."""
    held = edge.stiffness
    found = [(face.mean_of(component), held[x]) for x, component in COMPONENT.items() if 0 < held[x] < inf]
    if 0 < edge.rotation < inf:
        found.append((row_of(face.moment, (face.tangent[0], 0.0, face.tangent[1])), edge.rotation))
    return found
