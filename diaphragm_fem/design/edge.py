"""How an edge of the diaphragm is held."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isinf


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
    def elastic(self) -> bool:
        return any(k > 0 and not isinf(k) for k in (self.radial, self.circumferential, self.axial, self.rotation))


FREE = Edge()
CLAMPED = Edge(inf, inf, inf, inf)
HINGED = Edge(inf, inf, inf, 0.0)
