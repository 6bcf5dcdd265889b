"""Decoupling steps: their numbers, names and corners, and whether they fit."""

from collections.abc import Sequence
from dataclasses import dataclass

from diaphragm_fem.design.meridian.outline import NO_PIECE, Corner
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.spec.profile import StepSpec
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import DesignError


@dataclass(frozen=True)
class Step:
    """A step that exists: its table, its key in the file, its number from the coil."""

    spec: StepSpec
    key: str
    number: int

    @property
    def suffix(self) -> str:
        return "" if self.number == 1 else f" {self.number}"

    def zone(self, side: str) -> Zone:
        return Zone(f"{side} step{self.suffix}", Role.STEP, side, self.number)

    def zone_beyond(self, side: str) -> Zone:
        return Zone(f"{side} flank beyond step{self.suffix}", Role.BEYOND, side, self.number)

    def corner(self, end: int, default: Corner) -> Corner:
        """The near (0) or far (1) corner of the step."""
        radii = self.spec.corner_radius
        return default if radii is None else Corner(radii[end], f"{self.key}.corner_radius")


def numbered(specs: Sequence[StepSpec], key: str) -> list[Step]:
    """The steps that exist: one without tread and rise is no step and takes no number."""
    real = [(i, spec) for i, spec in enumerate(specs) if spec.tread > 0 or spec.rise != 0]
    return [Step(spec, f"{key}.steps[{i}]", number) for number, (i, spec) in enumerate(real, start=1)]


def check_steps(
    steps: Sequence[Step], width: float, key: str, *, width_name: str = "", to_the_end: bool = False
) -> None:
    """Each step must lie within the flank, past the coil and past the step before it.

    The last one may end where the flank does if to_the_end says so, else some flank must be left beyond it.
    """
    before, what = 0.0, "the coil (0 mm)"
    for step in steps:
        near, tread = step.spec.distance, step.spec.tread
        if not near > before + NO_PIECE:
            raise DesignError(f"{step.key}.distance: the step must begin beyond {what}; received {show(near)}")
        before, what = near + tread, f"the far edge of the step before it ({show(near + tread, near)})"
        ends = to_the_end and step is steps[-1]
        if not before < width + (NO_PIECE if ends else -NO_PIECE):
            bound = "at most" if ends else "below"
            raise DesignError(
                f"{step.key}: the step does not fit on its flank: distance + tread must be {bound} "
                f"{width_name or key + '.width'} = {show(width, near)}; "
                f"received {show(near)} + {show(tread)} = {show(before, near)}"
            )
