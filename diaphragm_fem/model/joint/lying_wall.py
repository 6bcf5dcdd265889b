"""The surround that lies along its former: over that stretch the two are one, face to face.

To the shell walls meet in a point, and the surround would be free of the former from there on: modes were 1 to 20 % too
low. Where the two overlap or touch, the surround's face is held at what the former carries along, by

    t = E' d/g across,   t = G d/g along and around,   E' = E/(1 - nu^2),   g = GROUND h,

d what the face moves more, around what its wall's middle does, and h that wall's thickness: a wall on such ground gives
way beyond the end of its glue as if it were longer (Kanninen, Int. J. Fracture 9 (1973) 83, a beam on ground of 2 E/h,
g = h/2; from memory; here it is six times as stiff, see `GROUND`). What the joint's patch yields of the surround stays
within that stretch.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, pi, remainder, sin

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import normal
from diaphragm_fem.mesh.knot_arms import Numbered, runs_of
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.law import Elastic
from diaphragm_fem.model.quadrature import gauss, quadratics
from diaphragm_fem.model.rings import GLUE
from diaphragm_fem.model.shell.line import OrderTerms, ShellLine
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC, FIELDS
from diaphragm_fem.model.structure import STIFFNESS, Term

ALONG = 0.9  # radians between a wall and the former below which it may lie along it
FROM, WHOLLY = 1.0, 1.5  # mean thicknesses of the two over which they touch: from the first on it counts, from the
# second on wholly; what is shorter the patch of the joint has
GROUND = 1 / 12  # of a wall's thickness: between 1/6 and 1/20 harsh domes differ least from the solid
SAMPLES = 8  # places over a thickness at which faces are held against each other
ABOVE = 1e-6  # m above the former's top from which a wall does not lie along it
POINTS = 3  # of an element at which it is held


@dataclass(frozen=True)
class Lying:
    """A surround along its former: its pieces from the joint on; how much it counts, 0 to 1, and how far in m the two
    touch; the mean thickness of both in m; the former's top (2,) and direction (2,)."""

    run: tuple[Numbered, ...]
    share: float
    touch: float
    thick: float
    top: Array
    down: Array

    @property
    def length(self) -> float:
        """How far in m it is held."""
        return self.share * self.touch

    @property
    def end(self) -> tuple[int, int]:
        """The end of a piece with which it begins at the joint."""
        return self.run[0][0], 0

    def stretch(self, least: float) -> float:
        """How long the joint's stretch of it must be, in m, where it would be `least` of a wall that is free."""
        return least + self.share * min(self.length - least, 0.0)


def lying_wall(design: Design) -> Lying | None:
    """The wall beyond the joint of a design, where it may leave along the former, whether they touch or not: walls of
    several thicknesses have the same terms. A wall of several layers is not held."""
    joint = design.joint or 0
    if not design.former or not 0 < joint < len(design.meridian):
        return None
    first, former = design.meridian[joint], design.former[0]
    angle = former.curve.ends[0].angle
    if min(abs(remainder(tip.angle - angle, 2 * pi)) for tip in first.curve.ends) > ALONG:
        return None
    run, top, down = runs_of(design)[1], np.array(former.curve.ends[0].point), np.array([cos(angle), sin(angle)])
    thick = float(former.wall.thickness(0.0))
    mean = (float(first.wall.thickness(0.0)) + thick) / 2
    touch = _touching(run, top, down, thick)
    share = min(max((touch / mean - FROM) / (WHOLLY - FROM), 0.0), 1.0)
    return Lying(tuple(run), share if len(first.wall.layers) == 1 else 0.0, touch, mean, top, down)


def _touching(run: Sequence[Numbered], top: Array, down: Array, thick: float) -> float:
    """How far in m from the joint a wall goes on until its face leaves a former that is `thick`."""
    begin = 0.0
    for _, piece in run:
        s = np.linspace(0.0, piece.curve.length, 2 + int(SAMPLES * piece.curve.length / piece.wall.thickest))
        cosine, off = np.abs(piece.curve.tangent(s) @ down), piece.curve.point(s) - top
        gap = np.abs(off @ normal(down)) - (cosine * piece.wall.thickness(s / piece.curve.length) + thick) / 2
        gap = np.maximum(gap, -(off @ down) - ABOVE)
        if (gap > 0).any():
            k = int(np.argmax(gap > 0))
            return begin + float(s[k] - (s[k] - s[k - 1]) * gap[k] / (gap[k] - gap[k - 1])) if k else begin
        begin += piece.curve.length
    return begin


def cut_along(mesh: MeridianMesh, lying: Lying, least: float = 0.0) -> MeridianMesh:
    """The same mesh with a node where the surround comes free, or beyond, where the joint's stretch ends, which were
    `least` m of a wall that is free; elements before are no longer than walls are thick: else a stretch takes in
    another element at once."""
    stations = list(mesh.stations)
    left = max(lying.length, lying.stretch(least))
    for k, piece in lying.run:
        if left <= 0:
            break
        own, end = stations[k], min(left, piece.curve.length)
        even = np.linspace(0.0, end, 2 + int(end / lying.thick))
        if end < own[-1]:
            even = np.append(even, own[-1])
        stations[k] = np.sort(np.append(own[np.abs(own[:, None] - even).min(axis=1) > lying.thick / 4], even))
        left -= piece.curve.length
    return mesh.recut(stations)


def lying_term(line: ShellLine, order: OrderTerms, lying: Lying) -> Term:
    """The stiffness of what holds the surround on the former, of the surround's material."""
    mesh, fields, left = line.mesh, FIELDS if order.m else AXISYMMETRIC, lying.length
    dofs, blocks = [], []
    material, (x, weight) = lying.run[0][1].wall.layers[0].material, gauss(POINTS)
    nu = material.poisson_ratio
    ground = material.youngs_modulus / GROUND * np.array([1 / (1 - nu**2), *[1 / (2 * (1 + nu))] * 2])
    for k, piece in lying.run:
        for n, (a, b) in enumerate(pairwise(mesh.stations[k].tolist())):
            length = min(b, left) - a
            if length <= 0:
                break
            s = a + length * x
            thick = piece.wall.thickness(s / piece.curve.length)
            for at, place, tangent, h, w in zip(
                s, piece.curve.point(s), piece.curve.tangent(s), thick, weight, strict=True
            ):
                element, there, below, across = _on_former(mesh, float((place - lying.top) @ lying.down))
                off = place - below
                lean = -h / 2 * np.sign(off @ normal(tangent))
                off = off + mesh.design.former_aside * across  # from the line about which it turns
                rows = _apart(fields, (float(at - a) / (b - a), there), off, tangent, across, lean)
                dofs.append(np.concatenate((order.dofs[mesh.elements[k].start + n], order.dofs[element])))
                blocks.append(rows.T @ (order.around * place[0] * w * length / h * ground[:, None] * rows))
        left -= piece.curve.length
    size = (len(dofs), 6 * len(fields))
    every = np.array(dofs, np.int64).reshape(size), np.array(blocks).reshape(*size, size[1])
    (stiffness,) = order.numbering.matrices(*every)
    return Term(stiffness, Elastic(material), STIFFNESS, line.design.zones.index(lying.run[0][1].zone), GLUE)


def _on_former(mesh: MeridianMesh, s: float) -> tuple[int, float, Array, Array]:
    """The element of the former beside a place s in m from its top, where in it, the point there and its normal."""
    pieces = range(len(mesh.design.meridian), len(mesh.pieces))
    for k in pieces:
        if s < mesh.pieces[k].curve.length or k == pieces[-1]:
            break
        s -= mesh.pieces[k].curve.length
    cuts, curve = mesh.stations[k], mesh.pieces[k].curve
    n = min(max(int(np.searchsorted(cuts, s, side="right")) - 1, 0), len(cuts) - 2)
    x = float((s - cuts[n]) / (cuts[n + 1] - cuts[n]))
    return mesh.elements[k].start + n, x, curve.point(s), normal(curve.tangent(s))


def _apart(
    fields: Sequence[str], places: tuple[float, float], off: Array, tangent: Array, across: Array, lean: float
) -> Array:
    """How far the surround's face moves more than the former carries it (3, 2 F): across, along, around; functions of
    the elements of surround and former at `places` in them, field by field. The surround's middle is `off` from the
    former's line in m, whose normal is `across`, its face `lean` from that along its own normal."""
    own, other = map(quadratics, places)
    moves = {name: np.zeros((2, len(fields), 3)) for name in "uvwb"}
    for name, turn, lever in (("u", "b", off[1]), ("w", "b", -off[0]), ("v", "q", off @ across), ("b", "b", 0.0)):
        if name in fields:
            moves[name][0, fields.index(name)] = own
            moves[name][1, fields.index(turn)] = -lever * other
            moves[name][1, fields.index(name)] -= other
    u, v, w, b = (moves[name].ravel() for name in "uvwb")
    return np.stack((tangent[0] * w - tangent[1] * u, tangent[0] * u + tangent[1] * w + lean * b, v))
