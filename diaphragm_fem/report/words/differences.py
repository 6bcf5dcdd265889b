"""Differences between designs in the words and units of the trade, and which design wins on what."""

from collections.abc import Mapping
from math import log10

from diaphragm_fem.answer.better import least_words
from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.comparison.figure_rows import FigureRow, level_places, shared_band
from diaphragm_fem.design.library.evidence import MARK
from diaphragm_fem.report.words.figures import is_no_extreme, value_text
from diaphragm_fem.report.words.words import NONE, join_words, printed, show_db, show_hz, signed

MANY_TIMES = 10.0  # of the baseline: from there on a percentage says nothing


def design_names(comparison: Comparison) -> list[str]:
    """Names as printed: "thickness 60 µm"."""
    return [printed(name) for name in comparison.names]


def names_in_words(comparison: Comparison) -> list[str]:
    """The same within a sentence: with a comma in quotes, or nobody could tell where one ends."""
    return [f"'{name}'" if ", " in name else name for name in design_names(comparison)]


def show_value(row: FigureRow, d: int) -> str:
    """ "5.92 kHz*", "≥ 5.6 octaves", "none": a design's value with its mark of doubt."""
    text = value_text(row.name, row.values[d], at_least=row.at_least[d])
    return text if text == NONE else text + (MARK if row.doubtful[d] else "")


def show_difference(row: FigureRow, design: int) -> str:
    """ "+5.9 %", "66 times"; octaves in octaves, levels in dB, area over mass in dB too (what it does to the
    response); "" where there is none."""
    difference, relative, base = row.differences[design], row.relative[design], row.values[row.baseline]
    if difference is None or base is None or is_no_extreme(row.name, base):
        return ""
    if row.name.endswith("_octaves"):
        return f"{signed(difference, 2)} oct"
    if row.name.endswith("_db"):
        return show_db(difference)
    if relative is None:
        return ""
    if row.name == "area_per_mass_m2_per_kg":
        return show_db(20 * log10(1 + relative))
    if relative >= MANY_TIMES - 1:
        return f"{1 + relative:.0f} times"
    return f"{signed(100 * relative, 1 if abs(relative) < 1 else 0)} %"


def ratio_of(row: FigureRow, design: int) -> float | None:
    """A figure over the baseline's; of a level the ratio of amplitudes that it stands for. None where there is none."""
    difference, relative = row.differences[design], row.relative[design]
    if difference is None:
        return None
    if row.name.partition(":")[0].endswith("_db"):
        return float(10 ** (difference / 20))
    return None if relative is None else 1 + relative


MOST_NAMED = 3  # designs in a row
CONTESTS: Mapping[str, str] = {
    "shelf_band_octaves": "widest shelf band",
    "even_band_octaves": "widest even band",
    "departure_hz": "latest departure",
    "break_up_mode_hz": "highest break-up mode",
    "deepest_hole_db": "shallowest hole",
    "highest_peak_db": "lowest peak",
    "area_per_mass_m2_per_kg": "strongest response per newton",
    "moving_mass_kg": "least mass",
}
CONTESTS_OF_DRIVERS: Mapping[str, str] = {
    "shared_level_db": "highest level",
    "shared_spread_db": "least spread of the level",
    "loaded_even_band_octaves": "widest even band",
    "plays_octaves": "plays widest",
    "shared_null_db": "shallowest null within the shared band",
    "loaded_departure_hz": "latest departure",
    "shared_efficiency": "highest efficiency",
    "excursion_m": "least excursion",
    "break_up_mode_hz": "highest break-up mode in vacuum",
}


def winners(comparison: Comparison) -> str:
    """Which design wins on what: "60 µm wins on: least mass, lowest peak. as drawn wins on: highest break-up mode."

    Drivers are told by what they do with everything on; ties are told as ties.
    """
    names = names_in_words(comparison)
    won: dict[frozenset[int], list[str]] = {}
    ties: list[str] = []
    drivers = [name for name, e in zip(names, comparison.evaluations, strict=True) if e.driver is not None]
    loaded = len(drivers) > 1
    if (holding := _hand_over(comparison, "loaded_" * loaded)) is not None:
        won[holding] = ["a hand-over that holds"]
    for figure, words in (CONTESTS_OF_DRIVERS if loaded else CONTESTS).items():
        row = _row(comparison, figure)
        if row is None or (figure.startswith("shelf") and not stepped(comparison)):
            continue
        if all(show_value(row, d) == NONE for d in range(len(names))):  # nobody has a peak or hole
            continue
        if best := row.winners:
            won.setdefault(frozenset(best), []).append(words)
            ties += [figure] if len(best) > 1 else []
    told = []
    for winning, on in sorted(won.items(), key=lambda pair: len(pair[0])):
        who = "All" if len(winning) == len(names) > 2 else join_words([names[d] for d in sorted(winning)])
        others = [name for d, name in enumerate(names) if d not in winning]
        if len(winning) > MOST_NAMED and others:
            few = len(others) <= MOST_NAMED
            who = f"All but {join_words(others)}" if few else f"{len(winning)} of {len(names)}"
        told.append(f"{who} {'wins' if len(winning) == 1 else 'tie'} on: {', '.join(on)}.")
    if told and loaded and len(drivers) < len(names):
        told.append(f"Only {join_words(drivers)} are drivers: no other can win but on what is told in vacuum.")
    return " ".join([*told, f"(A tie: within {least_words(ties)}.)"] if ties else told)


def who_wins(comparison: Comparison) -> list[str]:
    """Which design wins on what, and over which band levels are compared, each where there is something to tell."""
    return [words for words in (winners(comparison), levels_over(comparison)) if words]


def levels_over(comparison: Comparison) -> str:
    """Over which band the levels of drivers are compared; "" for fewer than two."""
    band = shared_band(comparison.evaluations)
    if band is None:
        return ""
    if not band[1] > band[0]:
        return "The drivers have no band in common, so their levels are not compared."
    ends = " to ".join(map(show_hz, band))
    places = level_places(comparison.evaluations)
    told = f"Level, its spread and efficiency are compared over the band that all drivers have, {ends}."
    named = zip(names_in_words(comparison), comparison.evaluations, strict=True)
    if two := [name for name, answer in named if answer.driver is not None and answer.driver.sections is not None]:
        told += f" Of the two sections of {join_words(two)} the first alone is compared there, without its filter."
    if len(places) > 1:
        told += f" It stands {join_words(places)}: whose is the highest is not told, nor by how much."
    return told


def _row(comparison: Comparison, figure: str) -> FigureRow | None:
    return next((row for row in comparison.rows if row.name == figure), None)


def _hand_over(comparison: Comparison, prefix: str) -> frozenset[int] | None:
    """Whose steps hand the motion over where all designs have steps that let go, and not all do."""
    lets_go, over = (_row(comparison, f"{prefix}{name}_hz") for name in ("decoupling", "handed_over"))
    if lets_go is None or over is None or None in lets_go.values:
        return None
    holding = frozenset(d for d, value in enumerate(over.values) if value is not None)
    return holding if 0 < len(holding) < len(over.values) else None


def stepped(comparison: Comparison) -> bool:
    """Whether some design has a step that lets go: of others a shelf band is none to be judged by."""
    row = _row(comparison, "decoupling_hz")
    return row is not None and any(row.values)
