"""Free air on one side of a design: which contour it meets, and the port on which it acts."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.driver import Front
from diaphragm_fem.errors import ModelError
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.radiation import OpenAir, open_air
from diaphragm_fem.mesh.open_contour import front_contour, rear_contour
from diaphragm_fem.model.shell.front_face import Face
from diaphragm_fem.model.structure import Load, Port

FRONT, REAR = "front", "rear"


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

    Raises MeshError where face and baffle meet, ModelError for a level wanted nearer than the field is known.
    """
    contours = {FRONT: front_contour(design, front.flange_depth, front.mounting_ring)}
    if front.open_rear:
        contours[REAR] = rear_contour(design)
    sides = tuple(_side(name, open_air(contour, up_to_hz), face, air) for name, contour in contours.items())
    nearest = sides[0].before.nearest
    if front.level_distance < nearest:
        raise ModelError(
            f"front.level_distance: the field is known from {nearest * 1e3:.4g} mm before the middle of the opening "
            f"on; received {front.level_distance * 1e3:.4g} mm: choose a larger distance"
        )
    return sides


def finer(side: OpenSide, face: Face, up_to_hz: float) -> OpenSide:
    """The same side on elements two thirds as long and half again as many patterns."""
    count = len(side.before.patterns.mix)
    return _side(side.name, open_air(side.before.contour, up_to_hz, count + count // 2, 1.5), face, side.air)


def _side(name: str, before: OpenAir, face: Face, air: Air) -> OpenSide:
    swept = np.asarray(face.sweep.T @ before.patterns(face.place))
    return OpenSide(name, before, Port(name, swept if name == FRONT else -swept), air)
