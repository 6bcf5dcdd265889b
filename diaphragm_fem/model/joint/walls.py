"""The shell's own walls over the length of a joint's patch: what they yield and what section they have."""

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.joint.kind import Arm, Kind, unit
from diaphragm_fem.model.joint.layers import POINTS, resultants, softness
from diaphragm_fem.model.quadrature import gauss
from diaphragm_fem.model.shell.elasticity import SHEAR_FACTOR
from diaphragm_fem.model.shell.thick_wall import bent_stiffening, shear_gain


def walls_yield(kind: Kind) -> tuple[Array, Array]:
    """Compliance of every layer of every arm, plane (P, 3 F, 3 F) and around (P, F, F)."""
    each = [arm_yield(kind, index) for index in range(len(kind.arms))]
    plane, around = (np.concatenate(x) for x in zip(*each, strict=True))
    return plane, around


def walls_section(kind: Kind) -> Array:
    """Integrals (P, 6) of 1, r, z, r^2, r z, z^2 over their section, from the joint."""
    return np.concatenate([_wall_integrals(kind, arm) for arm in kind.arms])


def arm_yield(kind: Kind, index: int) -> tuple[Array, Array]:
    """Compliance of the layers of one arm, plane (L, 3 F, 3 F) and around (L, F, F)."""
    arm = kind.arms[index]
    reach, plane, (x, w) = kind.reach(arm), np.zeros((len(arm.plies), 3, 3)), gauss(POINTS)
    for begin, end, curvature in arm.runs(reach):
        c = -curvature
        soft = softness(arm.layers, arm.lift, c) if arm.layers else np.linalg.inv(_one_layer(arm, c))[None]
        at, weight = resultants(arm, begin + (end - begin) * x), ((end - begin) * w)[:, None, None]
        plane += (weight * (at.transpose(0, 2, 1) @ soft[:, None] @ at)).sum(axis=1)
    if not arm.layers:
        at, product = resultants(arm, reach), np.zeros((3, 3))
        product[1, 2] = product[2, 1] = arm.poisson_ratio / (10 * arm.shear_modulus * arm.thickness)
        plane += at.T @ product @ at
    shear = np.array([h * modulus / (2 * (1 + nu)) for h, modulus, nu in arm.plies])
    three, one = kind.transport(3)[index], kind.transport(1)[index]
    return three.T @ plane @ three, np.multiply.outer(reach * shear / shear.sum() ** 2, one.T @ one)


def _one_layer(arm: Arm, c: float) -> Array:
    """Law (3, 3) on (N, Q, M) of a wall of one layer, c as in `thick_wall`."""
    nu, h, bent = arm.poisson_ratio, arm.thickness, (c * arm.thickness) ** 2
    stretching, bending = arm.plane_modulus * h, arm.plane_modulus * h**3 / 12
    shear = SHEAR_FACTOR * shear_gain(nu) * arm.shear_modulus * h
    law = np.diag([stretching * (1 + bent / 12), shear, bending * (1 + bent * bent_stiffening(nu))])
    law[0, 2] = law[2, 0] = -bending * c / (1 - nu)
    return law


def _wall_integrals(kind: Kind, arm: Arm) -> Array:
    """The integrals (L, 6) of the layers of the shell's wall, whose fibres are longer outside a bend."""
    thick = np.array([ply.thickness for ply in arm.plies])
    x, w = gauss(POINTS)
    height = (np.cumsum(thick) - thick - arm.thickness / 2 + arm.lift)[:, None] + thick[:, None] * x
    total = np.zeros((len(thick), 6))
    for begin, end, curvature in arm.runs(kind.reach(arm)):
        area = (1 - curvature * height) * thick[:, None] * w
        place, angle = arm.place(begin + (end - begin) * x)
        r, z = place[..., None, None] + unit(angle + np.pi / 2)[..., None, None] * height
        total += np.einsum("s,kslq,lq->lk", (end - begin) * w, np.array(powers(r, z)), area)
    return total


def powers(r: Array, z: Array) -> list[Array]:
    """1, r, z, r^2, r z, z^2."""
    return [np.ones_like(r), r, z, r * r, r * z, z * z]
