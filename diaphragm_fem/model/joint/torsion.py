"""How a joint twists along the circle more or less than its walls, and how what flows around it turns about it.

Twisted about the joint by tau rad/m, a section that moves around by v is sheared by grad v + tau (-z, r). What that
takes in the solid is Saint-Venant's torsion (Timoshenko and Goodier, Theory of Elasticity (1951), ch. 11; from memory),
on the patch's own cells, with the stress of a twisted plate at its far ends, 2 tau G times the height over the middle
of G. The shell's walls hold 4 D a length, D = G h^3/12, less 4 D^2/(D S)^(1/2) at the joint, where they turn about
their meridians as they like, S their shear stiffness around: 0.1054 G h^4 of one layer. Two that run on turn as one,
and lose 4 (D - D')^2/((D S)^(1/2) + (D' S')^(1/2)) together. Derived here.

A shear force T that flows from wall to wall cuts the corner, and so has a moment d T about the joint that it has not on
the walls' middles. By reciprocity tau d is how far a twist parts the walls' ends around.
"""

from itertools import combinations

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.mesh.meridian import SAME_DIRECTION
from diaphragm_fem.model.joint.kind import Arm, Kind, unit
from diaphragm_fem.model.joint.layers import POINTS
from diaphragm_fem.model.quadrature import gauss
from diaphragm_fem.model.shell.elasticity import shear_of_layers
from diaphragm_fem.model.shell.thick_wall import HARDLY_SLIDES


def walls_torsion(kind: Kind) -> Array:
    """What each layer of every arm (P,) holds of a twist in N m2, as the shell's walls do."""
    arms = [_twisting(arm) for arm in kind.arms]
    bends = [own for own, _ in arms]
    found = [4 * kind.reach(arm) * own for arm, own in zip(kind.arms, bends, strict=True)]
    every, root = np.array([own.sum() for own in bends]), np.array([own for _, own in arms])
    for group, way in _turning_together(kind):
        force, held = way @ every[group], root[group].sum()
        for k, sign in zip(group, way.tolist(), strict=True):
            part = 8 * force / held * sign - 4 * (force / held) ** 2 * root[k] / every[k]
            found[k] -= part * bends[k]
    return np.concatenate(found)


def walls_turning(kind: Kind) -> Array:
    """Moment about the joint in m2 of a shear force of 1 N/m that comes in by each free arm (F,) and leaves by the last
    one, on the middles of G; none of a held end, where nothing leaves."""
    each, (x, w) = list[float](), gauss(2 * POINTS)
    for arm in kind.arms:
        height, total = centre_of_shear(arm), 0.0
        for begin, end, curvature in arm.runs(kind.reach(arm)):
            at, angle = arm.place(begin + (end - begin) * x)
            (r, z), (t_r, t_z) = at + height * unit(angle + np.pi / 2), unit(angle) * (1 - curvature * height)
            total += float((end - begin) * w @ (z * t_r - r * t_z))
        each.append(total)
    return np.array(each[:-1] or each) - each[-1]


def twist_rate(m: int, radius: Array) -> Array:
    """By how many rad/m a circle (..., 1) of a radius in m is twisted (..., 2) as it moves by w in m and turns by b."""
    return np.concatenate((m / radius**2, m / radius), axis=-1)


def centre_of_shear(arm: Arm) -> float:
    """Height in m over an arm's line at which its layers' shear moduli balance."""
    middle, force = _layers(arm)[:2]
    return float(middle @ force / force.sum())


def _layers(arm: Arm) -> tuple[Array, Array, Array]:
    """Of layers (L,) the middle in m over the arm's line, the shear stiffness G h in N/m, and the thickness."""
    h, modulus, nu = np.array(arm.plies).T
    return np.cumsum(h) - (h + arm.thickness) / 2 + arm.lift, h * modulus / (2 * (1 + nu)), h


def _twisting(arm: Arm) -> tuple[Array, float]:
    """D in N m of each layer (L,) about the middle of G, and (D S)^(1/2) in N of all."""
    (middle, force, h), (_, modulus, nu) = _layers(arm), np.array(arm.plies).T
    bends = force * ((middle - centre_of_shear(arm)) ** 2 + h**2 / 12)
    one = np.array((h, modulus / (1 - nu**2), force / h))[:, None, :, None]
    slides = shear_of_layers(one[0], one[1], one[2]).item() * (HARDLY_SLIDES if len(h) == 2 else 1.0)
    return bends, float(np.sqrt(bends.sum() * slides))


def _turning_together(kind: Kind) -> list[tuple[list[int], Array]]:
    """Arms that turn about their meridians as one, two that run on or each by itself, and the sign of each."""
    alone, found = list(range(len(kind.arms))), list[tuple[list[int], Array]]()
    for one, other in combinations(alone, 2):
        turn = kind.arms[one].direction - kind.arms[other].direction
        if -np.cos(turn) > np.cos(SAME_DIRECTION) and {one, other} <= set(alone):
            found.append(([one, other], np.array([1.0, -1.0])))
            alone = [k for k in alone if k not in (one, other)]
    return found + [([k], np.ones(1)) for k in alone]
