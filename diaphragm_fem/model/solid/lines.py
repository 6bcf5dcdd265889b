"""Functionals on lines of the wall section: through the wall, along the mid-surface, over the front face.

A functional is a row over raw degrees of freedom, node * 3 + component with components u radial, v circumferential,
w axial, so that `row @ x` is a motion in m, a slope in rad or a volume in m3.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix, vstack

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.section_plan import Side, Stretch
from diaphragm_fem.model.quadrature import gauss
from diaphragm_fem.model.solid.shapes import Shapes, side_points
from diaphragm_fem.model.structure import Surface

U, V, W = range(3)
BOOLE = np.array([7, 32, 12, 32, 7]) / 90  # weights of four equal steps, exact to degree five


@dataclass(frozen=True)
class CrossFace:
    """A face through the wall: its scalar rows (over nodes) of mean and first moment, radius and tangent.

    mean @ u is the average through the wall; moment @ u its best-fit slope du/do over the distance o from the middle.
    """

    mean: Array
    moment: Array
    radius: float
    tangent: Array
    corners: Index
    inner: Index

    @property
    def nodes(self) -> Index:
        return np.concatenate((self.corners, self.inner))

    def mean_of(self, component: int) -> Array:
        """Row (3 N,) of the mean motion."""
        return row_of(self.mean, np.eye(3)[component])


def row_of(scalar: Array, way: Sequence[float] | Array) -> Array:
    """Row (3 N,) of a scalar functional (N,) of the motion along `way` (3,) in u, v, w."""
    return np.outer(scalar, way).ravel()


def face_of(shapes: Shapes, sides: list[Side], tangent: Array) -> CrossFace:
    """The face made of the given sides of cells.

    mean = (1/h) integral u do, moment = (12/h^3) integral o u do.
    """
    cells, local, weight = side_points(sides, shapes.top + 1)
    value = shapes.at(local)
    place, jacobian = shapes.place(cells, local)
    flat = np.array([[side % 2 == 0] for _, side in sides])  # a small cell at a corner may lie on its side
    run = np.linalg.norm(np.where(flat, jacobian[:, 0], jacobian[:, 1]), axis=0) * weight
    height = run.sum()
    middle = np.einsum("ckq,kq->c", place, run) / height
    across = np.array([-tangent[1], tangent[0]])
    offset = np.einsum("ckq,c->kq", place - middle[:, None, None], across)
    spread = (offset**2 * run).sum()
    nodes = shapes.nodes[cells]
    size = shapes.count
    mean, moment = np.zeros(size), np.zeros(size)
    for row, share in ((mean, run / height), (moment, offset * run / spread)):
        np.add.at(row, nodes, np.einsum("fkq,kq->kf", value, share))
        row[~shapes.used] = 0.0
    found = [shapes.side_nodes(cell, side) for cell, side in sides]
    corners = np.unique(np.concatenate([x[0] for x in found]))
    inner = np.unique(np.concatenate([x[1] for x in found]))
    return CrossFace(mean, moment, float(middle[0]), tangent, corners, inner)


@dataclass(frozen=True)
class MiddleLine:
    """Points along stretches of mid-surface.

    cells (K,); value (F, K, Q) of the functions; place (2, K, Q) in m; along (2, K, Q), d place over the unit interval
    of each stretch.
    """

    cells: Index
    value: Array
    place: Array
    along: Array

    @property
    def speed(self) -> Array:
        """ds over the unit interval of each stretch (K, Q)."""
        return np.linalg.norm(self.along, axis=0)


def line_of(shapes: Shapes, stretches: list[Stretch], position: Array) -> MiddleLine:
    """Sample stretches of mid-surface at positions 0...1 (Q,)."""
    begin, end, bulge = np.array([(x.begin, x.end, x.bulge) for x in stretches]).transpose(1, 2, 0)[..., None]
    local = begin + (end - begin) * position + bulge * position * (1 - position)
    way = end - begin + bulge * (1 - 2 * position)
    cells = np.array([x.cell for x in stretches])
    place, jacobian = shapes.place(cells, local)
    along = np.einsum("cdkq,dkq->ckq", jacobian, way)
    return MiddleLine(cells, shapes.at(local), place, along)


def front_volumes(shapes: Shapes, sides: list[Side]) -> tuple[Array, Array]:
    """Rows (Z, 3 N) of the volume that each zone sweeps with its sides on the front face, and their rigid areas (Z,).

    Swept volume = 2 pi integral r (w dr - u dz) along the face, in m3, the wall to the right of the way.
    """
    cell, local, weight = side_points(sides, shapes.top + 2)
    place, jacobian = shapes.place(cell, local)
    side = np.array([side for _, side in sides])[:, None]
    way = np.where(side >= 2, 1.0, -1.0)  # the wall lies to the right of a front and a begin, to the left of the others
    step = way * np.where(side % 2 == 0, jacobian[:, 0], jacobian[:, 1]) * weight
    band = 2 * np.pi * place[0]
    value = shapes.at(local)
    radial, axial = (np.einsum("fkq,kq->kf", value, share) for share in (-band * step[1], band * step[0]))
    zone, nodes, zones = shapes.section.zone_of_cell[cell], shapes.nodes[cell], len(shapes.section.design.zones)
    rows = np.zeros((zones, shapes.count, 3))
    np.add.at(rows[..., U], (zone[:, None], nodes), radial)
    np.add.at(rows[..., W], (zone[:, None], nodes), axial)
    area = np.bincount(zone, weights=(band * step[0]).sum(axis=1), minlength=zones)
    return rows.reshape(zones, -1), np.asarray(area, float)


def sample_map(shapes: Shapes, line: MiddleLine, component: int, pick: Array) -> csr_matrix:
    """Sparse (P, 3 N) map to the motion at the picked points (K, Q) of a line, in order."""
    count, functions = int(pick.sum()), line.value.shape[0]
    owner = np.broadcast_to(np.arange(len(line.cells))[:, None], pick.shape)[pick]
    column = shapes.nodes[line.cells[owner]] * 3 + component
    row = np.repeat(np.arange(count), functions)
    entries = (line.value[:, pick].T.ravel(), (row, column.ravel()))
    return csr_matrix(coo_matrix(entries, shape=(count, 3 * shapes.count)))


def mean_along(shapes: Shapes, stretches: list[Stretch], component: int) -> Array:
    """Row (3 N,) of the motion averaged over the length of stretches of mid-surface."""
    position, weight = gauss(shapes.top + 1)
    line = line_of(shapes, stretches, position)
    share = line.speed * weight
    values = np.einsum("fkq,kq->kf", line.value, share / share.sum())
    mean = np.asarray(np.bincount(shapes.nodes[line.cells].ravel(), values.ravel(), shapes.count), float)
    return row_of(mean, np.eye(3)[component])


def raw_surface(shapes: Shapes) -> Surface:
    """Five points on each stretch of mid-surface, the last only where the next belongs to another piece; their motions
    are told by raw degrees of freedom, sparse (P, 3 N)."""
    plan, zones = shapes.section.plan, shapes.section.design.zones
    places, normals, areas, owners, runs, motions = [], [], [], [], [], []
    for number, run in enumerate(plan.middle):
        if not run:
            continue
        line = line_of(shapes, run, np.linspace(0, 1, 5))
        zone = shapes.section.zone_of_cell[line.cells]
        piece = np.array(plan.piece)[line.cells]
        pick = np.ones(line.speed.shape, bool)
        pick[:-1, -1] = piece[1:] != piece[:-1]
        front = np.array([zones[k].radiates for k in zone])
        area = 2 * np.pi * line.place[0] * line.speed * BOOLE * front[:, None]
        area[1:, 0] += np.where(pick[:-1, -1], 0.0, area[:-1, -1])
        tangent = line.along / line.speed
        places.append(line.place[:, pick])
        normals.append(np.stack((-tangent[1][pick], tangent[0][pick]), axis=1))
        areas.append(area[pick])
        owners.append(np.broadcast_to(zone[:, None], pick.shape)[pick])
        runs.append(np.full(int(pick.sum()), number))
        motions.append([sample_map(shapes, line, component, pick) for component in (U, V, W)])
    (r, z), every = np.concatenate(places, axis=1), zip(*motions, strict=True)
    told = (np.concatenate(values) for values in (normals, areas, owners, runs))
    return Surface(r, z, *(csr_matrix(vstack(raw)) for raw in every), *told)
