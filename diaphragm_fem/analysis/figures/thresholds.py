"""How near a figure that hangs on a threshold stands to it: what would take it away, and by how much it is cleared."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.figures.break_up_mode import HALF
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.zones import DEPARTURE_DB, QUIET_SHARE

_ON_HAND_OVER = ("handed_over_hz", "high_area_m2", "shelf_2_octaves", "shelf_2_db", "shelf_band_octaves")
_FIRST_THAT_PASSES = ("departure_hz", "break_up_mode_hz", "decoupling_hz")


@dataclass(frozen=True)
class Threshold:
    """The nearest thing that nearly passed a figure's threshold: zone, frequency in Hz, its value and the threshold's,
    in the unit of both ("dB", or "" for a share)."""

    figure: str
    zone: str
    frequency_hz: float
    value: float
    threshold: float
    unit: str

    @property
    def clears_by(self) -> float:
        """Zero is what a share falls to, the others are what sizes rise to."""
        return self.threshold - self.value if self.threshold else self.value


def threshold_of(figures: Figures, name: str, harmless: Callable[[float], bool] | None = None) -> Threshold | None:
    """What a figure's place may be owed to; None where nothing came near its threshold, or it hangs on none. harmless:
    whether the figure may come to a frequency in Hz, of those that are the first frequency that passes."""
    stem, _, part = name.partition(":")
    leaves, lets_go = (
        np.inf if part or first is None else first  # what comes after the headline moves nothing of it
        for first in (figures.departure_hz, figures.decoupling_hz)
    )
    departures = [(one.zone, [x for x in one.near_misses if x.frequency_hz < leaves]) for one in figures.departures]
    decouplings = [(step.name, [x for x in step.near_decoupling if x.frequency_hz < lets_go]) for step in figures.steps]
    steps = [(step.name, step.near_misses) for step in figures.steps]
    below = tuple(miss for miss in figures.break_up_mode.near_misses if miss.value < HALF)
    found = [
        Threshold(name, miss.zone, miss.frequency_hz, abs(miss.value), threshold, unit)
        for hang_on_it, parts, threshold, unit in (
            (("departure_hz", "shelf_2_octaves", "shelf_2_db"), departures, DEPARTURE_DB, "dB"),
            (_ON_HAND_OVER, steps, QUIET_SHARE, ""),
            (("decoupling_hz", "shelf_1_db"), decouplings, 0.0, ""),
            (("break_up_mode_hz",), [(part, below)], HALF, ""),
        )
        if stem in hang_on_it
        for own, misses in parts
        if not part or own == part
        for miss in misses
        if stem not in _FIRST_THAT_PASSES or harmless is None or not harmless(miss.frequency_hz)
    ]
    return min(found, key=lambda one: one.clears_by / (one.threshold or 1.0), default=None)
