"""Mode shapes for other programs, as lines that carry one field per mode."""

from pathlib import Path

import numpy as np

from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import Surface


def write_shapes(path: Path, evaluation: Answer, order: int) -> Path:
    """The mode shapes of one order as a .vtu of the mid-surface line, points (r, z, 0) in m: one vector field
    (u_r, u_z, u_t) per mode; a cell is in the zone of its first point.

    Each shape is scaled to a largest motion of 1; around the circumference u_r and u_z go as cos(m theta), u_t, the
    component out of the (r, z) plane, as sin(m theta).
    """
    import meshio

    surface, modes = evaluation.structures[order].surface, evaluation.modes[order]
    begin = np.flatnonzero(surface.run[1:] == surface.run[:-1])
    points = np.column_stack((surface.r, surface.z, np.zeros(len(surface.r))))
    shapes = unit_shapes(surface, modes)[0][:, [0, 2, 1]]
    fields = {f"mode {k + 1:02d}, {hz:.1f} Hz": shapes[:, :, k] for k, hz in enumerate(modes.frequency_hz)}
    lines = [("line", np.stack((begin, begin + 1), axis=1))]
    mesh = meshio.Mesh(points, lines, fields, {"zone": [surface.zone[begin].astype(np.int32)]})
    meshio.write(path, mesh, file_format="vtu")
    return path


def unit_shapes(surface: Surface, modes: Modes) -> tuple[Array, Array]:
    """Radial, circumferential and axial motion (Q, 3, M) of the points of a surface, the largest of each mode 1, and
    the mass (M,) in kg of each shape so scaled, a mode of order m going around as cos(m theta)."""
    directions = surface.motion_r, surface.motion_t, surface.motion_z
    moved = np.stack([np.asarray(each @ modes.vectors) for each in directions], axis=1)
    largest = np.linalg.norm(moved, axis=1).max(axis=0)
    scale = np.where(largest > 0, largest, 1.0)
    return moved / scale, 1 / scale**2
