"""Joints of two walls, of two with a former, and a clamped end, in plane strain by NGSolve, order 6 and geometric
refinement toward the corners.

The sections are drawn anew from what the solid promises: mitred kinks, unequal walls that end square.
"""

import numpy as np
import pytest

ng = pytest.importorskip("ngsolve")
from netgen.occ import Glue, OCCGeometry, Rectangle, WorkPlane  # noqa: E402

from diaphragm_fem.model.joint.kind import Arm, Kind, unit  # noqa: E402
from diaphragm_fem.model.joint.layers import resultants  # noqa: E402
from diaphragm_fem.model.joint.patch import joint_excess  # noqa: E402
from diaphragm_fem.model.joint.walls import arm_yield  # noqa: E402

E, H, LONG, MM = 1.0, 1.0, 5.0, 1e-3
RIGID = 1e-7  # of the modulus: holds what balanced loads leave free


def outline(points: list[tuple[float, float]]):
    """A face from its corners, in order."""
    plane = WorkPlane().MoveTo(*points[0])
    for point in points[1:]:
        plane.LineTo(*point)
    return plane.Close().Face()


def cross(a: np.ndarray, b: np.ndarray) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def faces(kind: Kind) -> list:
    """The sections of the arms: the end faces of the first two lie on their bisector, a former hangs from their rear
    face, which is straight."""
    found = []
    for index, arm in enumerate(kind.arms):
        if index == 2:
            down, half = unit(arm.direction), arm.thickness / 2 * unit(arm.direction + np.pi / 2)
            top, tip = kind.arms[0].thickness / 2 * down, kind.reach(arm) * down
            found.append(named(outline([tuple(p) for p in (top - half, tip - half, tip + half, top + half)]), kind, 2))
            continue
        other = kind.arms[1 - index]
        reach, t, n = kind.reach(arm), unit(arm.direction), unit(arm.direction + np.pi / 2)
        bisector = t + unit(other.direction)
        lean = 0.0 if np.linalg.norm(bisector) < 1e-9 else -cross(n, bisector) / cross(t, bisector)
        sides = []
        for side in (-0.5, 0.5):
            sides.append([side * arm.thickness * (n + lean * t), reach * t + side * arm.thickness * n])
        points = [*sides[0], *sides[1][::-1]]
        found.append(named(outline([tuple(p) for p in points]), kind, index))
    return found


def named(face, kind: Kind, index: int):
    """A face and its far end by their names."""
    face.name = f"arm{index}"
    t, reach = unit(kind.arms[index].direction), kind.reach(kind.arms[index])
    for edge in face.edges:
        if abs(np.array([edge.center.x, edge.center.y]) @ t - reach) < 1e-9:
            edge.name = f"far{index}"
    return face


def compliance(kind: Kind) -> np.ndarray:
    """Work matrix (3, 3) of the independent unit loads of a joint of two arms, (6, 6) of one of three."""
    shape = Glue(faces(kind))
    for vertex in shape.vertices:
        vertex.hpref = 1
    mesh = ng.Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=0.6))
    mesh.RefineHP(4, 0.2)
    modulus = mesh.MaterialCF({f"arm{k}": arm.youngs_modulus for k, arm in enumerate(kind.arms)})
    nu = mesh.MaterialCF({f"arm{k}": arm.poisson_ratio for k, arm in enumerate(kind.arms)})
    loads, transport = [], kind.transport(3)
    for k in range(transport.shape[2]):
        loads.append({})
        for index, arm in enumerate(kind.arms):
            reach, h = kind.reach(arm), arm.thickness
            (tip, angle), (force, across, moment) = arm.place(reach), resultants(arm, reach) @ transport[index][:, k]
            t, n = unit(angle), unit(angle + np.pi / 2)
            height = ((ng.x - tip[0]) * n[0] + (ng.y - tip[1]) * n[1]) / h
            normal, tangential = force / h + 12 * moment / h**2 * height, 1.5 * across / h * (1 - 4 * height**2)
            loads[-1][f"far{index}"] = ng.CF(tuple(normal * t[c] + tangential * n[c] for c in range(2)))
    return work(ng.VectorH1(mesh, order=6), modulus, nu, loads, RIGID * min(arm.youngs_modulus for arm in kind.arms))


def work(space, modulus, nu, loads: list[dict], ground: float = 0.0) -> np.ndarray:
    """Work matrix of loads, each tractions by the names of edges; a soft ground holds what nothing else does."""
    u, v = space.TnT()
    lame, shear = modulus * nu / ((1 + nu) * (1 - 2 * nu)), modulus / (2 * (1 + nu))

    def strain(x):
        return (ng.Grad(x) + ng.Grad(x).trans) / 2

    form = ng.BilinearForm(space, symmetric=True)
    form += (2 * shear * ng.InnerProduct(strain(u), strain(v)) + lame * ng.div(u) * ng.div(v)) * ng.dx
    form += ground * ng.InnerProduct(u, v) * ng.dx
    form.Assemble()
    inverse, pushes, answers = form.mat.Inverse(space.FreeDofs(), "sparsecholesky"), [], []
    for tractions in loads:
        push, answer = ng.LinearForm(space), ng.GridFunction(space)
        for edge, traction in tractions.items():
            push += traction * v * ng.ds(edge)
        push.Assemble()
        answer.vec.data = inverse * push.vec
        pushes.append(push.vec.FV().NumPy().copy())
        answers.append(answer.vec.FV().NumPy().copy())
    return np.array(pushes) @ np.array(answers).T


KINDS = {
    "in line, twice as thick and 30 times as stiff": Kind((Arm(np.pi, H, 1.0, 0.48), Arm(0.0, 2 * H, 30.0, 0.35))),
    "in line, a soft one five times as thick": Kind((Arm(np.pi, H, 1.0, 0.48), Arm(0.0, H / 5, 100.0, 0.35))),
    "kink of 60 degrees": Kind((Arm(np.pi, H, 1.0, 0.38), Arm(np.pi / 3, H, 1.0, 0.38))),
    "a stiff former under a wall": Kind(
        (Arm(np.pi, H, 1.0, 0.38), Arm(0.0, H, 1.0, 0.38), Arm(-np.pi / 2, 0.8 * H, 15.0, 0.33))
    ),
    "a soft former under a film that goes on in rubber": Kind(
        (Arm(np.pi, H, 1.0, 0.38), Arm(0.0, H, 0.03, 0.48), Arm(-np.pi / 2, 1.5 * H, 0.6, 0.35))
    ),
    "kink of 40 degrees, soft and stiff": Kind((Arm(np.pi, H, 1.0, 0.48), Arm(-np.pi / 4.5, H, 20.0, 0.3))),
}


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS.keys())
def test_a_joint_yields_as_by_another_program(kind):
    bare = sum(arm_yield(kind, k)[0].sum(axis=0) for k in range(len(kind.arms)))
    exact = compliance(kind) - bare
    small = [arm._replace(thickness=arm.thickness * MM) for arm in kind.arms]  # a patch lies a metre from the axis
    moment = np.tile([1.0, 1.0, MM], len(kind.arms) - 1)
    ours = joint_excess(Kind(tuple(small))).plane.sum(axis=0) * np.outer(moment, moment)
    yields = np.tile([1.0, 1.0, np.sqrt(12) / H], len(kind.arms) - 1)
    soft = min(arm.plane_modulus for arm in kind.arms) / np.outer(yields, yields)  # 1: the yield of one soft thickness
    apart, size = np.abs(ours - exact) * soft, np.sqrt(np.abs(np.diag(exact * soft)))
    # measured up to 0.019 thicknesses for two walls, 4.5 % of the ten by which one held in its middle fifth turns more
    # easily, 3.7 and 9.5 % with formers: inner corners are singular, and the patch has one cell across a layer
    assert (apart < 0.03 + 0.12 * np.outer(size, size)).all()
    assert size.max() > 0.28


def compliance_of_strip(nu: float) -> np.ndarray:
    """Work matrix (3, 3) of the unit loads (f_r, f_z, m about the held end) on a strip of five thicknesses."""
    face = Rectangle(LONG, H).Face().Move((0, -H / 2, 0))
    for edge in face.edges:
        edge.name = {0.0: "held", LONG: "far"}.get(round(edge.center.x, 9), "side")
    for vertex in face.vertices:
        vertex.hpref = 1
    mesh = ng.Mesh(OCCGeometry(face, dim=2).GenerateMesh(maxh=0.5))
    mesh.RefineHP(5, 0.2)
    loads = [
        {"far": ng.CF((n / H + 12 * m / H**3 * ng.y, 1.5 * q / H * (1 - 4 * ng.y * ng.y / H**2)))}
        for n, q, m in ((1, 0, 0), (0, 1, LONG), (0, 0, 1))
    ]
    return work(ng.VectorH1(mesh, order=6, dirichlet="held"), E, nu, loads)


@pytest.mark.parametrize("nu", [0.3, 0.48])
def test_a_clamped_end_yields_as_by_another_program(nu):
    """Beside the yield of a plate with the factor 5/6: (1 - nu^2) x, 1.2 x/G and 12 (1 - nu^2) x, lever x."""
    plane, shear = E / (1 - nu**2), E / (2 * (1 + nu))
    turning, leaning = LONG**2 / 2 * 12 / plane, LONG**3 / 3 * 12 / plane + 1.2 * LONG / shear
    plate = np.array([[LONG / plane, 0, 0], [0, leaning, turning], [0, turning, 12 * LONG / plane]])
    found = compliance_of_strip(nu) - plate
    ours = joint_excess(Kind((Arm(0.0, H, E, nu),))).plane[0]
    product = np.zeros((3, 3))
    product[1, 2] = product[2, 1] = nu / (10 * shear)  # what the wall's own law leaves at an end: `thick_wall`
    # stretching measured 3.7 %, bending 10 %: the corners are singular, and the patch, cut like the solid model, has
    # one cell across the wall; of a frequency that is 4 times 0.1 times 0.05 h/L at most, 0.05 % for L = 40 h
    assert ours[0, 0] == pytest.approx(found[0, 0], rel=0.08)
    assert ours[2, 2] == pytest.approx(found[2, 2], rel=0.15)
    assert np.abs(ours + product - found).max() < 0.15 * abs(found[2, 2])
