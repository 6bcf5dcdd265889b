"""Which way a figure is better: for what wins, and for tints that show the better side and not the larger one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diaphragm_fem.analysis.figures.definitions import difference

TOLD_APART = 0.01  # relative: an area curve may be off by as much, so a figure that leads by less has not won
TOLD_APART_DB = 1.0  # of a level: about the least step that is heard (from memory: Zwicker, Fastl, Psychoacoustics)
A_TIE = "(A tie: within 1 %, a level within 1 dB.)"
BETTER: Mapping[str, int] = {
    "departure_hz": 1, "break_up_mode_hz": 1, "even_band_octaves": 1, "shelf_band_octaves": 1, "shelf_2_octaves": 1,
    "highest_peak_db": -1, "deepest_hole_db": 1, "break_up_peak_db": -1, "ripple_db": -1, "moving_mass_kg": -1,
    "area_per_mass_m2_per_kg": 1, "efficiency": 1, "level_spread_db": -1,
    "median_level_db": 1, "worst_null_db": -1, "excursion_m": -1, "shared_level_db": 1, "shared_spread_db": -1,
    "shared_null_db": -1,
}  # fmt: skip
"""+1 where more is better, -1 where less is; the others, such as a resonance, are matters of what is wanted."""


def better(figure: str) -> int:
    """+1, -1, or 0 where neither side of a figure is better; loaded figures and those of one zone as the figure itself.

    >>> better("loaded_departure_hz:outer driven zone"), better("moving_mass_kg"), better("fundamental_hz")
    (1, -1, 0)
    """
    return BETTER.get(figure.partition(":")[0].removeprefix("loaded_"), 0)


def best_of(figure: str, values: Sequence[float | None], at_least: Sequence[bool]) -> set[int]:
    """Places of the values that win a figure; none where all are alike.

    >>> best_of("moving_mass_kg", (2e-3, 1.995e-3, 3e-3), (False,) * 3)
    {0, 1}
    """
    found = leaders(figure, values, at_least)
    return found if len(found) < sum(value is not None for value in values) else set()


def leaders(figure: str, values: Sequence[float | None], at_least: Sequence[bool]) -> set[int]:
    """Places of the values that nothing is better than by what can be told apart, all of them in a tie. None where
    fewer than two are known, neither side is better, or a band that may go on beyond the range (`at_least`) decides;
    nor of the departure where a design has none, since one that follows the coil all the way is not beaten.

    >>> leaders("worst_null_db", (45.0, 44.1), (False,) * 2)
    {0, 1}
    """
    known, side = {k: value for k, value in enumerate(values) if value is not None}, better(figure)
    never = len(known) < len(values) and figure.partition(":")[0].endswith("departure_hz")
    if len(known) < 2 or not side or never:
        return set()
    best = max(known.values(), key=lambda value: side * value)
    found = {k for k, value in known.items() if _alike(figure, value, best)}
    return found if not any(at_least[k] for k in known.keys() - found or known) else set()


def _alike(figure: str, one: float, other: float) -> bool:
    if figure.partition(":")[0].endswith("_db"):
        return abs(one - other) <= TOLD_APART_DB
    return difference(figure, one, other) <= TOLD_APART
