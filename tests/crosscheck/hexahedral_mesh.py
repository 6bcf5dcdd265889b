"""A quarter of the wall cut into 27-node hexahedra: rings of elements, and a square pattern at the pole of a dome."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from skfem import Basis, ElementHex2, MeshHex, MeshHex2

from crosscheck.thick_wall import Array, ThickWall, graded, stations, thick_wall
from diaphragm_fem.design.design import Design

CORE = 0.3  # of the first piece: how far the square pattern at the pole reaches
PLACES = np.rint(2 * ElementHex2().doflocs).astype(int)  # of the 27 nodes: 0, 1, 2 along each side of the element


@dataclass(frozen=True)
class Hexahedra:
    """Mesh of the quarter with the drawing's coordinates of each node: s in m, theta in rad, height -1...1."""

    wall: ThickWall
    mesh: MeshHex2
    piece: np.ndarray
    s: Array
    theta: Array
    height: Array
    core: float

    @cached_property
    def basis(self) -> Basis:
        """Three Gauss points each way: the mass."""
        return Basis(self.mesh, ElementHex2(), quadrature=_gauss(3, 3, 3))

    @cached_property
    def stiffness_basis(self) -> Basis:
        """Two Gauss points along the meridian: three would lock long thin elements in bending. Two in one direction
        only leave no motion without energy."""
        return Basis(self.mesh, ElementHex2(), quadrature=_gauss(2, 3, 3))

    def faces(self, side: int, value: int) -> np.ndarray:
        """Nodes (3, 3, C) of the nine-node faces where place `side` (0 along the meridian, 1 around, 2 through the
        wall) is `value` (0 begin, 2 end); both other sides keep their order."""
        here = np.flatnonzero(PLACES[:, side] == value)
        others = np.delete(PLACES[here], side, axis=1)
        nodes = np.empty((3, 3, self.basis.nelems), int)
        nodes[others[:, 0], others[:, 1]] = self.basis.element_dofs[here]
        return nodes

    def middle_circles(self) -> list[np.ndarray]:
        """Mid-surface nodes of each full quarter circle, in order of theta: those outside the pattern at the pole."""
        middle = np.flatnonzero((np.abs(self.height) < 1e-9) & (self.s > self.core + 1e-8))
        middle = middle[np.argsort(self.s[middle], kind="stable")]
        circles = np.split(middle, np.flatnonzero(np.diff(self.s[middle]) > 1e-8) + 1)
        return [circle[np.argsort(self.theta[circle])] for circle in circles]

    def front(self) -> np.ndarray:
        """Faces toward the listener, (along the meridian, around)."""
        faces = self.faces(2, 2)
        return faces[:, :, (self.height[faces] > 1 - 1e-9).all(axis=(0, 1))]

    def section_at_joint(self) -> np.ndarray:
        """Faces of the wall's cross-section at the drive circle, (around, through the wall)."""
        mark = self.wall.mark_of_joint()
        for value in (0, 2):
            faces = self.faces(0, value)
            on_circle = (np.abs(self.s[faces] - mark) < 1e-9).all(axis=(0, 1))
            if on_circle.any():
                return faces[:, :, on_circle]
        raise ValueError("no element ends at the drive circle")


def _gauss(*points: int) -> tuple[Array, Array]:
    """Gauss rule on the unit cube with its own number of points along each side."""
    rules = [np.polynomial.legendre.leggauss(count) for count in points]
    places = np.meshgrid(*[(1 + x) / 2 for x, _ in rules], indexing="ij")
    weights = np.einsum("i,j,k->ijk", *[w / 2 for _, w in rules])
    return np.stack([x.ravel() for x in places]), weights.ravel()


def _rings(radii: Array, around: int) -> tuple[Array, np.ndarray]:
    """Quadrilaterals between circles of the given radii over a quarter turn: corners (2, N) and cells (4, C)."""
    theta = np.linspace(0, np.pi / 2, around + 1)
    corners = np.stack([np.outer(radii, np.cos(theta)).ravel(), np.outer(radii, np.sin(theta)).ravel()])
    i, j = np.meshgrid(np.arange(len(radii) - 1), np.arange(around), indexing="ij")
    first = (i * (around + 1) + j).ravel()
    return corners, np.stack([first, first + around + 1, first + around + 2, first + 1])


def _core(radius: float, around: int, layers: int) -> tuple[Array, np.ndarray]:
    """A quarter disc in three blocks: a square at the pole and two fans from its sides to the circle."""
    k = around // 2
    side, corner = 0.5 * radius, 0.42 * radius
    u, v = np.meshgrid(np.linspace(0, 1, k + 1), np.linspace(0, 1, k + 1), indexing="ij")
    square = np.stack([u * side + u * v * (corner - side), v * side + u * v * (corner - side)])
    rim = np.concatenate((square[:, k, :], square[:, k - 1 :: -1, k]), axis=1)
    theta = np.linspace(0, np.pi / 2, around + 1)
    circle = radius * np.stack([np.cos(theta), np.sin(theta)])
    fan = [(1 - w) * rim + w * circle for w in np.linspace(0, 1, layers + 1)]
    corners = np.concatenate([square.reshape(2, -1), *fan], axis=1)
    i, j = (x.ravel() for x in np.meshgrid(np.arange(k), np.arange(k), indexing="ij"))
    first = i * (k + 1) + j
    inside = np.stack([first, first + k + 1, first + k + 2, first + 1])
    i, j = (x.ravel() for x in np.meshgrid(np.arange(layers), np.arange(around), indexing="ij"))
    first = (k + 1) ** 2 + i * (around + 1) + j
    outside = np.stack([first, first + around + 1, first + around + 2, first + 1])
    return corners, np.concatenate([inside, outside], axis=1)


def _merged(blocks: list[tuple[Array, np.ndarray]]) -> tuple[Array, np.ndarray]:
    """Blocks of cells as one, corners at the same place made the same."""
    corners = np.concatenate([block[0] for block in blocks], axis=1)
    offsets = np.cumsum([0] + [block[0].shape[1] for block in blocks[:-1]])
    cells = np.concatenate([block[1] + o for block, o in zip(blocks, offsets, strict=True)], axis=1)
    grain = 1e-7 * np.abs(corners).max()
    _, first, same = np.unique(np.rint(corners / grain), axis=1, return_index=True, return_inverse=True)
    return corners[:, first], same.ravel()[cells]


def _nine_nodes(corners: Array, cells: np.ndarray, polar_from: float) -> Array:
    """Nodes (2, 3, 3, C) of nine-node cells at 0, 1/2, 1 of both sides; edges beyond `polar_from` are arcs."""

    def middle(a: Array, b: Array) -> Array:
        straight, size = (a + b) / 2, (np.hypot(*a) + np.hypot(*b)) / 2
        arc = straight * (size / np.hypot(*straight))
        outside = np.minimum(np.hypot(*a), np.hypot(*b)) > polar_from * (1 - 1e-6)
        return np.where(outside, arc, straight)

    a, b, c, d = (corners[:, cells[i]] for i in range(4))
    ab, bc, cd, da = middle(a, b), middle(b, c), middle(c, d), middle(d, a)
    # On a ring the centre lies on the middle arc; in the core the usual blend of sides and corners does.
    ring = np.min([np.hypot(*x) for x in (a, b, c, d)], axis=0) > polar_from * (1 - 1e-6)
    centre = np.where(ring, middle(ab, cd), (ab + bc + cd + da) / 2 - (a + b + c + d) / 4)
    return np.stack([np.stack([a, da, d]), np.stack([ab, centre, cd]), np.stack([b, bc, c])]).transpose(2, 0, 1, 3)


def hexahedra(
    design: Design, *, around: int, first: float, largest: float, layers: tuple[float, ...] = (-1, 1)
) -> Hexahedra:
    """Mesh a quarter of the wall: `around` elements over 90 degrees, elements along the meridian from `first` (m), at
    every end of a piece, to `largest` (m), and through the wall between the heights `layers`."""
    wall = thick_wall(design)
    on_axis = design.inner_edge is None
    if on_axis and around % 2:
        raise ValueError("the square pattern at the pole needs an even number of elements around")
    hole = 0.0 if on_axis else wall.marks[-1]  # opens the flat footprint, so that an inner edge is a circle too
    core = CORE * wall.marks[1] if on_axis else 0.0
    cuts = stations(wall, first, largest)
    if on_axis:  # nothing singular at the pole: only the far half of the grading
        whole = wall.marks[1] - core
        cuts[0] = core + graded(2 * whole, first, largest)
        cuts[0] = core + wall.marks[1] - cuts[0][cuts[0] < core + whole * (1 + 1e-9)]
    radii = hole + np.unique(np.concatenate(cuts).round(12))
    blocks = [_rings(radii, around)]
    if on_axis:
        blocks.append(_core(core, around, max(1, round(0.5 * core / largest))))
    corners, cells = _merged(blocks)
    nine = _nine_nodes(corners, cells, core if on_axis else 0.0)
    heights = np.array(layers, float)
    count, floors = corners.shape[1], len(heights) - 1
    turn = {(0, 0): 0, (2, 0): 1, (2, 2): 2, (0, 2): 3}
    t = np.hstack(
        [
            np.stack([cells[turn[x, y]] + count * (floor + z // 2) for x, y, z in PLACES[:8].tolist()])
            for floor in range(floors)
        ]
    )
    column = np.vstack([np.tile(corners, len(heights)), np.repeat(heights, count)])
    numbering = Basis(MeshHex2.from_mesh(MeshHex(column, t)), ElementHex2(), intorder=1)
    middle = np.hypot(*nine[:, 1, 1]) - hole
    piece = np.tile(np.searchsorted(wall.marks, middle) - 1, floors)
    place, drawn = np.empty((3, numbering.N)), np.empty((3, numbering.N))
    for nodes, (x, y, z) in zip(numbering.element_dofs, PLACES, strict=True):
        foot = np.tile(nine[:, x, y], floors)
        height = np.repeat(heights[:-1] + z / 2 * np.diff(heights), len(cells[0]))
        s, theta = np.hypot(*foot) - hole, np.arctan2(foot[1], foot[0])
        drawn[:, nodes] = s, theta, height
        for p in np.unique(piece):
            here = piece == p
            r, level = wall.point(p, s[here], height[here]).T
            place[:, nodes[here]] = r * np.cos(theta[here]), r * np.sin(theta[here]), level
    mesh = MeshHex2(place, t)
    return Hexahedra(wall, mesh, piece, *drawn, core)
