"""Joints of two walls in plane strain by NGSolve, order 6 and geometric refinement toward the corners.

The sections are drawn anew from what the solid promises: mitred kinks, unequal walls that end square.
"""

from dataclasses import replace

import numpy as np
import pytest

ng = pytest.importorskip("ngsolve")
from netgen.occ import Glue, OCCGeometry, WorkPlane  # noqa: E402

from diaphragm_fem.model.joint_patch import _resultants, _wall_yield, joint_excess  # noqa: E402
from diaphragm_fem.model.joint_section import Arm, Kind, unit  # noqa: E402

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
    """The sections of the two arms: their end faces lie on the bisector."""
    found = []
    for index, arm in enumerate(kind.arms):
        other = kind.arms[1 - index]
        reach, t, n = kind.reach(arm), unit(arm.direction), unit(arm.direction + np.pi / 2)
        bisector = t + unit(other.direction)
        lean = 0.0 if np.linalg.norm(bisector) < 1e-9 else -cross(n, bisector) / cross(t, bisector)
        sides = []
        for side in (-0.5, 0.5):
            sides.append([side * arm.thickness * (n + lean * t), reach * t + side * arm.thickness * n])
        points = [*sides[0], *sides[1][::-1]]
        face = outline([tuple(p) for p in points])
        face.name = f"arm{index}"
        for edge in face.edges:
            middle = np.array([edge.center.x, edge.center.y])
            if abs(middle @ t - reach) < 1e-9:
                edge.name = f"far{index}"
        found.append(face)
    return found


def compliance(kind: Kind) -> np.ndarray:
    """Work matrix (3, 3) of the independent unit loads of a joint of two arms."""
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
    for k in range(3):
        load, answer = ng.LinearForm(space), ng.GridFunction(space)
        for index, arm in enumerate(kind.arms):
            reach, h = kind.reach(arm), arm.thickness
            (tip, angle), (force, across, moment) = arm.place(reach), _resultants(arm, reach) @ transport[index][:, k]
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
    "in line, twice as thick and 30 times as stiff": Kind(
        (Arm(np.pi, H, 1.0, 0.48), Arm(0.0, 2 * H, 30.0, 0.35)),
    ),
    "in line, a soft one five times as thick": Kind(
        (Arm(np.pi, H, 1.0, 0.48), Arm(0.0, H / 5, 100.0, 0.35)),
    ),
    "kink of 60 degrees": Kind((Arm(np.pi, H, 1.0, 0.38), Arm(np.pi / 3, H, 1.0, 0.38))),
    "kink of 40 degrees, soft and stiff": Kind((Arm(np.pi, H, 1.0, 0.48), Arm(-np.pi / 4.5, H, 20.0, 0.3))),
}


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS.keys())
def test_a_joint_yields_as_by_another_program(kind):
    bare = sum(_wall_yield(kind, k)[0] for k in range(2))
    exact = compliance(kind) - bare
    small = [replace(arm, thickness=arm.thickness * MM) for arm in kind.arms]  # a patch lies a metre from the axis
    moment = np.array([1.0, 1.0, MM])
    ours = joint_excess(Kind(tuple(small))).plane.sum(axis=0) * np.outer(moment, moment)
    yields = np.array([1.0, 1.0, np.sqrt(12) / H])  # so that 1 is the yield of one thickness of the soft wall
    apart = (ours - exact) / np.outer(yields, yields) * kind.arms[0].plane_modulus
    size = np.abs(exact / np.outer(yields, yields) * kind.arms[0].plane_modulus)
    # measured up to 0.017 thicknesses, and 4.6 % of the ten by which a wall held in its middle fifth turns more easily:
    # inner corners are singular, and the patch has one cell across a layer
    assert (np.abs(apart) < 0.03 + 0.07 * size).all()
    assert size.max() > 0.08
