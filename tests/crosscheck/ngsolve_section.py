"""The wall's section in NGSolve to four digits: order 5, cut ever finer toward every corner.

Elasticity of circumferential order m (u_r, u_z ~ cos m theta, u_theta ~ sin m theta), written here on its own:
e_rr, e_zz, e_tt = (u_r + m u_t)/r, 2 e_rz, 2 e_rt = u_t,r - (u_t + m u_r)/r, 2 e_zt = u_t,z - m u_z/r.
Triangles by Netgen, geometric refinement toward corners, where the stress is singular. Inside: mm, N, tonnes.
"""

from collections.abc import Sequence

import ngsolve as ng
import numpy as np
from netgen.occ import ArcOfCircle, Face, Glue, OCCGeometry, Pnt, Segment, Wire
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import eigsh

from crosscheck.thick_wall import Array, ThickWall, thick_wall
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, Edge

MM = 1e3


def section_mesh(design: Design, longest: float, levels: int) -> ng.Mesh:
    """Triangles up to `longest` (m), refined `levels` times by a factor of five toward each singular corner."""
    wall, faces = thick_wall(design), []
    last = len(design.meridian) - 1
    for number, piece in enumerate(design.meridian):
        begin, end = wall.marks[number : number + 2]

        def at(s: float, height: float, number: int = number) -> Pnt:
            r, z = wall.point(number, np.array([s]), np.array([height]))[0] * MM
            return Pnt(0.0 if abs(r) < 1e-9 else float(r), float(z), 0)

        def run(a: float, b: float, height: float, piece=piece, at=at):
            if isinstance(piece.curve, Line):
                return Segment(at(a, height), at(b, height))
            return ArcOfCircle(at(a, height), at((a + b) / 2, height), at(b, height))

        last_end, first_end = Segment(at(end, -1), at(end, 1)), Segment(at(begin, 1), at(begin, -1))
        face = Face(Wire([run(begin, end, -1), last_end, run(end, begin, 1), first_end]))
        face.name, face.maxh = f"piece{number}", longest * MM
        for s in (mark for mark in (begin, end) if _singular(wall, mark)):
            for vertex in face.vertices:
                if any(np.hypot(vertex.p.x - at(s, h).x, vertex.p.y - at(s, h).y) < 1e-6 for h in (-1, 1)):
                    vertex.hpref = 1
        for edge in face.edges:
            points = [(vertex.p.x, vertex.p.y) for vertex in edge.vertices]
            edge.name = "wall"
            for s, name, here in (
                (begin, _kind(design.inner_edge), number == 0),
                (end, _kind(design.outer_edge), number == last),
            ):
                corners = [(at(s, h).x, at(s, h).y) for h in (-1, 1)]
                if here and all(min(np.hypot(p[0] - c[0], p[1] - c[1]) for c in corners) < 1e-6 for p in points):
                    edge.name = name
        faces.append(face)
    mesh = ng.Mesh(OCCGeometry(Glue(faces), dim=2).GenerateMesh(maxh=longest * MM, grading=0.9))
    mesh.RefineHP(levels, 0.2)
    return mesh


def _singular(wall: ThickWall, mark: float) -> bool:
    """Whether the wall has corners in its stress at this arc length: at an edge, a kink or a change of material."""
    number = int(np.argmin(np.abs(wall.marks - mark)))
    if number in (0, len(wall.marks) - 1):
        return True
    before, after = (wall.design.meridian[k].wall.layers[0].material for k in (number - 1, number))
    return before != after or abs(wall.shifts[number, 0]) > 1e-6


def _kind(edge: Edge | None) -> str:
    if edge is None:
        return "axis"
    if edge not in (CLAMPED, FREE):
        raise ValueError("the cross-checks know clamped and free edges only")
    return "held" if edge == CLAMPED else "wall"


def frequencies(design: Design, m: int, count: int, *, order: int = 5, levels: int = 4) -> Array:
    """The lowest `count` frequencies in Hz of order m; one edge at least is clamped, or m >= 2."""
    thickness = float(design.meridian[0].wall.thickness(0.0))
    mesh = section_mesh(design, max(thickness, 0.4e-3), levels)
    return frequencies_of(mesh, [piece.wall.layers[0].material for piece in design.meridian], m, count, order)


def frequencies_of(mesh: ng.Mesh, materials: Sequence[Material], m: int, count: int, order: int = 5) -> Array:
    """The same of a mesh whose faces are called piece0, piece1, ..., one of each material; edges called held stand
    still.
    """
    mesh.Curve(order)

    def field(value) -> ng.CoefficientFunction:
        return mesh.MaterialCF({f"piece{p}": value(material) for p, material in enumerate(materials)})

    E, nu = field(lambda x: x.youngs_modulus * 1e-6), field(lambda x: x.poisson_ratio)
    lam, mu, density = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu)), field(lambda x: x.density * 1e-12)
    r = ng.x
    on_axis = {0: ("axis", "none", "axis"), 1: ("none", "axis", "none")}.get(m, ("axis", "axis", "axis"))
    # On the axis m = 1 also asks for u_r + u_theta = 0; any other motion there has endless energy.
    radial, axial, hoop = (ng.H1(mesh, order=order, dirichlet=f"held|{name}") for name in on_axis)
    space = radial * axial * hoop

    def strain(u):
        a, b, c = u
        grad_a, grad_b, grad_c = ng.grad(a), ng.grad(b), ng.grad(c)
        return (
            grad_a[0],
            grad_b[1],
            (a + m * c) / r,
            grad_a[1] + grad_b[0],
            grad_c[0] - (c + m * a) / r,
            grad_c[1] - m * b / r,
        )

    u, v = space.TnT()
    e, d = strain(u), strain(v)
    energy = lam * sum(e[:3]) * sum(d[:3])
    energy += mu * sum((2 if i < 3 else 1) * e[i] * d[i] for i in range(6))
    inertia = density * sum(a * b for a, b in zip(u, v, strict=True))
    stiffness = ng.BilinearForm(energy * r * ng.dx(bonus_intorder=4)).Assemble()
    mass = ng.BilinearForm(inertia * r * ng.dx(bonus_intorder=2)).Assemble()
    held = np.array(list(space.FreeDofs()))
    if m == 0:
        held[radial.ndof + axial.ndof :] = False  # torsion is a matter of its own
    free = np.flatnonzero(held)

    def sparse(form) -> csr_matrix:
        values, columns, starts = form.mat.CSR()
        return csr_matrix((np.array(values), np.array(columns), np.array(starts)))[free][:, free].tocsc()

    squares = eigsh(sparse(stiffness), count, sparse(mass), sigma=0.0, return_eigenvectors=False)
    return np.sort(np.sqrt(squares)) / (2 * np.pi)
