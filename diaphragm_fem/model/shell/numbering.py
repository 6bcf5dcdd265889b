"""Which raw degree of freedom of the shell is which unknown: joints, the axis and held edges."""

from collections.abc import Sequence
from math import cos, inf, pi, sin

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.meridian.edge import Edge
from diaphragm_fem.errors import ModelError
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.shell.assembly import Numbering

FIELDS = ("u", "v", "w", "b", "q")
AXISYMMETRIC = ("u", "w", "b")  # those that live for m = 0
SHARED_BY_ALL = ("u", "v", "w", "b")
SMALL_COMPONENT = 0.02  # of a normal: a motion this far out of line counts as square to it


def number_unknowns(mesh: MeridianMesh, m: int) -> Numbering:
    """Numbering of the unknowns of order m; raw degrees of freedom run field by field over the nodes of the mesh."""
    nodes = len(mesh.place)
    same = np.arange(len(FIELDS) * nodes)
    _tie(mesh, mesh.joints, [x for x in SHARED_BY_ALL if m or x in AXISYMMETRIC], same)
    if m:
        smooth = [ends for group in mesh.joints for ends in mesh.smooth_groups(group)]
        _tie(mesh, smooth, [x for x in FIELDS if x not in SHARED_BY_ALL], same)
    factor = np.ones(len(same))
    held = np.zeros(len(same), bool)
    if m == 0:
        for field in ("v", "q"):
            held[FIELDS.index(field) * nodes : (FIELDS.index(field) + 1) * nodes] = True
    for end, on_axis, edge in edges(mesh):
        if on_axis:
            _hold_on_axis(mesh, end, m, same, factor, held)
        else:
            for field in held_fields(mesh, end, edge):
                held[same[_dof(mesh, end, field)]] = True
    return Numbering.of(same, ~held, factor, np.tile(_to_be_met(mesh), len(FIELDS)))


def around_circle(m: int) -> float:
    """The integral of cos^2(m theta) over the circle; ModelError for what is no circumferential order."""
    if m < 0 or int(m) != m:
        raise ModelError(f"the circumferential order m must be 0, 1, 2, ..., received {m}")
    return pi if m else 2 * pi


def edges(mesh: MeridianMesh) -> tuple[tuple[tuple[int, int], bool, Edge], ...]:
    """The two ends of the meridian: ((piece, end), on the axis?, support)."""
    free = Edge()
    last = len(mesh.design.meridian) - 1
    return (
        ((0, 0), mesh.starts_on_axis, mesh.design.inner_edge or free),
        ((last, 1), mesh.ends_on_axis, mesh.design.outer_edge or free),
    )


def held_fields(mesh: MeridianMesh, end: tuple[int, int], edge: Edge) -> list[str]:
    """Unknowns that a support holds.

    The rotation q about the meridian goes with the normal motion: where that is held all around the edge, so is q
    (the hard condition, the one of thin-plate theory).
    """
    fields = [field for field, value in edge.stiffness.items() if value == inf]
    angle = mesh.pieces[end[0]].curve.ends[end[1]].angle
    n_r, n_z = abs(sin(angle)), abs(cos(angle))
    if (n_r < SMALL_COMPONENT or "u" in fields) and (n_z < SMALL_COMPONENT or "w" in fields):
        fields.append("q")
    return fields


def rigid_mode_count(mesh: MeridianMesh, m: int) -> int:
    """Motions of order m that cost no energy: an axial shift for m = 0, a sideways shift and a rocking for m = 1.

    A motion is free when no support resists it at either edge. m = 0 torsion is left out of the model.
    """
    supports = []
    for end, on_axis, edge in edges(mesh):
        if not on_axis:
            supports.append((mesh.pieces[end[0]].curve.ends[end[1]].point, edge))
    if m == 0:
        return int(all(edge.axial == 0 for _, edge in supports))
    if m != 1:
        return 0
    rows = []
    for (r, z), edge in supports:
        # rigid motions: shift (u = 1, v = -1) and rocking about z = 0 (u = z, v = -z, w = -r, b = 1)
        motions = {"u": (1.0, z), "v": (-1.0, -z), "w": (0.0, -r), "b": (0.0, 1.0)}
        rows += [motions[field] for field, k in edge.stiffness.items() if k > 0]
    return 2 - (int(np.linalg.matrix_rank(np.array(rows))) if rows else 0)


def _tie(mesh: MeridianMesh, groups: Sequence[Sequence[tuple[int, int]]], fields: list[str], same: Index) -> None:
    """Let the fields of ends that meet be those of the first node among them; all at once, half the time."""
    met = [group for group in groups if len(group) > 1]
    if not met:
        return
    piece, end = np.array([both for group in met for both in group]).T
    vertex, size = mesh.first_vertex[piece + end] - end, np.array([len(group) for group in met])
    first = np.repeat(np.minimum.reduceat(vertex, np.cumsum(size) - size), size)
    own = len(mesh.place) * np.array([[FIELDS.index(field)] for field in fields])
    same[own + vertex] = own + first


def _dof(mesh: MeridianMesh, end: tuple[int, int], field: str) -> int:
    return mesh.vertex(end) + FIELDS.index(field) * len(mesh.place)


def _hold_on_axis(mesh: MeridianMesh, end: tuple[int, int], m: int, same: Index, factor: Array, held: Flags) -> None:
    """Regularity at r = 0: m = 0 only w lives; m = 1 u = -v and q = -t_r b; m >= 2 nothing moves.

    u + m v and t_r b + m q must vanish with r; a rocking has b = 1 and q = -t_r, at a tip as well.
    """
    dof = {field: _dof(mesh, end, field) for field in FIELDS}
    gone = {0: "uvbq", 1: "w"}.get(m, "uvwbq")
    for field in gone:
        held[dof[field]] = True
    if m == 1:
        curve = mesh.pieces[end[0]].curve
        t_r, _ = curve.tangent(end[1] * curve.length)
        for partner, leader, tie in (("v", "u", -1.0), ("q", "b", -t_r)):
            same[dof[partner]] = dof[leader]
            factor[dof[partner]] = tie


def _to_be_met(mesh: MeridianMesh) -> Array:
    """Place (N,) of every node in the order of elimination: the former from its free end on, then the meridian. So a
    factored matrix has no entries where the shell has none."""
    arc = mesh.place
    former = mesh.offset[len(mesh.design.meridian)] if mesh.design.former else np.inf
    return np.where(arc < former, arc, -arc)
