"""Which design of a comparison wins on what, and over which band drivers are compared."""

from collections.abc import Mapping

from diaphragm_fem.answer.better import least_words
from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.comparison.figure_rows import FigureRow, level_places, shared_band
from diaphragm_fem.report.words.differences import design_names, show_value
from diaphragm_fem.report.words.words import NONE, join_words, show_hz

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
    "shared_null_db": "shallowest null within the shared band",
    "loaded_departure_hz": "latest departure",
    "efficiency": "highest efficiency",
    "excursion_m": "least excursion",
    "break_up_mode_hz": "highest break-up mode in vacuum",
}


def winners(comparison: Comparison) -> str:
    """Which design wins on what: "60 µm wins on: least mass, lowest peak. As drawn wins on: highest break-up mode."

    Drivers are told by what they do with everything on; ties are told as ties.
    """
    names = design_names(comparison)
    won: dict[frozenset[int], list[str]] = {}
    ties: list[str] = []
    loaded = sum(answer.driver is not None for answer in comparison.evaluations) > 1
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
        told.append(f"{who} {'wins' if len(winning) == 1 else 'tie'} on: {', '.join(on)}.")
    return " ".join([*told, f"(A tie: within {least_words(ties)}.)"] if ties else told)


def levels_over(comparison: Comparison) -> str:
    """Over which band the levels of drivers are compared; "" for fewer than two."""
    band = shared_band(comparison.evaluations)
    if band is None:
        return ""
    if not band[1] > band[0]:
        return "The drivers have no band in common, so their levels are not compared."
    ends = " to ".join(map(show_hz, band))
    places = level_places(comparison.evaluations)
    apart = (
        f" It stands {join_words(places)}: whose is the highest is not told, nor by how much."
        if len(places) > 1
        else ""
    )
    return f"Level and its spread are compared over the band that all drivers have, {ends}.{apart}"


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
