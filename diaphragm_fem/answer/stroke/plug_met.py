"""Where the face meets the plug before it on its way."""

import numpy as np

from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.arrays import Array
from diaphragm_fem.load.plug import draw_plug


def plug_met(path: StrokePath) -> float | None:
    """The stroke in m at which the face meets its plug, None where it does not, or where there is none to meet.

    The middle of the bent wall against the plug as drawn, along the axis: what a slow coil does, not what a zone does
    near its own resonance. Of a plug that turns back over radii the narrowest gap is what is left. Raises
    MeshError for a gap that cannot be.
    """
    design = path.shell.model.design
    front = None if design.driver is None else design.driver.front
    if front is None or not (front.gap_width or front.plug):
        return None
    gap = draw_plug(design, front).face
    r, z = gap.plug.T

    def left(lines: list[Array]) -> float:
        points = np.concatenate([line for line, piece in zip(lines, path.shell.model.mesh.pieces, strict=True)
                                 if piece.zone.radiates])  # fmt: skip
        before = points[(points[:, 0] >= r[0]) & (points[:, 0] <= r[-1])]
        return float((np.interp(before[:, 0], r, z) - before[:, 1]).min())

    if np.all(np.diff(r) > 0):
        space = np.array([left(path.shell.lines(state.unknowns)) for state in path.states])
    else:
        space = float(gap.width.min()) - path.stroke
    return path.crossings(-space, 0.0, kink=True)[1]
