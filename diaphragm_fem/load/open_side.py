"""Free air on one side of a design: which contour it meets, and the port on which it acts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver import Front
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.radiation import OpenAir, open_air
from diaphragm_fem.mesh.open_contour import front_contour, rear_contour
from diaphragm_fem.model.shell_face import Face
from diaphragm_fem.model.structure import Load, Port

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class OpenSide:
    """name: "front" or "rear"; the air before it; the port, its patterns' motion into that air; state of the air."""

    name: str
    before: OpenAir
    port: Port
    air: Air

    @property
    def load(self) -> Load:
        return Load(self.port, self.stiffness)

    def stiffness(self, frequency_hz: Array) -> Complex:
        """Pressure on each pattern per volume swept against each (F, N, N), Pa/m3."""
        return self.before.stiffness(self.air, frequency_hz)


def open_sides(design: Design, front: Front, face: Face, air: Air, up_to_hz: float) -> tuple[OpenSide, ...]:
    """The open sides of a design in a baffle: its front, and its rear where that is open.

    Raises MeshError where face and baffle meet.
    """
    contours = {"front": front_contour(design, front.flange_depth, front.mounting_ring)}
    if front.open_rear:
        contours["rear"] = rear_contour(design)
    sides = []
    for name, contour in contours.items():
        before = open_air(contour, up_to_hz)
        swept = np.asarray(face.sweep.T @ before.patterns(face.place))
        sides.append(OpenSide(name, before, Port(name, swept if name == "front" else -swept), air))
    return tuple(sides)
