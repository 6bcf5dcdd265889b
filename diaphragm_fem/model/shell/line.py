"""The meridian as quadratic line elements: what every part of the shell model reads, whatever the order m."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import Traced, traced
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.quadrature import gauss, quadratic_slopes, quadratics
from diaphragm_fem.model.shell.assembly import Numbering
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC, FIELDS, around_circle, living, number_unknowns
from diaphragm_fem.model.shell.rocking import rocking, rocking_freely
from diaphragm_fem.model.shell.strain import Geometry, local_field, stacked, strains_aside

STIFF, HEAVY = 2, 3  # points of an element at which strains are taken, and mass and volume


@dataclass(frozen=True, eq=False)
class LinePoints:
    """Shape functions and their slopes d/ds (3, E, Q), local order begin, end, middle; geometry, height z and arc
    length s along the own piece (E, Q); aside (E, 1) as `MeridianMesh.aside`."""

    shape: Array
    slope: Array
    at: Geometry
    z: Array
    s: Array
    aside: Array

    def picked(self, some: Any) -> LinePoints:
        """Views of some of the points."""
        at = Geometry(*(x[some] for x in vars(self.at).values()))
        return LinePoints(self.shape[some], self.slope[some], at, self.z[some], self.s[some], self.aside)


class Quadrature(NamedTuple):
    """The points of a line, of both kinds side by side: two an element at which strains are taken, and three at which
    mass and volume are."""

    points: LinePoints
    stiff: LinePoints
    heavy: LinePoints


class OrderTerms(NamedTuple):
    """What one order m makes of the meridian: strains (8, F, E, Q) of its local functions, motions (5, F, E, Q), raw
    degrees of freedom (E, F), their numbering, and the integral over theta of cos^2."""

    m: int
    strain: Array
    motion: Array
    dofs: Index
    numbering: Numbering
    around: float


@dataclass(frozen=True, eq=False)
class ShellLine:
    """A meridian mesh with its quadrature points, nodes and strains: evaluated once, orders share them."""

    mesh: MeridianMesh

    @property
    def design(self) -> Design:
        return self.mesh.design

    def on(self, mesh: MeridianMesh) -> ShellLine:
        """The same for the same cuts with other walls: what was found of the line goes along."""
        found = ShellLine(mesh)
        vars(found).update({name: value for name, value in vars(self).items() if name != "mesh"})
        return found

    @property
    def stiff(self) -> LinePoints:
        return self.quadrature.stiff

    @property
    def heavy(self) -> LinePoints:
        return self.quadrature.heavy

    @cached_property
    def quadrature(self) -> Quadrature:
        return by_rule(line_points(self.mesh, STIFF, HEAVY))

    @property
    def nodes(self) -> int:
        return len(self.mesh.place)

    @cached_property
    def dofs(self) -> Index:
        """Raw degrees of freedom (E, 15): field times the number of nodes plus the node."""
        nodes = self.mesh.nodes.T
        return np.hstack([nodes + k * self.nodes for k in range(len(FIELDS))])

    def field_dofs(self, *fields: int) -> Index:
        """Raw degrees of freedom (E, 3 per field) of some fields, by their numbers in FIELDS."""
        return np.hstack([self.dofs[:, 3 * field : 3 * field + 3] for field in fields])

    def motion_row(self, numbering: Numbering, vertex: int, field: str) -> Array:
        """One motion of one vertex as a functional (n,)."""
        dof = vertex + FIELDS.index(field) * self.nodes
        return numbering.vector(np.array([[dof]]), np.ones((1, 1)))

    @cached_property
    def zone_of_element(self) -> Index:
        order = {zone: i for i, zone in enumerate(self.design.zones)}
        return np.array([order[piece.zone] for piece in self.mesh.pieces])[self.mesh.piece_of_element]

    @cached_property
    def radiates(self) -> Flags:
        """Which elements (E,) have a front that the listener sees."""
        return np.array([zone.radiates for zone in self.design.zones])[self.zone_of_element]

    def order_terms(self, m: int) -> OrderTerms:
        """For m = 0 the torsional unknowns v, q are left out: they couple with nothing."""
        if m == 0:
            strain = _strain(self.stiff, AXISYMMETRIC, 0)
        else:
            constant, linear = self._strain_powers  # once for all orders: 0.02 instead of 0.36 ms for a stepped V
            strain = constant + m * linear
        if m == 1:
            bent = np.flatnonzero(self.stiff.at.kappa.any(axis=1))
            rocks = rocking(self.nodal.r - self.stiff.aside.T, self.nodal.z, self.nodal.t_r)
            strain[:, :, bent] = rocking_freely(strain[:, :, bent], rocks[:, bent])
        dofs = self.field_dofs(*map(FIELDS.index, living(m)))
        return OrderTerms(m, strain, _motion(self.heavy, m), dofs, number_unknowns(self.mesh, m), around_circle(m))

    @cached_property
    def _strain_powers(self) -> tuple[Array, Array]:
        """Strains (8, 15, E, 2) of all local functions, split as B0 + m B1."""
        constant, with_one = (_strain(self.stiff, FIELDS, m) for m in (0, 1))
        return constant, with_one - constant

    @cached_property
    def nodal(self) -> Traced:
        """What curves are at the nodes of their elements (3, E)."""
        mesh, owner = self.mesh, self.mesh.piece_of_element
        at = traced([piece.curve for piece in mesh.pieces], owner, (mesh.place[mesh.nodes] - mesh.offset[owner]).T)
        return Traced(*(x.T for x in at))


def _strain(points: LinePoints, fields: Sequence[str], m: int) -> Array:
    """Strains (8, F, E, 2) of the local functions for order m; local functions run field by field."""
    x, dx = local_field(points.shape, fields), local_field(points.slope, fields)
    return stacked(strains_aside(x, dx, points.at, m, points.aside), points.shape, fields)


def _motion(points: LinePoints, m: int) -> Array:
    return stacked(local_field(points.shape, living(m)), points.shape, living(m))


def line_points(mesh: MeridianMesh, *counts: int) -> LinePoints:
    """Quadratic elements of a meridian mesh at so many Gauss points each, those of all counts side by side."""
    x, weight, functions, slopes = _reference(counts)
    begin, end = mesh.place[mesh.nodes[:2], None]
    length = end - begin
    # laid out point by point, which sums over points hang on
    shape = (functions + np.zeros(len(length))).swapaxes(1, 2)
    ds = np.multiply.outer(weight, length[:, 0]).T
    return _points(mesh, mesh.piece_of_element, length * x + begin, shape, 1 / length * slopes, ds)


def end_points(mesh: MeridianMesh, elements: Index, ends: Index) -> LinePoints:
    """The same at one end each, 0 begin and 1 end, of some elements (C,): they weigh nothing."""
    begin, end = mesh.place[mesh.nodes[:2, elements], None]
    x, length = ends[:, None].astype(float), end - begin
    slope = quadratic_slopes(x) / length
    return _points(mesh, mesh.piece_of_element[elements], length * x + begin, quadratics(x), slope, 0 * x)


def _points(mesh: MeridianMesh, owner: Index, place: Array, shape: Array, slope: Array, ds: Array) -> LinePoints:
    """Points at places (E, Q) on the common axis, row e on the piece owner[e]."""
    curves, s = [piece.curve for piece in mesh.pieces], place - mesh.offset[owner, None]
    fraction, at = s / np.array([curve.length for curve in curves])[owner, None], traced(curves, owner, s)
    geometry = Geometry(at.r, at.t_r, at.t_z, at.kappa, fraction, ds)
    return LinePoints(shape, slope, geometry, at.z, s, mesh.aside[owner, None])


def by_rule(points: LinePoints) -> Quadrature:
    """The points of both rules, and views of those of each."""
    return Quadrature(points, *(points.picked(np.s_[..., some]) for some in (slice(STIFF), slice(STIFF, None))))


def side_by_side(lines: Sequence[LinePoints]) -> LinePoints:
    """The elements of several lines one after another."""
    at = (np.concatenate(x) for x in zip(*(tuple(vars(line.at).values()) for line in lines), strict=True))
    shape, slope = (np.concatenate(x, axis=1) for x in zip(*((line.shape, line.slope) for line in lines), strict=True))
    z, s, aside = (np.concatenate(x) for x in zip(*((line.z, line.s, line.aside) for line in lines), strict=True))
    return LinePoints(shape, slope, Geometry(*at), z, s, aside)


@cache
def _reference(counts: tuple[int, ...]) -> tuple[Array, Array, Array, Array]:
    """Places and weights (Q,) on 0...1 of all the rules side by side; quadratic functions (3, Q, 1) and
    their slopes (3, 1, Q)."""
    x, weight = (np.concatenate(both) for both in zip(*(gauss(count) for count in counts), strict=True))
    return x, weight, quadratics(x)[..., None], quadratic_slopes(x)[:, None]
