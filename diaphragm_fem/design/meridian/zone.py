"""Zones: the named parts of a diaphragm that every result is broken down by."""

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """What a zone is there for."""

    DRIVEN = "driven"  # from the coil to the first step, or the whole dome or flank where there is no step
    STEP = "step"  # a decoupling step
    BEYOND = "beyond step"  # between a step and the next one, or the surround
    SURROUND = "surround"
    COIL = "coil"  # former and winding: moves no air
    OTHER = "other"


@dataclass(frozen=True)
class Zone:
    """A zone's name as printed, its role, its side of the coil and, for steps and beyond, the step's number.

    side: "inner", "outer" or "" ; step counts from the coil, 1 is the nearest, 0 where there is none.
    """

    name: str
    role: Role = Role.OTHER
    side: str = ""
    step: int = 0

    @property
    def radiates(self) -> bool:
        """Former and winding face the gap, not the listener."""
        return self.role is not Role.COIL
