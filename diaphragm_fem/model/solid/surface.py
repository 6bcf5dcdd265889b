"""The mid-surface of a wall section as points for pictures and for the absolute area."""

import numpy as np
from scipy.sparse import csr_matrix, vstack

from diaphragm_fem.model.solid.lines import U, V, W, line_of, sample_map
from diaphragm_fem.model.solid.shapes import Shapes
from diaphragm_fem.model.structure import Surface

BOOLE = np.array([7, 32, 12, 32, 7]) / 90  # weights of four equal steps, exact to degree five


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
