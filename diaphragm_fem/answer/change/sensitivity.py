"""What each figure of a design does when a number of its file grows by a tenth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from diaphragm_fem.answer.change.levers import Lever


@dataclass(frozen=True)
class Sensitivity:
    """What a tenth more of one lever does: figure -> change in its own unit, None where one side has none.

    taken_at: +0.1, or -0.1 (the change then turned about) where the design refuses more; None and the reason where it
    refuses both. gained, lost: figures that exist with the lever moved alone, or without that alone. jumped: figures
    that are then those of another place. back: what a tenth less does, of levers that a verdict names. held: figures
    whose jump is no accident of this step, as half of it does no harm and half as much more keeps it. touches: whether
    the diaphragm then touches its plug at the rated voltage, or does so as it is and then farther.
    own_band: changes of a driver's level, spread and their like over the band that it has with the lever moved, where
    `change` holds those over the band of the design itself.
    """

    lever: Lever
    change: Mapping[str, float | None]
    taken_at: float | None
    reason: str = ""
    gained: frozenset[str] = frozenset()
    lost: frozenset[str] = frozenset()
    jumped: frozenset[str] = frozenset()
    back: Sensitivity | None = None
    held: frozenset[str] = frozenset()
    touches: bool = False
    own_band: Mapping[str, float | None] = field(default_factory=dict)

    @property
    def can_be_had(self) -> bool:
        """Whether the step that was taken can be made and keeps the diaphragm clear of its plug."""
        return self.lever.can_be(self.taken_at or 0.0) and not self.touches

    def moved(self, figure: str) -> float | None:
        """What the step that was taken changes of a figure, in its own unit."""
        change = self.change.get(figure)
        return None if change is None else change if (self.taken_at or 0.0) > 0 else -change


@dataclass(frozen=True)
class Sensitivities:
    """The figures of the design itself by the shell on one mesh, and a row per lever; loaded: whether they are those
    with everything on ("loaded_decoupling_hz", "median_level_db"). hands_over: where the hand-over fails and no tenth
    helps, the numbers that bring it about by the least step of `FAR` with which any does, the longest band first, of a
    driver the least spread of its level.
    """

    base: Mapping[str, float | None]
    rows: tuple[Sensitivity, ...]
    loaded: bool = False
    hands_over: tuple[Sensitivity, ...] = ()

    @property
    def handed_over(self) -> str:
        """The figure that tells whether the motion is handed over."""
        return "loaded_" * self.loaded + "handed_over_hz"

    def strongest(self, figure: str) -> list[Sensitivity]:
        """What moves a figure, either way, by how far a tenth of it does; no diameter and nothing of the motor."""
        known = [row for row in self.rows if row.change.get(figure) and not row.lever.of_the_system]
        return sorted(known, key=lambda row: -abs(row.change[figure] or 0.0))
