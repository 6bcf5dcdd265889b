"""Which raw degree of freedom of the shell is which unknown: joints, the axis and held edges."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import cos, inf, pi, sin
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.meridian.edge import Edge
from diaphragm_fem.errors import ModelError
from diaphragm_fem.mesh.meridian import SAME_POINT, MeridianMesh
from diaphragm_fem.model.shell.assembly import Numbering

FIELDS = ("u", "v", "w", "b", "q")
U, V, W, B, Q = range(len(FIELDS))
AXISYMMETRIC = ("u", "w", "b")  # those that live for m = 0
SMALL_COMPONENT = 0.02  # of a normal along r: a wall so nearly flat, held along the axis, counts as held across
UPRIGHT = 1e-6  # of a normal along the axis: held along r alone, it rocks, and q has t_r w/r of that


def number_unknowns(mesh: MeridianMesh, m: int) -> Numbering:
    """Numbering of the unknowns of order m; raw degrees of freedom run field by field over the nodes of the mesh."""
    shape = len(FIELDS), len(mesh.place)
    same, factor, held = np.arange(shape[0] * shape[1]).reshape(shape), np.ones(shape), np.zeros(shape, bool)
    _tie(mesh, mesh.joints, [U, V, W, B], same)
    if m:
        _tie(mesh, [ends for group in mesh.joints for ends in mesh.smooth_groups(group)], [Q], same)
    else:
        held[[V, Q]] = True
    for end, on_axis, edge in edges(mesh):
        if on_axis:
            _hold_on_axis(mesh, end, m, same, factor, held)
        else:
            _hold_edge(mesh, end, held_fields(mesh, end, edge), same, factor, held)
    return Numbering.of(same.ravel(), ~held.ravel(), factor.ravel(), np.tile(_to_be_met(mesh), len(FIELDS)))


def living(m: int) -> tuple[str, ...]:
    """The fields that live in order m."""
    return FIELDS if m else AXISYMMETRIC


def around_circle(m: int) -> float:
    """The integral of cos^2(m theta) over the circle; ModelError for what is no circumferential order."""
    if not (m >= 0 and m % 1 == 0):
        raise ModelError(f"the circumferential order m must be 0, 1, 2, ..., received {m}")
    return pi if m else 2 * pi


def edges(mesh: MeridianMesh) -> tuple[tuple[tuple[int, int], bool, Edge], ...]:
    """The two ends of the meridian: ((piece, end), on the axis?, support)."""
    design = mesh.design
    ends = ((0, 0), design.inner_edge), ((len(design.meridian) - 1, 1), design.outer_edge)
    return tuple((end, mesh.tip(end).point[0] < SAME_POINT, edge or Edge()) for end, edge in ends)


def held_fields(mesh: MeridianMesh, end: tuple[int, int], edge: Edge) -> list[str]:
    """Unknowns that a support holds.

    The rotation q about the meridian goes with the normal motion: where that is held all around the edge, so is q but
    for what a wall that turns around has of it, q = -t_z v/r (the hard condition g_thn = 0, that of thin shells).
    """
    fields = [field for field, value in edge.stiffness.items() if value == inf]
    angle = mesh.tip(end).angle
    n_r, n_z = abs(sin(angle)), abs(cos(angle))
    if (n_r < SMALL_COMPONENT or "u" in fields) and (n_z < UPRIGHT or "w" in fields):
        fields.append("q")
    return fields


def rigid_mode_count(mesh: MeridianMesh, m: int) -> int:
    """Motions of order m that cost no energy: an axial shift for m = 0, a sideways shift and a rocking for m = 1.

    A motion is free when no support resists it at either edge. m = 0 torsion is left out of the model.
    """
    supports = [(mesh.tip(end).point, edge) for end, on_axis, edge in edges(mesh) if not on_axis]
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


def _tie(mesh: MeridianMesh, groups: Sequence[Sequence[tuple[int, int]]], fields: list[int], same: Index) -> None:
    """Let the fields of ends that meet be those of the first node among them; all at once, half the time."""
    met = [group for group in groups if len(group) > 1]
    if not met:
        return
    piece, end = np.array([both for group in met for both in group]).T
    vertex, size = mesh.first_vertex[piece + end] - end, np.array([len(group) for group in met])
    first = np.repeat(np.minimum.reduceat(vertex, np.cumsum(size) - size), size)
    own = np.array(fields)[:, None]
    same[own, vertex] = same[own, first]


def _hold_edge(
    mesh: MeridianMesh, end: tuple[int, int], fields: Sequence[str], same: Index, factor: Array, held: Flags
) -> None:
    """Hold fields at an edge; q goes with v there, of which it has nothing where v is held or the wall is flat, as it
    counts where u is free."""
    vertex, tip = mesh.vertex(end), mesh.tip(end)
    held.flat[same[[FIELDS.index(field) for field in fields if field != "q"], vertex]] = True
    if "q" in fields:
        same[Q, vertex] = same[V, vertex]
        factor[Q, vertex] = _turn_around(tip.angle, tip.point[0]) if "u" in fields else 0.0


def _turn_around(angle: float, r: float) -> float:
    """What q has of v where an edge is held across its wall: nothing is sheared around, v t_z/r + q = 0."""
    return -sin(angle) / r


class EdgeAbout(NamedTuple):
    """An edge about a state where nothing is sheared around: q = around v + along w there, of the wall's end."""

    end: tuple[int, int]
    around: float
    along: float


def edges_about(mesh: MeridianMesh, m: int, out: Array, turned: Array) -> Iterator[EdgeAbout]:
    """Edges held across and free to slide of an order m > 0, about a state whose nodes (N,) went by `out` in m along r
    and turned by `turned`. One that stood upright may move along the axis, and across with it: m cos(psi) w/r."""
    for end, on_axis, edge in edges(mesh):
        if not on_axis and {"u", "q"} <= set(held_fields(mesh, end, edge)):
            vertex, tip = mesh.vertex(end), mesh.tip(end)
            angle, r = tip.angle - turned[vertex], tip.point[0] + out[vertex]
            yield EdgeAbout(end, _turn_around(angle, r), m * cos(angle) / r if edge.axial < inf else 0.0)


def numbering_about(mesh: MeridianMesh, drawn: Numbering, found: Sequence[EdgeAbout]) -> Numbering:
    """The numbering about a state: q goes with v at an edge by the angle at which that lies."""
    factor = drawn.factor.copy()
    for own in found:
        factor[Q * len(mesh.place) + mesh.vertex(own.end)] = own.around
    return replace(drawn, factor=factor)


def _hold_on_axis(mesh: MeridianMesh, end: tuple[int, int], m: int, same: Index, factor: Array, held: Flags) -> None:
    """Regularity at r = 0: m = 0 only w lives; m = 1 u = -v and q = -t_r b; m >= 2 nothing moves.

    u + m v and t_r b + m q must vanish with r; a rocking has b = 1 and q = -t_r, at a tip as well.
    """
    vertex = mesh.vertex(end)
    held[{0: [U, V, B, Q], 1: [W]}.get(m, slice(None)), vertex] = True
    if m == 1:
        same[[V, Q], vertex] = same[[U, B], vertex]
        factor[[V, Q], vertex] = -1.0, -cos(mesh.tip(end).angle)


def _to_be_met(mesh: MeridianMesh) -> Array:
    """Place (N,) of every node in the order of elimination: the former from its free end on, then the meridian. So a
    factored matrix has no entries where the shell has none."""
    arc = mesh.place
    former = mesh.offset[len(mesh.design.meridian)] if mesh.design.former else np.inf
    return np.where(arc < former, arc, -arc)
