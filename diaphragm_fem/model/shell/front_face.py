"""The volume that the front face sweeps, zone by zone and point by point: of walls with thickness, or of their middle.

In total the middle of a wall sweeps as much as its face. The zones do not: at a kink the faces of two walls meet beside
the corner of their middles.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.meridian.wall import lifted
from diaphragm_fem.model.large_stroke.bent_meridian import BentMeridian, still
from diaphragm_fem.model.shell.elasticity import layers_of, lifts_of
from diaphragm_fem.model.shell.line import OrderTerms, ShellLine

STEEPEST = 4.0  # tangent of half the turn of a kink, beyond which faces no longer reach the bisector; 152 degrees


@dataclass(frozen=True, eq=False)
class Face:
    """point (P, 2): (r, z) in m of the quadrature points of the front face, from its inner edge outward; place (P,):
    their distance in m along the meridian; length (P,): of the meridian in m that each stands for; sweep (P, n): volume
    in m3 that each point sweeps per unit of the unknowns, along the normal. ones @ sweep is the swept volume."""

    point: Array
    place: Array
    length: Array
    sweep: csr_matrix | NDArray  # dense where the unknowns are few


def shell_face(line: ShellLine, order: OrderTerms, thick: bool, lies: Posture | None = None) -> Face:
    """Points of the zones that radiate, three an element, for m = 0; those of the front face are told by the points of
    the middle beside them, as drawn, and what they sweep as it `lies`."""
    elements = np.flatnonzero(line.radiates & (line.mesh.piece_of_element < len(line.design.meridian)))
    elements = elements[np.argsort(line.mesh.piece_of_element[elements], kind="stable")]
    sweeps = front_sweeps(line, order, thick, lies)[0][elements].transpose(0, 2, 1)
    begins = np.concatenate(([0.0], np.cumsum([piece.curve.length for piece in line.mesh.pieces])[:-1]))
    r, z, s, length = (x[elements] for x in (line.heavy.at.r, line.heavy.z, line.heavy.s, line.heavy.at.weight))
    place = begins[line.mesh.piece_of_element[elements]][:, None] + s
    sweep = order.numbering.functionals(order.dofs[elements][:, None], sweeps)
    return Face(np.stack((r.ravel(), z.ravel()), axis=1), place.ravel(), length.ravel(), sweep)


class Posture(NamedTuple):
    """How a meridian lies that has moved far: at the points of mass and of stiffness; strains (8, F, E, Q) of the local
    functions about it at the latter; how far in m each node (N,) went along r, and how far it turned (b)."""

    heavy: BentMeridian
    stiff: BentMeridian
    strain: Array
    out: Array
    turned: Array


def swept_volume(line: ShellLine, order: OrderTerms, thick: bool, lies: Posture | None = None) -> tuple[Array, Array]:
    """Swept volume functionals (Z, n) and rigid areas (Z,) of the zones that radiate, of the drawn meridian or as it
    lies; only m = 0 sweeps."""
    zones, owner = len(line.design.zones), line.zone_of_element
    if order.m:
        return np.zeros((zones, order.numbering.size)), np.zeros(zones)
    sweeps, flat = front_sweeps(line, order, thick, lies)
    volume = order.numbering.vectors(owner, zones, order.dofs, sweeps.sum(axis=2))
    return volume, np.asarray(np.bincount(owner, weights=flat.sum(axis=1), minlength=zones), float)


def front_sweeps(line: ShellLine, order: OrderTerms, thick: bool, lies: Posture | None = None) -> tuple[Array, Array]:
    """Volumes (E, F, Q) that points sweep per unit of an element's raw degrees of freedom for m = 0, and their rigid
    areas (E, Q), a corner's with the point beside it: dV = 2 pi r (w dr - u dz) of the front face of walls that are
    `thick`, or of their middle, which is that of walls without thickness.

    With n the normal and t the tangent the face lies h along n from the meridian, and its points move by (u, w) + h b
    t, and along n by -c0 (e_s + e_th) - c1 (k_s + k_th), for a wall that is stretched grows thin: c0, c1 = integral of
    nu/(1 - nu) z^0, z^1 over the wall in front of the meridian. Where the meridian has moved far, t and n are those of
    the directors; that the wall lies there thinner than drawn is left out (1e-5 of an area).

    Faces of walls that meet go on to the bisector of their angle, as they are drawn; what of the thicker wall's end
    stands beyond the thinner one's face there is the thicker's. What is about a corner moves rigidly with the joint.
    """
    if lies is None:
        nowhere = np.zeros(line.nodes)
        lies = Posture(still(line.heavy.at), still(line.stiff.at), order.strain, nowhere, nowhere)
    mesh, at, owner = line.mesh, lies.heavy, line.mesh.piece_of_element
    layers = layers_of(mesh.pieces, lambda material: material.poisson_ratio)
    layers[:2] *= thick
    length, front = np.array([x.curve.length for x in mesh.pieces])[owner, None], line.radiates[:, None]
    lift = lifts_of(mesh.pieces) * thick
    half = layers[:2].sum(axis=2) / 2
    begin, end = half[:, owner, None]
    middle, rise = lifted(lift[:, owner, None], at.drawn.fraction)
    height, slope = begin + (end - begin) * at.drawn.fraction + middle, (end - begin + rise) / length
    dr = at.slope_r - height * at.turn * at.cos - slope * at.sin
    dz = at.slope_z - height * at.turn * at.sin + slope * at.cos
    band = 2 * np.pi * front * (at.radius - height * at.sin) * at.drawn.weight
    sweeps = np.stack((-band * dz, band * dr, band * height * (dr * at.sin - dz * at.cos)))  # by u, w, b
    values = np.einsum("feq,keq->ekfq", line.heavy.shape, sweeps).reshape(len(owner), -1, band.shape[1])
    thins = 2 * np.pi * front * lies.stiff.radius * lies.stiff.stretch * lies.stiff.drawn.weight
    thins = thins * _squeezes(layers[:, owner, :, None], lift[:, owner, None], lies.stiff.drawn.fraction)
    squeezed = np.einsum("kfeq,keq->ef", lies.strain[:4:3] + lies.strain[1:5:3], thins)
    share = at.drawn.weight / at.drawn.weight.sum(axis=1, keepdims=True)
    values -= squeezed[..., None] * share[:, None]
    area = band * dr
    elements, ends, about = _corners(line, lies, front, *(half + [lifted(lift, place)[0] for place in (0.0, 1.0)]))
    places = 3 * np.arange(3) + ends[:, None], ends * (band.shape[1] - 1)
    values[elements[:, None], places[0], places[1][:, None]] += about  # a wall's end is at one corner
    area[elements, places[1]] += about[:, 1]
    return values, area


def _squeezes(layers: Array, lift: Array, fraction: Array) -> Array:
    """c0 in m and c1 in m2 (2, E, Q) of layers (3, E, L, 1), thickness at both ends and Poisson ratio, with the middle
    of their stack lifted over the meridian by `lift` (4, E, 1), at fractions (E, Q) of their pieces."""
    begin, end, nu = layers
    h = begin + (end - begin) * fraction[:, None]
    top = np.cumsum(h, axis=1) - h.sum(axis=1, keepdims=True) / 2 + lifted(lift, fraction)[0][:, None]
    low, high = np.maximum(top - h, 0.0), np.maximum(top, 0.0)
    return np.stack([(nu / (1 - nu) * x).sum(axis=1) for x in (high - low, (high**2 - low**2) / 2)])


def _corners(line: ShellLine, lies: Posture, front: Flags, begins: Array, ends: Array) -> tuple[Index, Index, Array]:
    """Of both stretches of front face between walls' own ends and each corner: the walls' elements there (C,), which
    end of them that is, and the volume that it sweeps by unit u, w and b of the joint (C, 3); front (E, 1) are elements
    that radiate, begins and ends (P,) the heights in m of the pieces' front faces over the meridian."""
    pairs = list(pairwise(piece.curve.ends for piece in line.design.meridian))
    found = [(x[1].point[0], x[1].angle, y[0].angle) for x, y in pairs]
    r, first, second = np.array(found).reshape(-1, 3).T
    start = line.mesh.first_vertex[1 : len(r) + 1] - np.arange(1, len(r) + 1)  # element after each
    joint = line.mesh.nodes[0, start]
    r, first, second = r + lies.out[joint], first - lies.turned[joint], second - lies.turned[joint]
    h, k, along, on = ends[: len(r)], begins[1 : len(r) + 1], np.exp(1j * first), np.exp(1j * second)
    lean = np.minimum(h, k) * np.clip(np.tan((second - first) / 2), -STEEPEST, STEEPEST)
    begin, end = h * 1j * along, k * 1j * on  # r + i z from the joint
    corner = np.where(h < k, begin - lean * along, end + lean * on)
    elements = np.concatenate((start - 1, start))
    way = np.stack((corner - begin, end - corner)) * front[elements].reshape(2, -1)
    middle = np.stack((begin, corner)) + way / 2
    ring = 2 * pi * (r + middle.real)
    turned = -ring * (way.conj() * middle).real - pi / 6 * way.real * np.abs(way) ** 2
    swept = np.stack((-ring * way.imag, ring * way.real, turned), axis=-1)
    return elements, np.repeat([1, 0], len(r)), swept.reshape(-1, 3)
