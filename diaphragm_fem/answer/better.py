"""Which way a figure is better, and from what difference on two values of it are told apart: for what wins, for ties,
and for tints that show the better side and not the larger one."""

from collections.abc import Iterable, Mapping, Sequence
from math import inf, log10

from diaphragm_fem.analysis.figures.definitions import OVER_A_BAND, difference

A_PERCENT = 1.0  # of a frequency, also at an end of a band, an area or a mass: an area curve may be off by as much
OF_A_BAND, WITH_AIR = 0.03, 0.3  # dB, of a level over a band: mesh and shell leave 0.02, a thin chamber 0.26
OF_A_POINT = 1.0  # dB, of one peak, hole or null: with air up to 0.9 off, and less is not heard (from memory: Zwicker)
OF_A_SHARE = 0.01
POINTS = (
    "highest_peak_db", "deepest_hole_db", "break_up_peak_db", "ripple_db", "worst_null_db", "shared_null_db",
    "sum_highest_db", "sum_lowest_db", "sum_lost_db", "sum_turned_gain_db",
)  # fmt: skip
BETTER: Mapping[str, int] = {
    "departure_hz": 1, "break_up_mode_hz": 1, "even_band_octaves": 1, "shelf_band_octaves": 1, "shelf_2_octaves": 1,
    "highest_peak_db": -1, "deepest_hole_db": 1, "break_up_peak_db": -1, "ripple_db": -1, "moving_mass_kg": -1,
    "area_per_mass_m2_per_kg": 1, "efficiency": 1, "level_spread_db": -1, "plays_octaves": 1, "heard_octaves": 1,
    "median_level_db": 1, "worst_null_db": -1, "excursion_m": -1, "shared_level_db": 1, "shared_spread_db": -1,
    "shared_null_db": -1, "shared_efficiency": 1, "sum_lost_db": -1, "sum_lowest_db": 1,
}  # fmt: skip
"""+1 where more is better, -1 where less is; the others, such as a resonance, are matters of what is wanted."""


def better(figure: str) -> int:
    """+1, -1, or 0 where neither side of a figure is better; loaded figures, those of a sum and of one zone as itself.

    >>> better("loaded_departure_hz:outer driven zone"), better("moving_mass_kg"), better("fundamental_hz")
    (1, -1, 0)
    """
    stem = figure.partition(":")[0]
    return BETTER.get(stem, BETTER.get(_plain(stem), 0))


def _plain(stem: str) -> str:
    """A figure's name without what it is a twin of."""
    return stem.removeprefix("loaded_").removeprefix("sum_")


def least_told(figure: str) -> tuple[float, str]:
    """How far two values of a figure must be apart to be told apart, by what figures are off, and in what unit: "%",
    "dB", or "" for shares.

    >>> least_told("median_level_db:use"), least_told("ripple_rms_db:use"), least_told("loaded_departure_hz")
    ((0.3, 'dB'), (0.03, 'dB'), (1.0, '%'))
    """
    stem = figure.partition(":")[0]
    plain = _plain(stem)
    if "_db" in stem or plain.endswith("efficiency"):
        with_air = plain != stem or plain in OVER_A_BAND or stem.startswith(("shared_", "directivity"))
        return OF_A_POINT if {plain, stem} & set(POINTS) else WITH_AIR if with_air else OF_A_BAND, "dB"
    return (OF_A_SHARE, "") if stem.endswith("share") or stem.startswith("share") else (A_PERCENT, "%")


def times_told(figure: str, one: float | None, other: float | None) -> float:
    """How many times what can be told two values of a figure are apart: up to 1 they are as good as each other; without
    end where only one of them exists.

    >>> round(times_told("departure_hz", 1020.0, 1000.0), 6), times_told("departure_hz", None, 1000.0)
    (2.0, inf)
    >>> round(times_told("shared_efficiency", 0.00265, 0.00309), 1)  # 0.67 dB of power
    2.2
    """
    if one is None or other is None:
        return 0.0 if one is other else inf
    least, unit = least_told(figure)
    if unit == "%":
        return 100 * difference(figure, one, other) / least
    if figure.partition(":")[0].endswith("efficiency"):  # a level of power
        one, other = (10 * log10(max(value, 1e-30)) for value in (one, other))
    return abs(one - other) / least


def least_words(figures: Iterable[str], off: Mapping[str, float] | None = None) -> str:
    """What cannot be told apart of some figures, known to be `off` by so many times that: "1 %, 0.1 dB"."""
    times = {figure: max(1.0, (off or {}).get(figure, 0.0)) for figure in figures}
    found = {(times[figure] * least, unit) for figure in times for least, unit in [least_told(figure)]}
    return ", ".join(f"{least:.2g} {unit}".strip() for least, unit in sorted(found, key=lambda one: one[1] != "%"))


def leaders(figure: str, values: Sequence[float | None], at_least: Sequence[bool]) -> set[int]:
    """Places of the values that nothing is better than by what can be told apart, all of them in a tie. None where
    fewer than two are known, neither side is better, or a band that may go on beyond the range (`at_least`) decides.

    >>> leaders("worst_null_db", (45.0, 44.1), (False,) * 2)
    {0, 1}
    """
    known, side = {k: value for k, value in enumerate(values) if value is not None}, better(figure)
    if len(known) < 2 or not side:
        return set()
    best = max(known.values(), key=lambda value: side * value)
    found = {k for k, value in known.items() if times_told(figure, value, best) <= 1}
    return found if not any(at_least[k] for k in known.keys() - found or known) else set()
