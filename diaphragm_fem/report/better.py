"""Which way a figure is better: for what wins, and for tints that show the better side and not the larger one."""

from __future__ import annotations

from collections.abc import Mapping

BETTER: Mapping[str, int] = {
    "departure_hz": 1, "break_up_mode_hz": 1, "even_band_octaves": 1, "shelf_band_octaves": 1, "shelf_2_octaves": 1,
    "highest_peak_db": -1, "deepest_hole_db": 1, "break_up_peak_db": -1, "ripple_db": -1, "moving_mass_kg": -1,
    "area_per_mass_m2_per_kg": 1, "efficiency": 1, "level_spread_db": -1,
    "median_level_db": 1, "worst_null_db": -1, "excursion_m": -1,
}  # fmt: skip
"""+1 where more is better, -1 where less is; the others, such as a resonance, are matters of what is wanted."""


def better(figure: str) -> int:
    """+1, -1, or 0 where neither side of a figure is better; loaded figures and those of one zone as the figure itself.

    >>> better("loaded_departure_hz:outer driven zone"), better("moving_mass_kg"), better("fundamental_hz")
    (1, -1, 0)
    """
    return BETTER.get(figure.partition(":")[0].removeprefix("loaded_"), 0)
