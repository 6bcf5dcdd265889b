"""A quarter of the diaphragm as a solid of few, high-order curved elements in NGSolve: plain x, y, z elasticity.

A flat footprint (arc length as radius, angle, height) is cut into hexahedra, prisms at the pole; a polynomial
deformation of the same order as the motion carries it onto the wall. Mirrors as in the other solid: x = 0 and y = 0,
both symmetric for even orders, x = 0 antisymmetric for odd ones. Inside, lengths are mm, forces N and masses tonnes.
"""

from dataclasses import dataclass

import netgen.meshing as nm
import ngsolve as ng
import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import LinearOperator, eigsh

from crosscheck.around_circle import Mode, modes_by_order
from crosscheck.thick_wall import Array, ThickWall, stations, thick_wall
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import CLAMPED

MM = 1e3
FACES = ("front", "rear", "mirror_y", "mirror_x", "inner", "outer", "joint")


@dataclass(frozen=True)
class Footprint:
    """The flat mesh: circles at `radii` (mm, `hole` plus arc length), `around` sectors over 90 degrees."""

    wall: ThickWall
    hole: float
    around: int
    mesh: ng.Mesh


def footprint(design: Design, around: int, first: float, largest: float) -> Footprint:
    """Cut the footprint: elements from `first` to `largest` (m) along the meridian, one through the wall."""
    wall = thick_wall(design)
    on_axis = design.inner_edge is None
    hole = 0.0 if on_axis else wall.marks[-1] * MM
    radii = hole + MM * np.unique(np.concatenate(stations(wall, first, largest, growth=3.0)).round(12))
    theta = np.linspace(0, np.pi / 2, around + 1)
    mesh = nm.Mesh(dim=3)
    corner = {}
    for i, radius in enumerate(radii):
        for j, angle in enumerate(theta):
            for k, height in enumerate((-1.0, 1.0)):
                if radius == 0 and j > 0:
                    corner[i, j, k] = corner[i, 0, k]
                else:
                    place = nm.Pnt(radius * np.cos(angle), radius * np.sin(angle), height)
                    corner[i, j, k] = mesh.Add(nm.MeshPoint(place))
    for number in range(len(design.meridian)):
        mesh.SetMaterial(number + 1, f"piece{number}")
    number_of_face = {}
    for number, name in enumerate(FACES, start=1):
        number_of_face[name] = mesh.Add(nm.FaceDescriptor(surfnr=number, domin=1, bc=number))
        mesh.SetBCName(number - 1, name)

    def face(name: str, *corners: tuple[int, int, int]) -> None:
        points = list(dict.fromkeys(corner[c] for c in corners))
        mesh.Add(nm.Element2D(number_of_face[name], points))

    joint = wall.marks[design.joint] * MM + hole if design.joint is not None else -1.0
    for i in range(len(radii) - 1):
        piece = int(np.searchsorted(wall.marks * MM + hole, (radii[i] + radii[i + 1]) / 2))
        for j in range(around):
            lower = [(i, j, 0), (i + 1, j, 0), (i + 1, j + 1, 0), (i, j + 1, 0)]
            upper = [(a, b, 1) for a, b, _ in lower]
            if radii[i] == 0:
                six = [lower[0], lower[1], lower[2], upper[0], upper[1], upper[2]]
                mesh.Add(nm.Element3D(piece, [corner[c] for c in six]))
            else:
                mesh.Add(nm.Element3D(piece, [corner[c] for c in lower + upper]))
            face("front", *upper)
            face("rear", *lower[::-1])
            if j == 0:
                face("mirror_y", lower[0], lower[1], upper[1], upper[0])
            if j == around - 1:
                face("mirror_x", lower[2], lower[3], upper[3], upper[2])
            if i == 0 and not on_axis:
                face("inner", lower[3], lower[0], upper[0], upper[3])
            if i == len(radii) - 2:
                face("outer", lower[1], lower[2], upper[2], upper[1])
            elif np.isclose(radii[i + 1], joint, atol=1e-6, rtol=0):
                face("joint", lower[1], lower[2], upper[2], upper[1])
    return Footprint(wall, hole, around, ng.Mesh(mesh))


def _on_wall(foot: Footprint) -> ng.CoefficientFunction:
    """Position on the wall (mm) as a function of the footprint's x, y, z."""
    sector = np.pi / 2 / foot.around
    borders = sector * np.arange(1, foot.around)
    middle = sector * (0.5 + sum(ng.IfPos(ng.y * np.cos(a) - ng.x * np.sin(a), 1, 0) for a in borders))
    ahead = ng.x * ng.cos(middle) + ng.y * ng.sin(middle)
    aside = ng.y * ng.cos(middle) - ng.x * ng.sin(middle)
    theta = middle + aside / ahead * (sector / 2 / np.tan(sector / 2))
    s = ahead / np.cos(sector / 2) - foot.hole
    places = [_on_piece(foot.wall, p, s) for p in range(len(foot.wall.design.meridian))]
    r, level = (foot.mesh.MaterialCF({f"piece{p}": place[k] for p, place in enumerate(places)}) for k in (0, 1))
    return ng.CF((r * ng.cos(theta), r * ng.sin(theta), level))


def _on_piece(wall: ThickWall, number: int, s: ng.CoefficientFunction) -> tuple:
    """(r, z) in mm at arc length s (mm) and height z of the footprint: mid-surface, half a thickness, mitre."""
    piece: Piece = wall.design.meridian[number]
    local = s - wall.marks[number] * MM
    curve, length = piece.curve, piece.curve.length * MM
    if isinstance(curve, Line):
        tangent = (curve.tangent(0.0)[0], curve.tangent(0.0)[1])
        place = tuple(curve.begin[k] * MM + local * tangent[k] for k in (0, 1))
    elif isinstance(curve, Arc):
        side = float(np.sign(curve.sweep))
        angle = curve.start + side * local / (curve.radius * MM)
        tangent = (-side * ng.sin(angle), side * ng.cos(angle))
        r, z = curve.centre
        place = (MM * (r + curve.radius * ng.cos(angle)), MM * (z + curve.radius * ng.sin(angle)))
    else:
        raise ValueError("the cross-checks know lines and arcs")
    begin, end = (float(piece.wall.thickness(x)) * MM for x in (0.0, 1.0))
    shift = wall.shifts[number, 0] + local / length * (wall.shifts[number, 1] - wall.shifts[number, 0])
    half = ng.z * (begin + (end - begin) * local / length) / 2
    return place[0] + half * (-tangent[1] + shift * tangent[0]), place[1] + half * (tangent[0] + shift * tangent[1])


@dataclass(frozen=True)
class Solid:
    """A curved mesh with its material fields, ready for either mirror."""

    foot: Footprint
    order: int
    deformation: ng.GridFunction
    lam: ng.CoefficientFunction
    mu: ng.CoefficientFunction
    density: ng.CoefficientFunction
    loss: ng.CoefficientFunction

    @property
    def design(self) -> Design:
        return self.foot.wall.design

    def space(self, far_mirror: str, complex_valued: bool = False) -> ng.VectorH1:
        """Motions that respect the clamped edges and the mirrors."""
        edges = (("inner", self.design.inner_edge), ("outer", self.design.outer_edge))
        held = "|".join([name for name, edge in edges if edge == CLAMPED] or ["none"])
        far = {"even": ("x",), "odd": ("y", "z")}[far_mirror]
        return ng.VectorH1(
            self.foot.mesh,
            order=self.order,
            complex=complex_valued,
            dirichletx=held + ("|mirror_x" if "x" in far else ""),
            dirichlety=held + "|mirror_y" + ("|mirror_x" if "y" in far else ""),
            dirichletz=held + ("|mirror_x" if "z" in far else ""),
        )

    def stiffness(self, u, v, lossy: bool = False):
        """Isotropic elasticity, and the ring's hoop stiffness on the cross-section at the drive circle."""
        strain_u, strain_v = ng.Sym(ng.Grad(u)), ng.Sym(ng.Grad(v))
        energy = self.lam * ng.Trace(strain_u) * ng.Trace(strain_v) + 2 * self.mu * ng.InnerProduct(strain_u, strain_v)
        form = (energy * (1 + 1j * self.loss) if lossy else energy) * ng.dx
        ring = self.design.ring
        if ring is not None and ring.hoop_stiffness > 0:
            size = ng.sqrt(ng.x**2 + ng.y**2)
            hoop = ng.CF((-ng.y / size, ng.x / size, 0))

            def stretch(w):
                return ng.InnerProduct(hoop, ng.Grad(w).Trace() * hoop)

            spread = ring.hoop_stiffness / self._joint_breadth() * (1 + 1j * ring.loss_factor if lossy else 1)
            form = form + spread * stretch(u) * stretch(v) * ng.ds("joint")
        return form

    def mass(self, u, v, factor: float = 1.0):
        """Density of the wall, and the ring's mass on the cross-section at the drive circle, all times a factor."""
        form = factor * self.density * u * v * ng.dx
        ring = self.design.ring
        if ring is None:
            return form
        return form + factor * ring.mass * 1e-3 / 4 / self._joint_area() * u.Trace() * v.Trace() * ng.ds("joint")

    def _joint_area(self) -> float:
        return float(ng.Integrate(ng.CF(1), self.foot.mesh, ng.BND, definedon=self.foot.mesh.Boundaries("joint")))

    def _joint_breadth(self) -> float:
        """Area of the cross-section at the drive circle over the circle's quarter length, mm."""
        return self._joint_area() / (np.pi / 2 * self.design.joint_radius * MM)


def solid(design: Design, *, around: int, first: float, largest: float, order: int) -> Solid:
    """Curved solid of polynomial order `order` in motion and shape."""
    foot = footprint(design, around, first, largest)
    space = ng.VectorH1(foot.mesh, order=order)
    deformation = ng.GridFunction(space)
    deformation.Set(_on_wall(foot) - ng.CF((ng.x, ng.y, ng.z)), bonus_intorder=4)
    foot.mesh.SetDeformation(deformation)
    materials = [piece.wall.layers[0].material for piece in design.meridian]

    def field(value) -> ng.CoefficientFunction:
        return foot.mesh.MaterialCF({f"piece{p}": float(value(material)) for p, material in enumerate(materials)})

    E, nu = field(lambda m: m.youngs_modulus * 1e-6), field(lambda m: m.poisson_ratio)
    return Solid(
        foot,
        order,
        deformation,
        lam=E * nu / ((1 + nu) * (1 - 2 * nu)),
        mu=E / (2 * (1 + nu)),
        density=field(lambda m: m.density * 1e-12),
        loss=field(lambda m: m.loss_factor(1e3)),
    )


def _sparse(matrix) -> csr_matrix:
    values, columns, starts = matrix.CSR()
    return csr_matrix((np.array(values), np.array(columns), np.array(starts)))


def modes(model: Solid, count: int, far_mirror: str) -> list[Mode]:
    """The lowest `count` modes of the even or odd orders, each with its order around the circle."""
    space = model.space(far_mirror)
    u, v = space.TnT()
    stiffness, mass = ng.BilinearForm(model.stiffness(u, v)), ng.BilinearForm(model.mass(u, v))
    stiffness.Assemble()
    mass.Assemble()
    free = np.flatnonzero(list(space.FreeDofs()))
    inverse = stiffness.mat.Inverse(space.FreeDofs(), "sparsecholesky")
    motion = ng.GridFunction(space)
    given, answer = stiffness.mat.CreateColVector(), stiffness.mat.CreateColVector()

    def solve(load: Array) -> Array:
        given.FV().NumPy()[:] = 0
        given.FV().NumPy()[free] = load.ravel()
        answer.data = inverse * given
        return answer.FV().NumPy()[free].copy()

    M = _sparse(mass.mat)[free][:, free]
    operator = LinearOperator(M.shape, solve, dtype=float)
    squares, shapes = eigsh(operator, count, M, sigma=0.0, OPinv=operator)
    rings, theta = _sample_circles(model)
    samples = np.empty((2, *rings.shape, count))
    for index in range(count):
        motion.vec.FV().NumPy()[:] = 0
        motion.vec.FV().NumPy()[free] = shapes[:, index]
        value = np.array(motion(rings.ravel())).reshape(*rings.shape, 3)
        samples[0, ..., index] = value[..., 0] * np.cos(theta) + value[..., 1] * np.sin(theta)
        samples[1, ..., index] = value[..., 2]
    return modes_by_order(squares, samples, far_mirror)


def _sample_circles(model: Solid, circles: int = 16, points: int = 48) -> tuple[np.ndarray, Array]:
    """Mesh points (circles, points) on the mid-surface and their angles, half a step off both mirrors."""
    foot = model.foot
    theta = np.pi / 2 * (np.arange(points) + 0.5) / points
    sector = np.pi / 2 / foot.around
    middle = sector * (np.floor(theta / sector) + 0.5)
    total = foot.wall.marks[-1] * MM
    radii = foot.hole + total * (np.arange(circles) + 0.513) / circles
    aside = np.tan(sector / 2) * (theta - middle) / (sector / 2)
    x, y = np.cos(middle) - aside * np.sin(middle), np.sin(middle) + aside * np.cos(middle)
    flat = radii[:, None] * np.cos(sector / 2)
    foot.mesh.UnsetDeformation()
    rings = foot.mesh(flat * x, flat * y, 0 * flat * x)
    foot.mesh.SetDeformation(model.deformation)
    return rings, theta


def effective_area(model: Solid, frequency_hz: Array) -> np.ndarray:
    """Complex effective area (m2) under an even axial force at the drive circle: front-face volume velocity over the
    mean axial velocity of the wall's cross-section there."""
    mesh, space = model.foot.mesh, model.space("even", complex_valued=True)
    u, v = space.TnT()
    normal = ng.specialcf.normal(3)
    push = ng.LinearForm(v.Trace()[2] * ng.ds("joint")).Assemble()
    areas = []
    for omega in 2 * np.pi * np.asarray(frequency_hz, float):
        form = ng.BilinearForm(model.stiffness(u, v, lossy=True) + model.mass(u, v, -(omega**2)), symmetric=True)
        form.Assemble()
        motion = ng.GridFunction(space)
        motion.vec.data = form.mat.Inverse(space.FreeDofs(), "sparsecholesky") * push.vec
        swept = ng.Integrate(motion * normal, mesh, ng.BND, definedon=mesh.Boundaries("front"))
        coil = ng.Integrate(motion[2], mesh, ng.BND, definedon=mesh.Boundaries("joint"))
        areas.append(4e-6 * swept / (coil / model._joint_area()))
    return np.array(areas)
