"""The section of a joint's patch: stretches of the walls that meet there, drawn and cut as the solid draws them."""

from collections.abc import Hashable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import reverse_cuthill_mckee

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Bead, Design, Piece
from diaphragm_fem.design.glued.bead import lay_beads
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE
from diaphragm_fem.design.meridian.outline import backward
from diaphragm_fem.design.meridian.wall import Layer, Wall
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.errors import DesignError, MeshError
from diaphragm_fem.mesh.knot import cut_in_triangles
from diaphragm_fem.mesh.section import Section, chain_and_former, lay_section, plan_section
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.mesh.sizing import bending_rigidity
from diaphragm_fem.mesh.strip_ends import LIPS_FROM, first_cell_share, lay_strips
from diaphragm_fem.model.joint.kind import Arm, Kind, unit
from diaphragm_fem.model.joint.triangles import Triangles
from diaphragm_fem.model.solid.shapes import Orders, Shapes

LONGER = (1.0, 2.0, 4.0)  # times that, tried in turn where walls meet at a sharp angle, with a former, ...
LONGER_ALONE = (*LONGER, 8.0, 16.0, 32.0)  # ... or without: a thick one's mitre takes many thicknesses of a thin one
GRADING = Grading(up_to_hz=1e-3, corner=0.5, growth=1.9)  # flat and slow: only the corners decide
ORDERS, UNITED_ORDER = Orders(5, 5, 5), 6  # the second of the triangles of a union
FAR_OUT = 1.0  # metres from the axis, where a patch is drawn; it is solved flat
MOST_CELLS = 3_000  # 1 s and 0.3 GB; some dozens are usual, of a union some two hundred
NO_LOSS = LossFactor((0.0,))
ARMS = ("first arm", "second arm", "third arm")  # zones of a patch that is of no part


@dataclass(frozen=True, eq=False)
class Cut:
    """The section of a kind of joint as it is cut, and all that its materials have no part in: kinds that differ in
    these alone share it."""

    kind: Kind
    design: Design
    piece: Index  # of each cell (K,), as `Plan` counts them
    layer: Index
    shapes: Shapes | Triangles

    @property
    def united(self) -> bool:
        """Whether the walls were drawn as their union."""
        return isinstance(self.shapes, Triangles)

    @cached_property
    def nodes(self) -> Index:
        """(K, B) of the cells' sides."""
        return self.shapes.nodes[:, : -self.shapes.inside]

    @cached_property
    def place(self) -> Index:
        """Place (N,) of each node in an order of elimination that keeps bands narrow."""
        shape, starts = (len(self.nodes), self.size), np.arange(len(self.nodes) + 1) * self.nodes.shape[1]
        holds = csr_matrix((np.ones(self.nodes.size), self.nodes.ravel(), starts), shape)
        found = np.empty(self.size, np.int64)
        found[reverse_cuthill_mckee(csr_matrix(holds.T @ holds), symmetric_mode=True)] = np.arange(self.size)
        return found

    @property
    def size(self) -> int:
        """How many nodes lie on sides: they come first."""
        return self.shapes.count - self.shapes.inside * len(self.nodes)

    @cached_property
    def turned(self) -> Array:
        """What a turn about the joint works on what lies on the cells' sides (K, B), as `swirl`."""
        return self.shapes.swirl(FAR_OUT)[:, : -self.shapes.inside]

    @cached_property
    def about_joint(self) -> Array:
        """Second moments (K,) in m4 of the cells' areas about the joint."""
        r, z = self.shapes.points
        return np.asarray((((r - FAR_OUT) ** 2 + z**2) * self.shapes.weight).sum(axis=1))

    @cached_property
    def arm_of_cell(self) -> Index:
        owner = [k for k, arm in enumerate(self.kind.arms) for _ in arm.runs(self.kind.reach(arm))]
        return np.array(owner + [len(self.kind.arms) - 1] * len(self.design.beads))[self.piece]

    @cached_property
    def glue_of_cell(self) -> Index:
        """Number (K,) of the fillet, -1 of walls."""
        return np.maximum(self.piece - len(self.design.meridian) - len(self.design.former), -1)

    @cached_property
    def part_of_cell(self) -> Index:
        """Number (K,) of the cell's layer in `Kind.parts`; glue counts as the last arm's first."""
        arms, kind, arm = self.kind.arms, self.kind, self.arm_of_cell
        first = np.array([kind.parts.index(k) for k in range(len(arms))])
        layer = self.layer
        if not kind.held:  # the first arm is drawn towards the joint
            layer = np.where(arm == 0, len(arms[0].plies) - 1 - layer, layer)
        return first[arm] + np.where(self.glue_of_cell < 0, layer, 0)

    @cached_property
    def far_sides(self) -> list[list[tuple[int, int]]]:
        """Sides (cell, side) in the far end face of each arm."""
        found = []
        for index, arm in enumerate(self.kind.arms):
            tip, angle = arm.place(self.kind.reach(arm))
            beyond = (self.shapes.corner - [FAR_OUT, 0.0] - tip) @ unit(angle)
            far = (np.abs(beyond) < 1e-4 * arm.thickness) & (self.arm_of_cell == index)[:, None]
            sides = [np.flatnonzero(far[:, a] & far[:, b]).tolist() for a, b in self.shapes.sides]
            found.append([(cell, side) for side, own in enumerate(sides) for cell in own])
        return found


@dataclass(frozen=True, eq=False)
class Patch:
    """A kind with its cut."""

    kind: Kind
    cut: Cut

    @property
    def elastic_of_cell(self) -> Array:
        """Young's modulus in Pa and Poisson ratio (K, 2)."""
        wall = np.array([ply[1:] for arm in self.kind.arms for ply in arm.plies])[self.cut.part_of_cell]
        if self.kind.glue:
            glue = np.array([(glue.youngs_modulus, glue.poisson_ratio) for glue in self.kind.glue])
            wall = np.where(self.cut.glue_of_cell[:, None] < 0, wall, glue[self.cut.glue_of_cell])
        return wall


def patch_of(kind: Kind, zones: tuple[str, ...] = ARMS) -> Patch:
    """The patch of a kind, its arms longer where they part late. Raises MeshError or DesignError where the solid cannot
    draw it, which calls its arms by some zones."""
    tries = LONGER[:1] if kind.held else LONGER_ALONE if len(kind.arms) == 2 else LONGER
    for longer in tries:
        drawn = kind._replace(longer=longer)
        try:
            cut = _cut(own := _drawn(drawn, zones))
            if cut.united and _moduli(cut.kind) != _moduli(drawn):
                cut = _cut(replace(own, felt=(own.felt, _moduli(drawn))))
        except (MeshError, DesignError):  # a fillet of glue needs room, too
            if longer == tries[-1]:
                raise
            continue
        if (count := len(cut.piece)) > MOST_CELLS:
            raise MeshError(
                f"the patch of a joint would have {count} cells, and at most {MOST_CELLS} are "
                "solved: make its walls less unequal in thickness"
            )
        return Patch(drawn._replace(longer=cut.kind.longer), cut)
    raise MeshError("no patch was tried")


def alike_in_cut(kind: Kind) -> Hashable:
    """What kinds have in common that share a cut."""
    return _drawn(kind, ARMS).felt


def cells_of(kind: Kind) -> int:
    """How many cells the patch of a kind is first tried with, 0 where its walls are not laid out by themselves."""
    try:
        return len(plan_section(_with_room(_drawn(kind, ARMS)).design, GRADING).cells)
    except MeshError:
        return 0


@dataclass(frozen=True)
class _Drawn:
    """A kind and its design, told apart from others by what decides how they are cut alone."""

    felt: Hashable
    kind: Kind = field(compare=False)
    design: Design = field(compare=False)
    zones: tuple[str, ...] = field(compare=False)


@lru_cache(maxsize=2)  # of a few MB: joints that share one are asked for in a row
def _cut(drawn: _Drawn) -> Cut:
    kind, design = drawn.kind, drawn.design
    hangs = design.former and not kind.glue
    own = _drawn(kind._replace(longer=LONGER[0]), drawn.zones) if hangs else drawn
    section, under = _laid(own)
    if hangs and not section and (own := _with_room(own, under)).kind.longer > LONGER[0]:
        section, under = _laid(own)
    if not section:
        union, owners = cut_in_triangles(design, under)
        piece, layer = np.array(owners)[union.patch].T
        return Cut(kind, design, piece, layer, Triangles(union.points, union.cells, UNITED_ORDER))
    piece, layer = np.array(section.plan.piece), np.array(section.plan.layer)
    return Cut(own.kind, section.design, piece, layer, Shapes(section, ORDERS))


@lru_cache(maxsize=2)
def _laid(drawn: _Drawn) -> tuple[Section | None, bool]:
    """See `lay_section`. A former without glue that finds no face to hang from between the shortest arms is not tried
    between longer ones: none of 41 unions of those hung, a try takes 3 ms. But where these have no room for a mitre, or
    cells would be flat there, it is: between the solid's walls they are not."""
    return lay_section(drawn.design, GRADING)


def _with_room(drawn: _Drawn, longer: bool = False) -> _Drawn:
    """The same kind with the shortest arms that have room for the mitre of its walls, or the next ones, `longer`; as it
    is where none have."""
    for times in LONGER_ALONE[longer:]:
        found = _drawn(drawn.kind._replace(longer=times), drawn.zones)
        with suppress(MeshError):
            lay_strips(chain_and_former(found.design)[0])
            return found
    return drawn


@lru_cache(maxsize=1024)  # of some kB: each is asked for up to three times, of many met at once first of all
def _drawn(kind: Kind, zones: tuple[str, ...]) -> _Drawn:
    runs = []
    for k, arm in enumerate(kind.arms):
        lift, line = (0.0, arm.lift) if k == 2 else (arm.lift, 0.0)  # a former is drawn where it stands
        curves = [_curve(arm, *run, line) for run in arm.runs(kind.reach(arm))]
        if k == 0 and not kind.held:
            curves = backward(curves)
        wall = Wall(
            tuple(
                Layer(Material(f"material {k}.{n}", 1.0, modulus, nu, NO_LOSS), h, h)
                for n, (h, modulus, nu) in enumerate(arm.plies)
            ),
            (lift, lift),
        )
        wall = wall.reverse() if k == 0 and not kind.held else wall
        runs.append([Piece(curve, Zone(zones[k]), wall) for curve in curves])
    meridian = [piece for run in runs[:2] for piece in run]
    former = [piece for run in runs[2:] for piece in run]
    edge, joint = (CLAMPED if kind.held else FREE), (len(runs[0]) if former else None)
    design = Design("patch", tuple(meridian), edge, FREE, joint, tuple(former))
    return _Drawn(_felt(kind, [run[0] for run in runs]), kind, replace(design, beads=_beads(kind, design)), zones)


def _felt(kind: Kind, walls: Sequence[Piece]) -> Hashable:
    """What decides how a kind is cut: its shape; how much smaller Poisson ratios make the first cells; which of two
    walls end to end bends more easily, where neither is held by its middle. A joint that is drawn as the union of its
    walls feels their `_moduli` as well."""
    plies = [ply for arm in kind.arms for ply in arm.plies]
    shape = [(arm.direction, arm.bends, arm.lift, *(ply.thickness for ply in arm.plies)) for arm in kind.arms]
    thick, thin = (of(arm.thickness for arm in kind.arms[:2]) for of in (max, min))
    by_middle = thick > LIPS_FROM * thin and not any(arm.layers for arm in kind.arms)
    return (
        tuple(shape), tuple((glue.inside, glue.radius) for glue in kind.glue), kind.longer,
        () if by_middle else _ranks([bending_rigidity(piece, 0.5) for piece in walls[:2]]),
        tuple(first_cell_share(ply.poisson_ratio) for ply in plies),
    )  # fmt: skip


def _moduli(kind: Kind) -> tuple[int, ...]:
    """Which moduli are the larger."""
    plies = [ply.youngs_modulus for arm in kind.arms for ply in arm.plies]
    return _ranks([*plies, *(glue.youngs_modulus for glue in kind.glue)])


def _ranks(values: Sequence[float]) -> tuple[int, ...]:
    return tuple(np.unique(values, return_inverse=True)[1].tolist())


def _beads(kind: Kind, design: Design) -> tuple[Bead, ...]:
    found: list[Bead] = []
    for n, glue in enumerate(kind.glue):
        material = Material(f"glue {n}", 1.0, glue.youngs_modulus, glue.poisson_ratio, NO_LOSS)
        side = "inside" if glue.inside else "outside"
        found += lay_beads(design.meridian, design.joint or 0, design.former, glue.radius, side, material)
    return tuple(found)


def _curve(arm: Arm, begin: float, end: float, curvature: float, lift: float) -> Curve:
    """A bend of an arm or its straight run, between two distances from the joint, the run by `lift` to the left."""
    (a, angle), (b, _) = arm.place(begin), arm.place(end)
    if not curvature:
        a, b = (np.array([FAR_OUT, 0.0]) + x + lift * unit(angle + np.pi / 2) for x in (a, b))
        return Line((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))
    radius, side = 1 / abs(curvature), np.pi / 2 * np.sign(curvature)
    r, z = a + radius * unit(angle + side)
    return Arc((float(r) + FAR_OUT, float(z)), radius, angle - side, curvature * (end - begin))
