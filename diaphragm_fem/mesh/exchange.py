"""Meshes out through meshio: gmsh .msh with named zones, .vtu with mode shapes.

Points are (r, z, 0) in metres; a vector field has the components (u_r, u_z, u_theta).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.mesh.section import Section

SUFFIXES = {".msh": "gmsh22", ".vtu": "vtu"}


@dataclass(frozen=True)
class Grid:
    """A mesh as files know it.

    points (P, 3) in m; kind "quad9", "line3" or "line"; cells (n, nodes of a cell), corners first, then middles;
    zone (n,) indexes zone_names.
    """

    points: Array
    kind: str
    cells: Index
    zone: Index
    zone_names: tuple[str, ...]


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


def surface_grid(r: ArrayLike, z: ArrayLike, zone: ArrayLike, run: ArrayLike, zone_names: tuple[str, ...]) -> Grid:
    """The grid of surface points (P,) in order along each run: plain lines, each in the zone of its first point."""
    run = np.asarray(run)
    begin = np.flatnonzero(run[1:] == run[:-1])
    cells = np.stack((begin, begin + 1), axis=1)
    return Grid(_flat(np.stack((r, z), axis=1)), "line", cells, np.asarray(zone)[begin], zone_names)


def write_mesh(path: str | Path, grid: Grid, fields: Mapping[str, ArrayLike] | None = None) -> None:
    """Write a grid, with one point field per name: (P,) or (P, 3) real values; the suffix decides the form.

    Zones become physical groups in a .msh and the cell value "zone" in a .vtu. Raises MeshError for another suffix or a
    field of the wrong length.
    """
    import meshio

    path = Path(path)
    if path.suffix not in SUFFIXES:
        raise MeshError(f"a mesh file must end in .msh or .vtu, received '{path.name}'")
    values = {name: np.asarray(value, float) for name, value in (fields or {}).items()}
    for name, value in values.items():
        if len(value) != len(grid.points):
            raise MeshError(
                f"field '{name}' must have one value for each of the {len(grid.points)} points, received {len(value)}"
            )
    tag = (grid.zone + 1).astype(np.int32)
    kind = SUFFIXES[path.suffix]
    cell_data: dict[str, list] = {"zone": [grid.zone.astype(np.int32)]}
    field_data = {}
    options = {}
    if kind == "gmsh22":
        options = {"binary": bool(values)}  # meshio's text form of point values cannot be read back
        cell_data = {"gmsh:physical": [tag], "gmsh:geometrical": [tag]}
        dimension = 2 if grid.kind == "quad9" else 1
        field_data = {name: np.array([i + 1, dimension]) for i, name in enumerate(grid.zone_names)}
    out = meshio.Mesh(grid.points, [(grid.kind, grid.cells)], values, cell_data, field_data=field_data)
    meshio.write(path, out, file_format=kind, **options)


def _flat(points: Array) -> Array:
    """Points (P, 2) with a third coordinate zero."""
    return np.column_stack((points, np.zeros(len(points))))
