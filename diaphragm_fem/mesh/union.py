"""Pieces of wall united in one plane section and cut by gmsh.

Where pieces overlap, the stiffer material fills. For the solid triangles, fine at corners, are each divided into three
quadrilaterals, so that a cell has one point of the drawing at most; a joint's patch takes triangles as they are, fewer
and of a higher order, whose sizes are held from jumping. Sides on curves lie on them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from types import ModuleType
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.meridian.curve import Curve, Line
from diaphragm_fem.design.meridian.outline import begin, end
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.gmsh_model import MM, draw_face, gmsh_model, nodes_of
from diaphragm_fem.mesh.section_plan import FLATTEST, flatness


class CellSort(NamedTuple):
    """A sort of cells by gmsh's number and its count of nodes; length of triangles at corners and elsewhere, of the
    wall, and how fast the length at a point of the drawing may grow with the distance from others."""

    number: int
    nodes: int
    corner: float
    wall: float
    growth: float


SORTS = {4: CellSort(10, 9, 0.6, 1.5, 1e6), 3: CellSort(9, 6, 1.2, 3.0, 0.5)}  # by their corners
SAME = 1e-8  # m
SMOOTH = 0.15  # radians that a face or a border of materials may turn without a corner
MOST_CELLS = 5_000  # that are cut finer: each time takes twice as many; a hundred to a thousand are usual
FINER = (1.5, 2.2, 3.3)  # tried in turn where cells are too flat


@dataclass(frozen=True)
class UnionPiece:
    """One piece of a union: its closed outline end to end, thickness in m, Young's modulus in Pa, and rank: of two
    that overlap the lower one fills."""

    outline: Sequence[Curve]
    thickness: float
    modulus: float
    rank: float


@dataclass(frozen=True)
class UnionCells:
    """The cells of a union: points (N, 2) in m, cells (n, 9 or 6) counterclockwise (corners, middles of the sides that
    follow them, centre), the patch (n,) whose material each has, and Young's modulus (P,) of the patches."""

    points: Array
    cells: Index
    patch: Index
    modulus: Array

    @property
    def singular(self) -> Index:
        """The points where the stress is: corners that look inward, and those where materials meet or one of them
        turns in another."""
        count = self.cells.shape[1] // 2
        angle = np.empty((len(self.cells), count))
        for k in range(count):
            at, after, before = (self.points[self.cells[:, (k + n) % count]] for n in (0, 1, -1))
            p, q = (4 * self.points[self.cells[:, count + (k + n) % count]] for n in (0, -1))
            p, q = p - 3 * at - after, q - 3 * at - before
            angle[:, k] = np.arctan2(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0], (p * q).sum(axis=1)) % (2 * np.pi)
        materials, own = np.unique(self.modulus[self.patch], return_inverse=True)
        sector = np.zeros((len(self.points), len(materials)))
        np.add.at(sector, (self.cells[:, :count], own[:, None]), angle)
        whole, meet = sector.sum(axis=1), (sector > 0).sum(axis=1)
        inside = whole > 2 * np.pi - SMOOTH
        straight = (meet == 2) & ((np.abs(sector - np.pi) < SMOOTH) | (sector == 0)).all(axis=1)
        alone = (meet == 1) & (inside | (whole < np.pi + SMOOTH))
        return np.flatnonzero((meet > 0) & ~alone & ~(inside & straight))


def cut_union(
    name: str, patches: Sequence[UnionPiece], ends: Sequence[Line], finer: float = 1.0, corners: int = 4
) -> UnionCells:
    """Cut a union into cells of four or three corners; each of `ends` lies on its border where other walls go on, and
    becomes two sides of quadrilaterals.

    Cells are `finer` than usual, and finer still where one of them would be too flat. Raises MeshError where that
    cannot be done.
    """
    cut = _cut(name, patches, ends, finer, corners)
    for more in FINER:
        if flatness(cut.points.T, cut.cells.T).min() >= FLATTEST:
            break
        if len(cut.cells) > MOST_CELLS:
            raise MeshError(
                f"the joint of '{name}' takes {len(cut.cells)} cells and more, and at most {MOST_CELLS} are made "
                "finer: make its walls less unequal in thickness"
            )
        cut = _cut(name, patches, ends, more * finer, corners)
    return cut


def _cut(name: str, patches: Sequence[UnionPiece], ends: Sequence[Line], finer: float, corners: int) -> UnionCells:
    sort = SORTS[corners]
    with gmsh_model(name) as gmsh:
        try:
            faces = [(2, draw_face(gmsh, patch.outline)) for patch in patches]
            _, made = gmsh.model.occ.fragment(faces, [])
        except Exception as problem:  # gmsh knows no other kind
            raise MeshError(f"gmsh could not unite the joint of '{name}': {problem}") from problem
        gmsh.model.occ.synchronize()
        owner: dict[int, int] = {}
        for p in sorted(range(len(patches)), key=lambda p: patches[p].rank):
            for _, tag in made[p]:
                owner.setdefault(tag, p)
        _size(gmsh, patches, owner, ends, sort._replace(corner=sort.corner / finer))
        if corners == 4:
            _cut_ends_in_two(gmsh, ends)
            gmsh.option.setNumber("Mesh.SubdivisionAlgorithm", 1)
        try:
            gmsh.model.mesh.generate(2)
        except Exception as problem:  # gmsh knows no other kind
            raise MeshError(f"gmsh could not cut the joint of '{name}': {problem}") from problem
        finally:
            gmsh.option.setNumber("Mesh.SubdivisionAlgorithm", 0)
        xyz, number = nodes_of(gmsh)
        found = [(p, gmsh.model.mesh.getElements(2, tag)) for tag, p in owner.items()]
    if any(list(kinds) != [sort.number] for _, (kinds, _, _) in found):
        raise MeshError(f"gmsh did not cut the joint of '{name}' into cells of {corners} corners alone")
    cells = np.concatenate([number[nodes[0].reshape(-1, sort.nodes)] for _, (_, _, nodes) in found])
    patch = np.concatenate([np.full(len(nodes[0]) // sort.nodes, p) for p, (_, _, nodes) in found])
    points = xyz[:, [0, 2]] / MM
    cells = _counterclockwise(points, cells)
    return UnionCells(straightened(points, cells), cells, patch, np.array([patch.modulus for patch in patches]))


def _size(
    gmsh: ModuleType, patches: Sequence[UnionPiece], owner: dict[int, int], ends: Sequence[Line], sort: CellSort
) -> None:
    """Sizes at the points of the drawing, in mm: fine but at the ends."""
    thinnest: dict[int, float] = {}
    for tag, p in owner.items():
        for _, point in gmsh.model.getBoundary([(2, tag)], recursive=True):
            thinnest[point] = min(thinnest.get(point, np.inf), patches[p].thickness)
    at = np.array([gmsh.model.getValue(0, point, []) for point in thinnest])[:, [0, 2]] / MM
    size = np.array(list(thinnest.values())) * np.where(on_ends(at, ends), sort.wall, sort.corner)
    size = (size + sort.growth * np.linalg.norm(at[:, None] - at, axis=2)).min(axis=1)
    for point, own in zip(thinnest, (MM * size).tolist(), strict=True):
        gmsh.model.mesh.setSize([(0, point)], own)


def on_ends(points: Array, ends: Sequence[Line]) -> Flags:
    """Which points (N, 2) lie on one of some lines."""
    found = np.zeros(len(points), bool)
    for line in ends:
        along = (np.array(end(line)) - begin(line)) / line.length
        way = points - begin(line)
        s = way @ along
        found |= (np.abs(way @ (-along[1], along[0])) < SAME) & (s > -SAME) & (s < line.length + SAME)
    return found


def _cut_ends_in_two(gmsh: ModuleType, ends: Sequence[Line]) -> None:
    """Have each of the ends cut in one side, which a division of triangles cuts in two."""
    curves = [curve for _, curve in gmsh.model.getEntities(1)]
    tips = {curve: [p for _, p in gmsh.model.getBoundary([(1, curve)], oriented=False)] for curve in curves}
    for line in ends:
        sides = []
        for curve, points in tips.items():
            at = np.array([gmsh.model.getValue(0, point, []) for point in points]).reshape(-1, 3)[:, [0, 2]] / MM
            if len(points) == 2 and on_ends(at, [line]).all():
                sides.append(curve)
        if len(sides) != 1:
            raise MeshError("walls lie over one another where a joint ends")
        gmsh.model.mesh.setTransfiniteCurve(sides[0], 2)


def straightened(points: Array, cells: Index) -> Array:
    """Points with the sides straight of cells too thin for their curves."""
    points, flat, count = points.copy(), flatness(points.T, cells.T) < FLATTEST, cells.shape[1] // 2
    for cell in cells[flat]:
        corners = cell[:count]
        points[cell[count : 2 * count]] = (points[corners] + points[np.roll(corners, -1)]) / 2
    return points


def _counterclockwise(points: Array, cells: Index) -> Index:
    count = cells.shape[1] // 2
    a, b, c, d = (points[cells[:, k % count]] for k in range(4))
    p, q = (c - a, d - b) if count == 4 else (b - a, c - a)
    turned = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0] < 0
    cells = cells.copy()
    back = [0, 3, 2, 1, 7, 6, 5, 4, 8] if count == 4 else [0, 2, 1, 5, 4, 3]
    cells[turned] = cells[turned][:, back]
    return cells
