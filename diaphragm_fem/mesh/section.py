"""The wall section cut into curved quadrilaterals by gmsh.

The plan (points, curved edges, cells) is laid out first; gmsh turns each cell into one transfinite, recombined element
of second order. Its middles are then moved onto the curves of the design, so that curved walls are biquadratic; gmsh
would do the same on splines, in three times the time. This is the only file that knows gmsh.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from types import ModuleType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.material import Material
from diaphragm_fem.design.zone import Zone
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.branch import hang_former, top_of_former
from diaphragm_fem.mesh.chain import lay_chain, name_faces
from diaphragm_fem.mesh.section_plan import Plan, check_radius
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.mesh.strip import lay_strips

if TYPE_CHECKING:
    from skfem import MeshQuad2

Array = NDArray[np.float64]
Index = NDArray[np.int64]

PACKAGES = "libglu1-mesa libgl1 libxcursor1 libxft2 libxinerama1 libgomp1"
FLATTEST = 0.02  # smallest over largest Jacobian that a cell may have
_ONE_AT_A_TIME = threading.Lock()  # gmsh keeps one global state


@dataclass(frozen=True)
class Section:
    """A meshed wall section.

    points (2, N) in m, corners first; cells (9, n): corners counterclockwise, the middles of the sides they bound in
    order (rear, end, front, begin) and the centre. The plan says what each cell, side and stretch of mid-surface is.
    """

    design: Design
    plan: Plan
    points: Array
    cells: Index

    @cached_property
    def mesh(self) -> MeshQuad2:
        """The scikit-fem mesh, cells and their first corners in the same order."""
        from skfem import Dofs, ElementQuad2, MeshQuad1, MeshQuad2

        vertices = np.ascontiguousarray(self.points[:, : len(self.plan.points)])
        corners = MeshQuad1(vertices, np.ascontiguousarray(self.cells[:4]), sort_t=False, validate=False)
        numbers = Dofs(corners, ElementQuad2()).element_dofs
        places = np.empty((2, int(numbers.max()) + 1))
        places[:, numbers] = self.points[:, self.cells]
        return MeshQuad2(places, corners.t, sort_t=False, validate=False)

    @cached_property
    def zone_of_cell(self) -> Index:
        """Index into design.zones."""
        pieces: tuple[Piece, ...] = (*self.design.meridian, *self.design.former)
        order: dict[Zone, int] = {zone: i for i, zone in enumerate(self.design.zones)}
        return np.array([order[piece.zone] for piece in pieces])[self.plan.piece]

    @cached_property
    def material_of_cell(self) -> Index:
        """Index into design.materials."""
        pieces: tuple[Piece, ...] = (*self.design.meridian, *self.design.former)
        order: dict[Material, int] = {material: i for i, material in enumerate(self.design.materials)}
        layers = [[order[layer.material] for layer in piece.wall.layers] for piece in pieces]
        return np.array([layers[p][k] for p, k in zip(self.plan.piece, self.plan.layer, strict=True)])


def mesh_section(design: Design, up_to_hz: float = 20e3, grading: Grading | None = None) -> Section:
    """Cut a design's wall for frequencies up to `up_to_hz`; a `grading` of one's own overrides the sizes.

    Raises MeshError where the wall cannot be cut, or gmsh cannot be loaded.
    """
    plan = plan_section(design, grading or Grading(up_to_hz=up_to_hz))
    points, cells = _run_gmsh(plan, design)
    _check_jacobian(points, cells, plan, design)
    return Section(design, plan, points, cells)


def plan_section(design: Design, grading: Grading) -> Plan:
    """Lay a design's wall out in cells.

    A former joined within the meridian hangs from the rear face (see `hang_former`); one that is joined at an end of
    the meridian carries the wall on round the corner. Layers become rows, one cell each; a wall with fewer layers than
    another has its thickest layers split.

    Raises MeshError where walls cannot be laid (see `lay_strips`, `hang_former`).
    """
    meridian = list(enumerate(design.meridian))
    former = [(len(meridian) + i, piece) for i, piece in enumerate(design.former)]
    before, after = _carried_on(design, former)
    chain = before + meridian + after
    strips = lay_strips(chain, max(len(piece.wall.layers) for _, piece in chain))
    plan = Plan()
    if former and not before and not after:
        branch = lay_strips(former, max(len(piece.wall.layers) for _, piece in former))
        top = top_of_former(design, strips, branch)
        ids = lay_chain(plan, strips, top.breaks, top.seeds, grading, len(meridian), False)
        hang_former(plan, top, ids, grading)
    else:
        ids = lay_chain(plan, strips, {}, [], grading, len(meridian), bool(before))
    name_faces(plan, design, ids)
    check_radius(plan)
    return plan


def _carried_on(design: Design, former: list[tuple[int, Piece]]) -> tuple[list, list]:
    """Former pieces that precede or follow the meridian in one chain, where the joint is at one of its ends."""
    if not former:
        return [], []
    if design.joint is None:
        raise MeshError("a coil former needs a joint on the meridian")
    if design.joint == len(design.meridian):
        return [], former
    if design.joint == 0:
        return [(i, _turned(piece)) for i, piece in reversed(former)], []
    return [], []


def _turned(piece: Piece) -> Piece:
    """The same piece seen from its other end."""
    return Piece(piece.curve.reverse(), piece.zone, piece.wall.reverse(), piece.winding)


def load_gmsh() -> ModuleType:
    """The gmsh module. Raises MeshError where it, or a system library it needs, is missing."""
    try:
        import gmsh
    except OSError as error:
        missing = str(error).split(":")[0]
        raise MeshError(
            f"the section mesher gmsh needs the system library {missing}, which is not installed; on Debian 12 run "
            f"'apt-get install {PACKAGES}'"
        ) from error
    except ImportError as error:
        raise MeshError("the section mesher gmsh is not installed; run 'pip install gmsh'") from error
    return gmsh


@contextmanager
def gmsh_model(name: str) -> Iterator[ModuleType]:
    """A silent gmsh with a fresh model, removed on leaving; safe in threads and workers."""
    gmsh = load_gmsh()
    with _ONE_AT_A_TIME:
        ours = not gmsh.isInitialized()
        if ours:
            gmsh.initialize(readConfigFiles=False, interruptible=False)
            _take_signals_back()
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        gmsh.option.setNumber("Mesh.ElementOrder", 2)
        gmsh.option.setNumber("Mesh.SecondOrderIncomplete", 0)
        gmsh.model.add(name)
        try:
            yield gmsh
        finally:
            gmsh.model.remove()
            if ours:
                gmsh.finalize()


def _take_signals_back() -> None:
    """gmsh lets SIGTERM, SIGHUP and SIGPIPE end the process on the spot: give them back to whom they were given in
    Python, which ignores a closed pipe and raises an error instead.
    """
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGTERM", "SIGHUP", "SIGPIPE"):
            number = getattr(signal, name, None)
            if number is not None and (handler := signal.getsignal(number)) not in (None, signal.SIG_DFL):
                signal.signal(number, handler)


def _run_gmsh(plan: Plan, design: Design) -> tuple[Array, Index]:
    """Mesh the plan: points (2, N) in m and cells (9, n), in the plan's own order."""
    corners = np.array(plan.points)
    unit = float(np.ptp(corners, axis=0).max())
    with gmsh_model(design.name) as gmsh:
        _draw(gmsh, plan, corners / unit)
        gmsh.model.mesh.generate(2)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        kinds, _, nodes = gmsh.model.mesh.getElements(2)
    if list(kinds) != [10] or len(nodes[0]) != 9 * len(plan.cells):
        raise MeshError("gmsh did not make one quadrilateral of each cell; make the wall smoother or thinner")
    number = np.empty(int(tags.max()) + 1, np.int64)
    number[tags] = np.arange(len(tags))
    points = unit * xyz.reshape(-1, 3)[:, :2].T
    cells = _in_plan_order(number[nodes[0].reshape(-1, 9)], points, plan, corners)
    return _onto_curves(points, cells, plan), cells


def _draw(gmsh: ModuleType, plan: Plan, corners: Array) -> None:
    """Draw the plan's points, edges (straight) and cells."""
    geo = gmsh.model.geo
    for i, (r, z) in enumerate(corners):
        geo.addPoint(r, z, 0, 0, i + 1)
    curve = {}
    for a, b in plan.edges:
        curve[a, b] = geo.addLine(a + 1, b + 1)
        geo.mesh.setTransfiniteCurve(curve[a, b], 2)
    for tag, (a, b, c, d) in enumerate(plan.cells, start=1):
        loop = geo.addCurveLoop([curve[a, b], curve[b, c], -curve[d, c], -curve[a, d]])
        geo.addPlaneSurface([loop], tag)
        geo.mesh.setTransfiniteSurface(tag)
        geo.mesh.setRecombine(2, tag)
    geo.synchronize()


def _in_plan_order(cells: Index, points: Array, plan: Plan, corners: Array) -> Index:
    """Cells (9, n) turned so that their corners are the plan's; node i < P is the plan's point i."""
    if np.abs(points[:, : len(corners)].T - corners).max() > 1e-9 * np.abs(corners).max():
        raise MeshError("gmsh moved the corners of the wall's cells")
    wanted = np.array(plan.cells)
    ordered = np.empty_like(cells)
    for way in (1, -1):
        for shift in range(4):
            turn = (shift + way * np.arange(4)) % 4
            sides = turn if way == 1 else (turn - 1) % 4
            same = (cells[:, turn] == wanted).all(axis=1)
            ordered[same] = cells[same][:, [*turn, *(4 + sides), 8]]
    if not (ordered[:, :4] == wanted).all():
        raise MeshError("gmsh returned cells in another order than they were drawn")
    return ordered.T.astype(np.int64)


def _onto_curves(points: Array, cells: Index, plan: Plan) -> Array:
    """The same points with the middles of sides moved onto the plan's edges and the centres after them.

    A centre is half the sum of the side middles less a quarter of the sum of the corners, as in transfinite maps.
    """
    moved = points.copy()
    for side, (a, b) in enumerate(((0, 1), (1, 2), (3, 2), (0, 3))):
        ends = zip(cells[a].tolist(), cells[b].tolist(), strict=True)
        moved[:, cells[4 + side]] = np.array([plan.edges[edge] for edge in ends]).T
    moved[:, cells[8]] = moved[:, cells[4:8]].sum(axis=1) / 2 - moved[:, cells[:4]].sum(axis=1) / 4
    return moved


def jacobians(points: Array, cells: Index) -> Array:
    """Jacobian determinants (n, 25) of the biquadratic cells at a 5 x 5 grid of local points."""
    from skfem import ElementQuad2

    grid = np.stack(np.meshgrid(*[np.linspace(0, 1, 5)] * 2)).reshape(2, -1)
    slope = np.array([ElementQuad2().lbasis(grid, i)[1] for i in range(9)])
    jacobian = np.einsum("cin,idq->ncdq", points[:, cells], slope)
    return jacobian[:, 0, 0] * jacobian[:, 1, 1] - jacobian[:, 0, 1] * jacobian[:, 1, 0]


def _check_jacobian(points: Array, cells: Index, plan: Plan, design: Design) -> None:
    det = jacobians(points, cells)
    flat = det.min(axis=1) / np.abs(det).max(axis=1)
    worst = int(np.argmin(flat))
    if flat[worst] < FLATTEST:
        pieces = (*design.meridian, *design.former)
        r, z = points[:, cells[8, worst]] * 1e3
        piece = pieces[plan.piece[worst]]
        thickness = float(piece.wall.thickness(0.5)) * 1e3
        raise MeshError(
            f"a cell of zone '{piece.zone.name}' near r = {r:.4g} mm, z = {z:.4g} mm turns inside out; give the corner "
            f"there a radius of at least {2 * thickness:.3g} mm or make the wall thinner than {thickness:.3g} mm"
        )
