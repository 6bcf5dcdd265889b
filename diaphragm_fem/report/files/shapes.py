"""Mode shapes for other programs, as a grid that carries one field per mode."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.errors import ModelError


def write_shapes(path: Path, evaluation: Answer, order: int) -> Path:
    """The mode shapes of one order as a .vtu of the mid-surface line: one vector field (u_r, u_z, u_t) per mode.

    Each shape is scaled to a largest motion of 1; around the circumference u_r and u_z go as cos(m theta), u_t, the
    component out of the (r, z) plane, as sin(m theta).
    """
    from diaphragm_fem.mesh.exchange import surface_grid, write_mesh

    surface, modes = evaluation.structures[order].surface, evaluation.modes[order]
    if surface is None:
        raise ModelError("shapes need a system that knows its surface")
    grid = surface_grid(surface.r, surface.z, surface.zone, surface.run, tuple(zone.name for zone in modes.zones))
    directions = surface.motion_r, surface.motion_z, surface.motion_t
    moved = np.stack([np.asarray(each @ modes.vectors) for each in directions], axis=1)
    fields = {}
    for k, frequency in enumerate(modes.frequency_hz):
        shape = moved[:, :, k]
        fields[f"mode {k + 1:02d}, {frequency:.1f} Hz"] = shape / (np.linalg.norm(shape, axis=1).max() or 1.0)
    write_mesh(path, grid, fields)
    return path
