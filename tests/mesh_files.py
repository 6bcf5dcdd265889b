"""Meshes as files: those of sections and meridians written into meshes/, whatever the program writes read back."""

from dataclasses import dataclass, field
from pathlib import Path

import meshio
import numpy as np

from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.mesh.section import Section


@dataclass(frozen=True)
class Grid:
    """A mesh as files know it: points (P, 3) in m; kind "quad9", "line3" or "line"; cells (n, nodes of a cell), corners
    first, then middles; zone (n,) indexes zone_names; fields by name, point values (P,) or (P, 3)."""

    points: np.ndarray
    kind: str
    cells: np.ndarray
    zone: np.ndarray
    zone_names: tuple[str, ...]
    fields: dict[str, np.ndarray] = field(default_factory=dict)


def section_grid(section: Section) -> Grid:
    """The grid of a wall section: biquadratic quadrilaterals."""
    names = tuple(zone.name for zone in section.design.zones)
    return Grid(_flat(section.points.T), "quad9", section.cells.T, section.zone_of_cell, names)


def meridian_grid(mesh: MeridianMesh) -> Grid:
    """The grid of a meridian: quadratic lines, their middles on the curve; pieces do not share points."""
    zones, pieces, halfway = mesh.design.zones, mesh.pieces, [(s[1:] + s[:-1]) / 2 for s in mesh.stations]
    points = [x.curve.point(s) for cuts in (mesh.stations, halfway) for x, s in zip(pieces, cuts, strict=True)]
    zone = np.array([zones.index(piece.zone) for piece in pieces])[mesh.piece_of_element]
    return Grid(_flat(np.concatenate(points)), "line3", mesh.nodes.T, zone, tuple(z.name for z in zones))


def write_msh(path: Path, grid: Grid) -> None:
    """A grid in gmsh's format 2.2 as text, zones as physical groups."""
    tag = (grid.zone + 1).astype(np.int32)
    named = {name: np.array([k + 1, 2 if grid.kind == "quad9" else 1]) for k, name in enumerate(grid.zone_names)}
    tags = {"gmsh:physical": [tag], "gmsh:geometrical": [tag]}
    mesh = meshio.Mesh(grid.points, [(grid.kind, grid.cells)], {}, tags, field_data=named)
    meshio.write(path, mesh, file_format="gmsh22", binary=False)


def read_mesh(path: Path) -> Grid:
    """A .msh of ours, or a .vtu that the program wrote: cells of one kind, zones numbered from 1 in a .msh and from 0
    in a .vtu, named in a .msh alone."""
    mesh = meshio.read(path)
    (kind,) = {block.type for block in mesh.cells}
    physical = path.suffix == ".msh"
    zone = np.concatenate(mesh.cell_data["gmsh:physical" if physical else "zone"]) - physical
    names = tuple(sorted(mesh.field_data, key=lambda name: mesh.field_data[name][0]))
    fields = {name: values for name, values in mesh.point_data.items() if not name.startswith("gmsh:")}
    cells = np.concatenate([block.data for block in mesh.cells])
    return Grid(mesh.points, kind, cells, zone, names or ("",) * (1 + int(zone.max())), fields)


def _flat(points: np.ndarray) -> np.ndarray:
    """Points (P, 2) with a third coordinate zero."""
    return np.column_stack((points, np.zeros(len(points))))
