"""How much strain and stress each zone sees over the stroke, and which place comes first to what it may bear."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.arrays import Array, Flags
from diaphragm_fem.design.stroke_plan import Allowable
from diaphragm_fem.model.large_stroke.fibres import Fibres, WallFaces, fibres, wall_faces


@dataclass(frozen=True)
class Place:
    """A place in a wall: zone and material by name, r and z in m of the drawn meridian, face rear to front from 0."""

    zone: str
    material: str
    r: float
    z: float
    face: int
    faces: int

    @property
    def words(self) -> str:
        """Where in the wall: "rear face", "front face", "between layers"."""
        if self.face == 0:
            return "rear face"
        return "front face" if self.face == self.faces - 1 else "between layers"


@dataclass(frozen=True)
class Demand:
    """A largest fibre strain (a share) or stress (Pa) at a stroke in m, and where."""

    value: float
    stroke: float
    place: Place


@dataclass(frozen=True)
class Reached:
    """What a material may bear, how much of it is used at most over the path, and the stroke where it is reached.

    quantity "strain" or "stress"; worst where most of it is used; rear and front the strokes in m at which all of it is
    used up on either side, None where it is not.
    """

    material: str
    quantity: str
    allowable: float
    worst: Demand
    rear: float | None
    front: float | None

    @property
    def used(self) -> float:
        return self.worst.value / self.allowable


@dataclass(frozen=True)
class Strength:
    """Largest values in each zone over the path, (X, Z): membrane strain, fibre strain, equivalent fibre stress in Pa.

    path.stroke gives the strokes, path.shell the zones; of_material (2, X, M): largest fibre strain and stress of each
    material of the design. reached lists the allowables given.
    """

    path: StrokePath
    faces: WallFaces
    membrane: Array
    fibre: Array
    stress: Array
    of_material: Array
    reached: tuple[Reached, ...]

    def fibres_at(self, index: int) -> Fibres:
        """All strains of one state of the path."""
        return fibres(self.path.shell, self.path.states[index].unknowns, self.faces)

    @cached_property
    def worst_by_zone(self) -> tuple[Demand, ...]:
        """The largest fibre strain of each zone over the path, zones in the design's order."""
        return self._largest_of(self.fibre, lambda found: found.strain)

    @cached_property
    def most_stressed(self) -> tuple[Demand, ...]:
        """The largest fibre stress of each zone, which may lie in another layer than the largest strain."""
        return self._largest_of(self.stress, lambda found: found.stress)

    def _largest_of(self, over_path: Array, values: Callable[[Fibres], Array]) -> tuple[Demand, ...]:
        found = []
        for z in range(over_path.shape[1]):
            k = int(np.argmax(over_path[:, z]))
            inside = self.path.shell.model.line.zone_of_element == z
            found.append(_largest(self.path, self.faces, k, values(self.fibres_at(k)), inside[None, :, None]))
        return tuple(found)


def strength_over(path: StrokePath, allowables: Mapping[str, Allowable]) -> Strength:
    """Strains and stresses at every state of a path, against what the materials may bear."""
    faces, zone = wall_faces(path.shell), path.shell.model.line.zone_of_element
    zones = len(path.shell.model.design.zones)
    names = [material.name for material in path.shell.model.design.materials]
    shape = (len(path.states), zones)
    membrane, fibre, stress = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    by_material = np.zeros((2, len(path.states), len(names)))
    for k, state in enumerate(path.states):
        found = fibres(path.shell, state.unknowns, faces)
        strain, load = (np.nan_to_num(x) for x in (found.strain, found.stress))
        np.maximum.at(membrane[k], zone, found.membrane.max(axis=1))
        np.maximum.at(fibre[k], zone, strain.max(axis=(0, 2)))
        np.maximum.at(stress[k], zone, load.max(axis=(0, 2)))
        there = faces.material >= 0
        for row, values in zip(by_material, (strain, load), strict=True):
            np.maximum.at(row[k], faces.material[there], values.max(axis=2)[there])
    reached = []
    for name, allowed in allowables.items():
        column = names.index(name)
        for values, quantity, limit in zip(
            by_material, ("strain", "stress"), (allowed.strain, allowed.stress), strict=True
        ):
            if limit is not None:
                reached.append(_reached(path, faces, name, column, quantity, limit, values[:, column]))
    return Strength(path, faces, membrane, fibre, stress, by_material, tuple(reached))


def _reached(
    path: StrokePath, faces: WallFaces, name: str, column: int, quantity: str, limit: float, values: Array
) -> Reached:
    k = int(np.argmax(values))
    state = fibres(path.shell, path.states[k].unknowns, faces)
    inside = (faces.material == column)[:, :, None]
    worst = _largest(path, faces, k, state.strain if quantity == "strain" else state.stress, inside)
    rear, front = path.crossings(values, limit, kink=True)
    return Reached(name, quantity, limit, worst, rear, front)


def _largest(path: StrokePath, faces: WallFaces, k: int, values: Array, inside: Flags) -> Demand:
    """The largest of values (K, E, 2) of state k among those inside, and where it is."""
    masked = np.where(inside & np.isfinite(values), values, -1.0)
    face, element, end = np.unravel_index(int(np.argmax(masked)), masked.shape)
    model = path.shell.model
    mesh, p = model.mesh, int(model.mesh.piece_of_element[element])
    piece = mesh.pieces[p]
    within = int(element) - mesh.elements[p].start
    r, z = piece.curve.point(mesh.stations[p][within + int(end)])
    material = model.design.materials[int(faces.material[face, element])].name
    count = int((faces.material[:, element] >= 0).sum())
    place = Place(piece.zone.name, material, float(r), float(z), int(face), count)
    return Demand(float(masked[face, element, end]), float(path.stroke[k]), place)
