"""How the front face moves, point by point: for whoever places slots before it or compares it with a laser scan."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.curve.reduced import Reduced
from diaphragm_fem.analysis.solution import Solution
from diaphragm_fem.arrays import Array, Complex

PER_OCTAVE = 6


@dataclass(frozen=True)
class Face:
    """P points of the front face and F frequencies.

    r, z (P,) in m; area (P,) the surface in m2 that each point stands for; zone (P,) names; frequency_hz (F,);
    motion (P, F) complex, normal velocity over the coil's axial velocity, positive toward the listener,
    exp(+i omega t): sum over points of area times motion is the effective area, to 1e-4 of its largest where walls have
    thickness, for these are points of their middle; axial (P, F) the same of the velocity
    along the axis, what a beam along it sees.
    """

    r: Array
    z: Array
    area: Array
    zone: tuple[str, ...]
    frequency_hz: Array
    motion: Complex
    axial: Complex


def face_of(solution: Solution, frequency_hz: Array | None = None, reduced: Reduced | None = None) -> Face:
    """The front face of a solved structure, at sixths of an octave where no frequencies are given. `reduced`
    answers where other equations than the structure's own hold, as with loads on.
    """
    structure, reduced = solution.structure, reduced or solution.reduced
    surface = structure.surface
    if frequency_hz is None:
        octaves = np.log2(solution.up_to_hz / solution.from_hz)
        frequency_hz = np.geomspace(solution.from_hz, solution.up_to_hz, int(PER_OCTAVE * octaves) + 1)
    front = surface.area > 0
    radial, axial = (motion[front] @ reduced.basis for motion in (surface.motion_r, surface.motion_z))
    normal = surface.normal[front, :1] * radial + surface.normal[front, 1:] * axial
    found = reduced.outputs(np.vstack((normal, axial, reduced.small.pickup)), frequency_hz)
    names = tuple(structure.zones[k].name for k in surface.zone[front])
    motions = np.split(found[:-1] / found[-1], 2)
    return Face(surface.r[front], surface.z[front], surface.area[front], names, frequency_hz, *motions)
