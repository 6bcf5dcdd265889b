"""Pieces of wall united in one plane section and cut into quadrilaterals by gmsh.

Where pieces overlap, the stiffer material fills. Triangles, fine at corners, are each divided into three
quadrilaterals; sides on curves lie on them. So a cell has one point of the drawing at most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.meridian.curve import Curve
from diaphragm_fem.design.meridian.outline import Point, begin, end
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.gmsh_model import gmsh_model
from diaphragm_fem.mesh.plane_face import MM, draw_face
from diaphragm_fem.mesh.section_plan import FLATTEST, flatness

SAME = 1e-8  # m
QUADRILATERAL = 10  # gmsh's number of the one of nine nodes
CORNER_SIZE = 0.6  # of the wall: triangles at corners
WALL_SIZE = 1.5  # of the wall: triangles elsewhere
SMOOTH = 0.15  # radians that a face or a border of materials may turn without a corner
MOST_CELLS = 5_000  # that are cut finer: each time takes twice as many; a hundred to a thousand are usual
FINER = (1.5, 2.2, 3.3)  # tried in turn where cells are too flat


@dataclass(frozen=True)
class Patch:
    """One piece of a union: its closed outline end to end, thickness in m, Young's modulus in Pa, and rank: of two
    that overlap the lower one fills."""

    outline: Sequence[Curve]
    thickness: float
    modulus: float
    rank: float


@dataclass(frozen=True)
class Cut:
    """The cells of a union: points (N, 2) in m, cells (n, 9) counterclockwise (corners, middles of the sides that
    follow them, centre), the patch (n,) whose material each has, and Young's modulus (P,) of the patches."""

    points: Array
    cells: Index
    patch: Index
    modulus: Array

    @property
    def singular(self) -> Index:
        """The points where the stress is: corners that look inward, and those where materials meet or one of them
        turns in another."""
        angle = np.empty((len(self.cells), 4))
        for k in range(4):
            at, after, before = (self.points[self.cells[:, (k + n) % 4]] for n in (0, 1, 3))
            p, q = (4 * self.points[self.cells[:, 4 + (k + n) % 4]] for n in (0, 3))
            p, q = p - 3 * at - after, q - 3 * at - before
            angle[:, k] = np.arctan2(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0], (p * q).sum(axis=1)) % (2 * np.pi)
        materials, own = np.unique(self.modulus[self.patch], return_inverse=True)
        sector = np.zeros((len(self.points), len(materials)))
        np.add.at(sector, (self.cells[:, :4], own[:, None]), angle)
        whole, meet = sector.sum(axis=1), (sector > 0).sum(axis=1)
        inside = whole > 2 * np.pi - SMOOTH
        straight = (meet == 2) & ((np.abs(sector - np.pi) < SMOOTH) | (sector == 0)).all(axis=1)
        alone = (meet == 1) & (inside | (whole < np.pi + SMOOTH))
        return np.flatnonzero((meet > 0) & ~alone & ~(inside & straight))


def cut_union(name: str, patches: Sequence[Patch], ends: Sequence[Curve], finer: float = 1.0) -> Cut:
    """Cut a union; each of `ends`, a curve on its border where other walls go on, becomes two sides of cells.

    Cells are `finer` than usual, and finer still where one of them would be too flat. Raises MeshError where that
    cannot be done.
    """
    cut = _cut(name, patches, ends, finer)
    for more in FINER:
        if flatness(cut.points.T, cut.cells.T).min() >= FLATTEST:
            break
        if len(cut.cells) > MOST_CELLS:
            raise MeshError(
                f"the joint of '{name}' takes {len(cut.cells)} cells and more, and at most {MOST_CELLS} are made "
                "finer: make its walls less unequal in thickness"
            )
        cut = _cut(name, patches, ends, more * finer)
    return cut


def _cut(name: str, patches: Sequence[Patch], ends: Sequence[Curve], finer: float) -> Cut:
    with gmsh_model(name) as gmsh:
        faces = [(2, draw_face(gmsh, patch.outline)) for patch in patches]
        try:
            _, made = gmsh.model.occ.fragment(faces, [])
        except Exception as problem:  # gmsh knows no other kind
            raise MeshError(f"gmsh could not unite the joint of '{name}': {problem}") from problem
        gmsh.model.occ.synchronize()
        owner: dict[int, int] = {}
        for p in sorted(range(len(patches)), key=lambda p: patches[p].rank):
            for _, tag in made[p]:
                owner.setdefault(tag, p)
        _size(gmsh, patches, owner, ends, finer)
        gmsh.option.setNumber("Mesh.SubdivisionAlgorithm", 1)
        try:
            gmsh.model.mesh.generate(2)
        except Exception as problem:  # gmsh knows no other kind
            raise MeshError(f"gmsh could not cut the joint of '{name}': {problem}") from problem
        finally:
            gmsh.option.setNumber("Mesh.SubdivisionAlgorithm", 0)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        found = [(p, gmsh.model.mesh.getElements(2, tag)) for tag, p in owner.items()]
    if any(list(kinds) != [QUADRILATERAL] for _, (kinds, _, _) in found):
        raise MeshError(f"gmsh did not cut the joint of '{name}' into quadrilaterals alone")
    number = np.zeros(int(tags.max()) + 1, np.int64)
    number[tags] = np.arange(len(tags))
    cells = np.concatenate([number[nodes[0].reshape(-1, 9)] for _, (_, _, nodes) in found])
    patch = np.concatenate([np.full(len(nodes[0]) // 9, p) for p, (_, _, nodes) in found])
    points = xyz.reshape(-1, 3)[:, [0, 2]] / MM
    cells = _counterclockwise(points, cells)
    return Cut(_straightened(points, cells), cells, patch, np.array([patch.modulus for patch in patches]))


def _size(
    gmsh: ModuleType, patches: Sequence[Patch], owner: dict[int, int], ends: Sequence[Curve], finer: float
) -> None:
    """Sizes at the points of the drawing, in mm: fine but at the corners of the ends, whose sides are one each."""
    thinnest: dict[int, float] = {}
    for tag, p in owner.items():
        for _, point in gmsh.model.getBoundary([(2, tag)], recursive=True):
            thinnest[point] = min(thinnest.get(point, np.inf), patches[p].thickness)
    at = {point: gmsh.model.getValue(0, point, []) for point in thinnest}
    for point, thickness in thinnest.items():
        here = (at[point][0] / MM, at[point][2] / MM)
        far = any(_apart(here, tip) < SAME for line in ends for tip in (begin(line), end(line)))
        gmsh.model.mesh.setSize([(0, point)], MM * thickness * (WALL_SIZE if far else CORNER_SIZE / finer))
    border = {
        curve: [point for _, point in gmsh.model.getBoundary([(1, curve)], oriented=False)]
        for _, curve in gmsh.model.getEntities(1)
    }
    for line in ends:
        tips = begin(line), end(line)
        on_line = {p for p, (r, _, z) in at.items() if min(_apart((r / MM, z / MM), tip) for tip in tips) < SAME}
        sides = [curve for curve, points in border.items() if len(points) == 2 and on_line.issuperset(points)]
        if len(sides) != 1:
            raise MeshError("walls lie over one another where a joint ends")
        gmsh.model.mesh.setTransfiniteCurve(sides[0], 2)


def _apart(a: Point, b: Point) -> float:
    return float(np.hypot(a[0] - b[0], a[1] - b[1]))


def _straightened(points: Array, cells: Index) -> Array:
    """Points with the sides straight of cells too thin for their curves."""
    points, flat = points.copy(), flatness(points.T, cells.T) < FLATTEST
    for cell in cells[flat]:
        points[cell[4:8]] = (points[cell[:4]] + points[np.roll(cell[:4], -1)]) / 2
    return points


def _counterclockwise(points: Array, cells: Index) -> Index:
    a, b, c, d = (points[cells[:, k]] for k in range(4))
    p, q = c - a, d - b
    turned = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0] < 0
    cells = cells.copy()
    cells[turned] = cells[turned][:, [0, 3, 2, 1, 7, 6, 5, 4, 8]]
    return cells
