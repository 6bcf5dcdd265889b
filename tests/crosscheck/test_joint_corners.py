"""Joints of two walls, and of two with a former, in plane strain by NGSolve, order 6 and geometric refinement toward
the corners.

The sections are drawn anew from what the solid promises: mitred kinks, unequal walls that end square.
"""

import numpy as np
import pytest

ng = pytest.importorskip("ngsolve")
from netgen.occ import Glue, OCCGeometry, WorkPlane  # noqa: E402

from diaphragm_fem.model.joint.kind import Arm, Kind, unit  # noqa: E402
from diaphragm_fem.model.joint.layers import resultants  # noqa: E402
from diaphragm_fem.model.joint.patch import joint_excess  # noqa: E402
from diaphragm_fem.model.joint.walls import arm_yield  # noqa: E402

H, MM = 1.0, 1e-3
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
    space = ng.VectorH1(mesh, order=6)
    u, v = space.TnT()
    modulus = mesh.MaterialCF({f"arm{k}": arm.youngs_modulus for k, arm in enumerate(kind.arms)})
    nu = mesh.MaterialCF({f"arm{k}": arm.poisson_ratio for k, arm in enumerate(kind.arms)})
    lame, shear = modulus * nu / ((1 + nu) * (1 - 2 * nu)), modulus / (2 * (1 + nu))

    def strain(x):
        return (ng.Grad(x) + ng.Grad(x).trans) / 2

    form = ng.BilinearForm(space, symmetric=True)
    form += (2 * shear * ng.InnerProduct(strain(u), strain(v)) + lame * ng.div(u) * ng.div(v)) * ng.dx
    form += RIGID * min(arm.youngs_modulus for arm in kind.arms) * ng.InnerProduct(u, v) * ng.dx
    form.Assemble()
    inverse = form.mat.Inverse(space.FreeDofs(), "sparsecholesky")
    loads, answers = [], []
    transport = kind.transport(3)
    for k in range(transport.shape[2]):
        load, answer = ng.LinearForm(space), ng.GridFunction(space)
        for index, arm in enumerate(kind.arms):
            reach, h = kind.reach(arm), arm.thickness
            (tip, angle), (force, across, moment) = arm.place(reach), resultants(arm, reach) @ transport[index][:, k]
            t, n = unit(angle), unit(angle + np.pi / 2)
            height = ((ng.x - tip[0]) * n[0] + (ng.y - tip[1]) * n[1]) / h
            normal, tangential = force / h + 12 * moment / h**2 * height, 1.5 * across / h * (1 - 4 * height**2)
            traction = ng.CF(tuple(normal * t[c] + tangential * n[c] for c in range(2)))
            load += traction * v * ng.ds(f"far{index}")
        load.Assemble()
        answer.vec.data = inverse * load.vec
        loads.append(load.vec.FV().NumPy().copy())
        answers.append(answer.vec.FV().NumPy().copy())
    return np.array(loads) @ np.array(answers).T


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
