"""Mesh files read back."""

from dataclasses import dataclass
from pathlib import Path

import meshio
import numpy as np

from diaphragm_fem.mesh.exchange import Grid


@dataclass(frozen=True)
class ReadGrid(Grid):
    """A grid with its fields by name, point values (P,) or (P, 3)."""

    fields: dict[str, np.ndarray]


def read_mesh(path: Path) -> ReadGrid:
    """A .msh or .vtu that the program wrote: cells of one kind, zones numbered from 1 in a .msh and from 0 in a .vtu,
    named in a .msh alone."""
    mesh = meshio.read(path)
    (kind,) = {block.type for block in mesh.cells}
    physical = path.suffix == ".msh"
    zone = np.concatenate(mesh.cell_data["gmsh:physical" if physical else "zone"]) - physical
    names = tuple(sorted(mesh.field_data, key=lambda name: mesh.field_data[name][0]))
    fields = {name: values for name, values in mesh.point_data.items() if not name.startswith("gmsh:")}
    cells = np.concatenate([block.data for block in mesh.cells])
    return ReadGrid(mesh.points, kind, cells, zone, names or ("",) * (1 + int(zone.max())), fields)
