"""What a face before a thin gap feels beyond the mean pressure across it, and what its slots feel of that face.

The plug stands still, so the velocity falls from the face's v to zero across the width g, and by Euler's equation the
pressure at the face is the mean plus i omega rho (g/3) v: a mass rho g/3 per area. (Of waves of wave number q along the
face it is rho [coth(q g)/q - 1/(q^2 g)], less by (q g)^2/15.) A slot's flow crosses the gap as well: U_j out of it adds
i omega mu_j U_j/(2 pi r_j) along the circle under it, mu_j = rho g alpha_j (`slot_excess`), and by reciprocity the
pressure that drives U_j is less by i omega mu_j v. With C what the face sweeps against the gap's pressures p, c_j its
mean motion within a gap's width of slot j, E and Y as in `thin_chamber`:

    (A + E Y E^T) p = i omega (C + i omega c mu Y E^T)^T u,    slots' pressure = E^T p + omega^2 mu c^T u,
    force = (C + i omega c mu Y E^T) p + i omega^3 c mu Y mu c^T u.

Source: potential flow in a plane layer (Lamb, Hydrodynamics (1932), from memory), derived here and held against wall
and two-dimensional air solved as one. exp(+i omega t).
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import diags

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.junction import slot_excess
from diaphragm_fem.load.slot_network import SlotNetwork
from diaphragm_fem.load.thin_chamber import ThinChamber
from diaphragm_fem.mesh.gap_line import GapLine
from diaphragm_fem.model.shell.front_face import Face
from diaphragm_fem.model.structure import MASS, Term


@dataclass(frozen=True, eq=False)
class FaceAir:
    """mass (n, n) in kg on the unknowns of the face, as a term; pattern (n, J): its mean motion under each slot; mouths
    (J,): mu in kg/m2."""

    mass: Term
    pattern: Array
    mouths: Array

    def stiffness(self, chamber: ThinChamber, air: Air, omega: Array, network: SlotNetwork) -> Complex:
        """Of the gap's patterns and of c (F, N + J, N + J), per volume swept and per motion."""
        plain, push = chamber.stiffness(air, omega, network), 1j * omega[:, None, None]
        count, size = len(chamber.slots), len(chamber.slots) + len(self.mouths)
        found = np.empty((len(omega), size, size), complex)
        through = push * self.mouths[:, None] * network.admittance
        found[:, :count, :count] = plain
        found[:, :count, count:] = plain @ (through @ chamber.slots.T).swapaxes(1, 2)
        found[:, count:, :count] = found[:, :count, count:].swapaxes(1, 2)
        drawn = chamber.slots.T @ found[:, :count, count:] - push**2 * np.diag(self.mouths)
        found[:, count:, count:] = through @ drawn
        return found


def face_air(line: GapLine, place: Array, density: float, face: Face) -> FaceAir:
    """The air of a density in kg/m3 that a face moves across a gap, whose points lie at places (P,) in m along it."""
    area = 2 * np.pi * face.point[:, 0] * face.length
    width = np.interp(place, line.vertex, np.append(line.width[:, 0], line.width[-1, 1]))
    mass = Term(face.sweep.T @ (diags(density * width / 3 / area) @ face.sweep), derivatives=MASS, made_of="air")
    away = ((place[:, None] - line.vertex[line.slot_vertex]) / line.slot_gap) ** 2
    near = np.exp(away.min(axis=0) - away)  # the nearest points alone, where none lies within a gap's width
    pattern = np.asarray(face.sweep.T @ (near / (area @ near)))
    return FaceAir(mass, pattern, density * line.slot_gap * slot_excess(line.slot_width / (2 * line.slot_gap)))
