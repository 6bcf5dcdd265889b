"""Strain and stress of the fibres of a wall: at both faces of every layer, at both ends of every element."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.meridian.wall import lifted
from diaphragm_fem.model.large_stroke.bent_shell import BentShell, storage_factor
from diaphragm_fem.model.shell.elasticity import layers_of, lifts_of

LEAST_LENGTH = 0.5  # of a fibre on the meridian's: a bend around no inner radius at all would have infinite strain
GAUSS = 1 / np.sqrt(3)  # of half an element, from its middle: where strains of quadratic elements are best


@dataclass(frozen=True)
class WallFaces:
    """Faces of layers, K of them at most on a wall, rear to front.

    height (K, E, 2) in m from the meridian, at both ends of the elements; material (K, E) an index into the
    design's materials, -1 where a wall has fewer faces.
    """

    height: Array
    material: Index


@dataclass(frozen=True)
class Fibres:
    """Strains of one state at both ends of the elements (E, 2): membrane along the meridian and around; of the fibres
    (K, E, 2), with the equivalent stress (K, E, 2) in Pa after von Mises. nan where a wall has fewer faces."""

    membrane_along: Array
    membrane_around: Array
    along: Array
    around: Array
    stress: Array

    @property
    def membrane(self) -> Array:
        """The larger of both membrane strains in size (E, 2)."""
        return np.maximum(np.abs(self.membrane_along), np.abs(self.membrane_around))

    @property
    def strain(self) -> Array:
        """The larger of both fibre strains in size (K, E, 2)."""
        return np.maximum(np.abs(self.along), np.abs(self.around))


def wall_faces(shell: BentShell) -> WallFaces:
    """The faces of all layers of a shell's walls."""
    mesh, number = shell.model.mesh, {material: k for k, material in enumerate(shell.model.design.materials)}
    begin, end, material = layers_of(mesh.pieces, lambda x: number[x] + 1.0)[:, mesh.piece_of_element].swapaxes(1, 2)
    ends = np.concatenate([np.stack((s[:-1], s[1:]), axis=1) / s[-1] for s in mesh.stations])
    h = begin[..., None] + (end - begin)[..., None] * ends
    lift = lifted(lifts_of(mesh.pieces)[:, mesh.piece_of_element, None], ends)[0]
    front = np.cumsum(h, axis=0) - h.sum(axis=0) / 2 + lift
    height = np.where(material[..., None] > 0, np.stack((front - h, front)), np.nan)
    faces = 2 * len(h)
    return WallFaces(height.swapaxes(0, 1).reshape(faces, -1, 2), np.repeat(material.astype(np.int64) - 1, 2, axis=0))


def fibres(shell: BentShell, unknowns: Array, faces: WallFaces) -> Fibres:
    """Strains and stresses of a state.

    e(zeta) = e + zeta k around, and along as `along_bend` has it; sigma = E/(1 - nu^2) (e_s + nu e_th, e_th + nu e_s)
    layer by layer, E the storage modulus that the walls have, and sqrt(s_s^2 - s_s s_th + s_th^2). The law is linear:
    stresses of polymers beyond a few per cent of strain are too high.
    """
    strain = _at_ends(shell, shell.wall_strain(shell.bend(unknowns)))
    materials = shell.model.design.materials
    young = np.array([storage_factor(x, shell.at_hz) * x.youngs_modulus for x in materials])[faces.material][..., None]
    nu = np.array([x.poisson_ratio for x in materials])[faces.material][..., None]
    modulus = young / (1 - nu**2)
    kappa = shell.line.stiff.at.kappa.mean(axis=1)[:, None]
    along = along_bend(strain[0], strain[3], kappa, faces.height, modulus)
    around = strain[1] + faces.height * strain[4]
    first, second = modulus * (along + nu * around), modulus * (around + nu * along)
    stress = np.sqrt(first**2 - first * second + second**2)
    return Fibres(strain[0], strain[1], along, around, stress)


def along_bend(membrane: Array, bend: Array, kappa: Array, height: Array, modulus: Array) -> Array:
    """Strains (K, E, 2) of fibres along a wall that is drawn with the curvature kappa (E, 1) in 1/m.

    A fibre at zeta is 1 - zeta kappa as long as the meridian. Strains membrane and bend (E, 2) are those of the shell,
    whose law knows nothing of that: to the same force and moment belong e + de and k + dk, to first order in kappa h

        A de + B dk = -kappa (B e + D k)        B de + D dk = -kappa (D e + T k)

    with A, B, D, T the moments of the modulus (K, E, 2), of order 0 to 3 in zeta, and e(zeta) = (e + de +
    zeta (k + dk))/(1 - zeta kappa). Pure stretch stays even; the inner face of a bent wall sees more than the outer.
    In bends of a radius below the wall's thickness the strain told is too low (see LEAST_LENGTH).
    Source: Winkler's curved bars, as in Timoshenko and Goodier, Theory of Elasticity (named from memory).
    """
    rear, front = height[::2], height[1::2]
    a, b, d, t = (np.nansum(modulus[::2] * (front**n - rear**n) / n, axis=0) for n in (1, 2, 3, 4))
    force, moment, det = kappa * (b * membrane + d * bend), kappa * (d * membrane + t * bend), a * d - b**2
    membrane, bend = membrane - (d * force - b * moment) / det, bend - (a * moment - b * force) / det
    return np.asarray((membrane + height * bend) / np.maximum(1 - height * kappa, LEAST_LENGTH))


def _at_ends(shell: BentShell, strain: Array) -> Array:
    """Strains (8, E, 2) at both ends of the elements from those (8, E, 2) at their Gauss points: straight through both,
    bent by the nearest one of the element at the other end where that is of the same piece."""
    found = np.empty_like(strain)
    for elements, stations in zip(shell.model.mesh.elements, shell.model.mesh.stations, strict=True):
        for end, way in ((1, 1), (0, -1)):  # both as if the end lay at x = 1, the middle at 0, the other end at -1
            length, own = np.diff(stations)[::way], strain[:, elements][:, ::way, ::way]
            middle, slope = own.mean(axis=2), (own[..., 1] - own[..., 0]) / (2 * GAUSS)
            told = middle + slope
            x = -1 - (1 - GAUSS) * length[:-1] / length[1:]
            bend = (own[:, :-1, 1] - middle[:, 1:] - slope[:, 1:] * x) / (x**2 - GAUSS**2)
            told[:, 1:] += bend * (1 - GAUSS**2)
            found[:, elements, end] = told[:, ::way]
    return found
