"""A quarter of the diaphragm as a solid of 27-node hexahedra in scikit-fem: plain x, y, z elasticity.

The planes x = 0 and y = 0 are mirrors. Both mirrors symmetric hold the motions of even order m (cos m theta), the
plane x = 0 antisymmetric instead those of odd order; together every order is there, none is asked for. Which order
a mode has is read from its motion around the circle afterwards.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import block_diag, bmat, coo_matrix, csc_matrix
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from skfem import Basis, BilinearForm, asm

from crosscheck.around_circle import Mode, modes_by_order
from crosscheck.hexahedral_mesh import Array, Hexahedra
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE

AXES = (0, 1, 2)


@dataclass(frozen=True)
class Quarter:
    """Stiffness, loss and mass of a quarter; unknowns are all x, then all y, then all z motions of the nodes."""

    cut: Hexahedra
    stiffness: csc_matrix
    loss: csc_matrix
    mass: csc_matrix

    @property
    def nodes(self) -> int:
        return self.cut.basis.N

    def free(self, far_mirror: str) -> np.ndarray:
        """Unknowns left by the clamped edges, the mirror y = 0 and the mirror x = 0 ("even" or "odd" orders)."""
        cut, design = self.cut, self.cut.wall.design
        x, y, _ = cut.mesh.doflocs
        near = 1e-9 * np.abs(cut.mesh.doflocs).max()
        held = np.zeros((3, self.nodes), bool)
        held[1, np.abs(y) < near] = True
        far = np.abs(x) < near
        for axis in (0,) if far_mirror == "even" else (1, 2):
            held[axis, far] = True
        for edge, mark in ((design.inner_edge, cut.wall.marks[0]), (design.outer_edge, cut.wall.marks[-1])):
            if edge == CLAMPED:
                held[:, np.abs(cut.s - mark) < 1e-9] = True
            elif edge not in (None, FREE):
                raise ValueError("the cross-checks know clamped and free edges only")
        return np.flatnonzero(~held.ravel())


def quarter(cut: Hexahedra) -> Quarter:
    """Isotropic elasticity: stress = lambda tr(e) I + 2 mu e, e the symmetric gradient; a ring adds its mass and hoop
    stiffness on the wall's cross-section at the drive circle."""
    design, basis, bending = cut.wall.design, cut.basis, cut.stiffness_basis
    walls = [design.meridian[p].wall.layers[0].material for p in range(len(design.meridian))]
    if any(len(piece.wall.layers) > 1 for piece in design.meridian):
        raise ValueError("the cross-checks know walls of one layer only")

    def over_cells(values: Array, basis: Basis) -> Array:
        return np.repeat(values[cut.piece][:, None], basis.X.shape[1], axis=1)

    E, nu = np.array([m.youngs_modulus for m in walls]), np.array([m.poisson_ratio for m in walls])
    eta = np.array([float(m.loss_factor(1e3)) for m in walls])
    lam, mu = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))

    def elasticity(lam: Array, mu: Array) -> csc_matrix:
        slopes = {}
        for name, weight in (("lam", over_cells(lam, bending)), ("mu", over_cells(mu, bending))):
            for a in AXES:
                for b in range(a, 3):
                    form = BilinearForm(lambda u, v, w, a=a, b=b: w.weight * u.grad[b] * v.grad[a])
                    slopes[name, a, b] = asm(form, bending, weight=weight)
                    slopes[name, b, a] = slopes[name, a, b].T
        laplace = sum(slopes["mu", a, a] for a in AXES)
        blocks = [[slopes["lam", i, j] + slopes["mu", j, i] for j in AXES] for i in AXES]
        for i in AXES:
            blocks[i][i] = blocks[i][i] + laplace
        return bmat(blocks, format="csc")

    density = over_cells(np.array([m.density for m in walls]), basis)
    scalar_mass = asm(BilinearForm(lambda u, v, w: w.weight * u * v), basis, weight=density)
    stiffness, loss = elasticity(lam, mu), elasticity(lam * eta, mu * eta)
    mass = block_diag([scalar_mass] * 3, format="csc")
    if design.ring is not None:
        ring_stiffness, ring_mass = _ring(cut)
        stiffness, loss = stiffness + ring_stiffness, loss + design.ring.loss_factor * ring_stiffness
        mass = mass + ring_mass
    return Quarter(cut, stiffness, loss, mass)


def _surface(cut: Hexahedra, faces: np.ndarray) -> tuple[Array, Array, Array]:
    """Gauss points of nine-node faces (3, 3, C): shape functions (9, G), tangents along the first side (3, G, C) and
    area vectors (3, G, C) = weight times the cross product of both tangents."""
    x, weight = np.polynomial.legendre.leggauss(3)
    x, weight = (1 + x) / 2, weight / 2
    value = np.stack([(1 - x) * (1 - 2 * x), 4 * x * (1 - x), x * (2 * x - 1)])
    slope = np.stack([4 * x - 3, 4 - 8 * x, 4 * x - 1])
    shape = np.einsum("ig,jh->ijgh", value, value).reshape(9, 9)
    first = np.einsum("ig,jh->ijgh", slope, value).reshape(9, 9)
    second = np.einsum("ig,jh->ijgh", value, slope).reshape(9, 9)
    place = cut.mesh.doflocs[:, faces.reshape(9, -1)]
    along, across = np.einsum("ig,kic->kgc", first, place), np.einsum("ig,kic->kgc", second, place)
    area = np.cross(along, across, axis=0) * np.outer(weight, weight).ravel()[None, :, None]
    return shape, first, np.stack([along, area])


def _spread(cut: Hexahedra, faces: np.ndarray, weight: Array) -> Array:
    """Load vector (nodes,) of a weight (G, C) that already holds the area: sum of weight times shape function."""
    shape, _, _ = _surface(cut, faces)
    load = np.zeros(cut.basis.N)
    np.add.at(load, faces.reshape(9, -1), shape @ weight)
    return load


def _ring(cut: Hexahedra) -> tuple[csc_matrix, csc_matrix]:
    """Stiffness and mass of a quarter of the ring, spread evenly over the wall's cross-section at the drive circle.

    Hoop strain = e . du/dl with e = e_theta and l the length along the circle, the first side of every face there.
    """
    ring, radius, faces = cut.wall.design.ring, cut.wall.design.joint_radius, cut.section_at_joint()
    shape, first, (along, area) = _surface(cut, faces)
    area = np.linalg.norm(area, axis=0)
    speed = np.linalg.norm(along, axis=0)
    hoop, share = along / speed, area / area.sum()
    nodes = faces.reshape(9, -1)
    rows, columns = np.broadcast_arrays(nodes[:, None], nodes[None])

    def assembled(block: Array) -> csc_matrix:
        entries = (block.ravel(), (rows.ravel(), columns.ravel()))
        return coo_matrix(entries, shape=(cut.basis.N,) * 2).tocsc()

    mass = assembled(np.einsum("ig,jg,gc->ijc", shape, shape, ring.mass / 4 * share))
    stretch = ring.hoop_stiffness * np.pi / 2 * radius * share / speed**2
    both = [[np.einsum("ig,jg,gc->ijc", first, first, stretch * hoop[a] * hoop[b]) for b in AXES] for a in AXES]
    stiffness = bmat([[assembled(block) for block in row] for row in both], format="csc")
    return stiffness, block_diag([mass] * 3, format="csc")


def _factor(matrix: csc_matrix):
    """Sparse factors of a symmetric matrix, with the little fill-in that symmetry allows."""
    return splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def modes(model: Quarter, count: int, far_mirror: str) -> list[Mode]:
    """The lowest `count` modes of the even or odd orders, each with its order around the circle."""
    free = model.free(far_mirror)
    K, M = model.stiffness[free][:, free], model.mass[free][:, free]
    inverse = LinearOperator(K.shape, _factor(K).solve, dtype=float)
    squares, shapes = eigsh(K, count, M, sigma=0.0, OPinv=inverse)
    full = np.zeros((3 * model.nodes, count))
    full[free] = shapes
    return modes_by_order(squares, _around(model.cut, full.reshape(3, -1, count)), far_mirror)


def _around(cut: Hexahedra, motion: Array) -> Array:
    """Radial and axial motion (2, circles, points, count) on every full quarter circle of mid-surface nodes.

    Quadratic elements know the motion anywhere between their nodes: each is read at a quarter and three quarters, so
    that the samples stand half a step off both mirrors.
    """
    quarter_places = np.array([[0.375, 0.75, -0.125], [-0.125, 0.75, 0.375]])
    samples = []
    for ring in cut.middle_circles():
        theta = cut.theta[ring]
        radial = np.cos(theta)[:, None] * motion[0, ring] + np.sin(theta)[:, None] * motion[1, ring]
        both = np.stack([radial, motion[2, ring]])
        windows = np.stack([both[:, k : len(theta) - 2 + k : 2] for k in range(3)], axis=2)
        samples.append(np.einsum("pk,cekm->cepm", quarter_places, windows).reshape(2, -1, motion.shape[-1]))
    return np.stack(samples, axis=1)


def effective_area(model: Quarter, frequency_hz: Array) -> np.ndarray:
    """Complex effective area (m2) under an even axial force at the drive circle: front-face volume velocity over the
    mean axial velocity of the wall's cross-section there."""
    cut, free = model.cut, model.free("even")
    section, front = cut.section_at_joint(), cut.front()
    spread = _spread(cut, section, np.linalg.norm(_surface(cut, section)[2][1], axis=0))
    still = np.zeros(2 * model.nodes)
    coil = np.concatenate([still, spread / spread.sum()])[free]
    swept = _surface(cut, front)[2][1]
    volume = 4 * np.concatenate([_spread(cut, front, swept[axis]) for axis in AXES])[free]
    K, L, M = (x[free][:, free] for x in (model.stiffness, model.loss, model.mass))
    areas = []
    for omega in 2 * np.pi * np.asarray(frequency_hz, float):
        motion = _factor((K + 1j * L - omega**2 * M).tocsc()).solve(coil / 4 + 0j)
        areas.append((volume @ motion) / (coil @ motion))
    return np.array(areas)
