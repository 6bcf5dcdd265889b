"""How an edge of the diaphragm is held."""

from dataclasses import dataclass
from math import inf


@dataclass(frozen=True)
class Edge:
    """Stiffness of the support per metre of edge, motion by motion: 0 is free, infinity is held.

    radial, circumferential, axial in N/m per metre (N/m2); rotation, about the edge's own circle, in N m/rad per
    metre (N). `loss_factor` belongs to the finite stiffnesses.
    """

    radial: float = 0.0
    circumferential: float = 0.0
    axial: float = 0.0
    rotation: float = 0.0
    loss_factor: float = 0.0

    @property
    def stiffness(self) -> dict[str, float]:
        """By the motion that it resists: u radial, v circumferential, w axial, b rotation."""
        return {"u": self.radial, "v": self.circumferential, "w": self.axial, "b": self.rotation}

    @property
    def elastic(self) -> bool:
        return any(0 < k < inf for k in self.stiffness.values())


FREE = Edge()
CLAMPED = Edge(inf, inf, inf, inf)
HINGED = Edge(inf, inf, inf, 0.0)
