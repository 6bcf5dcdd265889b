"""Designs side by side in blocks: who wins on what, every figure, modes followed, how far to trust it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from diaphragm_fem.analysis.figures.definitions import BAND_TO
from diaphragm_fem.analysis.modes.pairing import LEAST_LIKENESS
from diaphragm_fem.answer.better import times_told
from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.answer.comparison.mode_tracks import SURE_LIKENESS
from diaphragm_fem.answer.driver.figures import IN_BAFFLE, OF_TWO, OWN, SHARED
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.library.evidence import MARK
from diaphragm_fem.report.blocks.blocks import Block, Heading, Notices, Picture, Table, Words, noticed
from diaphragm_fem.report.terminal import FIRST_LINES, block_lines
from diaphragm_fem.report.words.differences import (
    CONTESTS,
    CONTESTS_OF_DRIVERS,
    design_names,
    names_in_words,
    show_difference,
    show_value,
    stepped,
    who_wins,
)
from diaphragm_fem.report.words.figures import HEADLINES
from diaphragm_fem.report.words.heard import null_told
from diaphragm_fem.report.words.measured import nearest_words, nearness_table
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.trust import cautions, doubt_blocks, loudness
from diaphragm_fem.report.words.words import NONE, join_words, one, printed, show_hz

DOUBTFUL = f"{MARK} a number without a published source moves it by more than 2 %."
MAIN_FIGURES = (
    "fundamental_hz", "departure_hz", "break_up_mode_hz", "even_band_octaves", "shelf_band_octaves", "moving_mass_kg",
    "low_area_m2", "area_per_mass_m2_per_kg", "median_level_db", "level_spread_db", "plays_octaves", *SHARED,
)  # fmt: skip
FOLLOWED_AGAINST = "against those of the next design toward the baseline"
HOW_FOLLOWED = (
    f"Shapes are laid {FOLLOWED_AGAINST}, by the modal assurance criterion (MAC) of their radial and axial motion, "
    "weighted by area, at equal fractions of the arc length of each zone. A cell holds the mode's number in that "
    f"design and its frequency. A MAC below {SURE_LIKENESS:g} is written beside it; below {LEAST_LIKENESS:g} the mode "
    "counts as lost (–)."
)
MEASURED = "Measured against each design"
FEW = 3  # figures on the first screen
IN_ORDER = "Designs are numbered in the order of comparison.md."
MOST_ACROSS = 4  # designs side by side; more go down the page
NULLS = ("worst_null_db", "worst_null_hz")
MOST_TRACKS = 12  # of each order on the page; the file has all


def comparison_title(comparison: Comparison) -> str:
    names = design_names(comparison)
    return " against ".join(names) if len(names) == 2 else "Designs side by side"


def varied(comparison: Comparison) -> str:
    """The keys whose values the names of the designs tell, by their last words alone; "" for designs of files."""
    keys = next((one.varied for one in comparison.designs if one.varied), ())
    order = " in the order of the names" if len(keys) > 1 else ""
    return f"Varied{order}: {join_words(keys)}." if keys else ""


def comparison_blocks(comparison: Comparison, pictures: Sequence[Picture] = ()) -> list[Block]:
    """The page as blocks: in words, the table, the sheets, the modes, and how far to trust it."""
    lines = (*who_wins(comparison), varied(comparison), *comparison_verdict(comparison))
    blocks: list[Block] = [Words(line) for line in lines if line]
    blocks += noticed("Caution", dangers_of_all(comparison))
    if comparison.rows:
        blocks += [Heading("Figures"), figure_table(comparison)]
        missing = missing_table(comparison)
        if missing.rows:
            blocks += [Heading("Figures that do not exist", 3), missing]
    if (near := measured_beside(comparison))[0]:
        blocks += [Heading(MEASURED), near[1], *(Words(line) for line in near[0])]
    blocks += pictures
    blocks += [Heading("Modes followed by their shape"), Words(HOW_FOLLOWED)]
    for m, tracks in comparison.tracks.items():
        if tracks:
            blocks += [Heading(f"Modes followed, m = {m}", 3), track_table(comparison, m)]
        if len(tracks) > MOST_TRACKS:
            more = one(len(tracks) - MOST_TRACKS, "further mode")
            blocks.append(Words(f"{more} of this order in modes_followed.csv."))
    blocks += doubt_blocks([printed(line) for line in comparison.doubts])
    if comparison.remarks:
        blocks += [Heading("Warnings"), Notices("Warning", [printed(line) for line in comparison.remarks])]
    return blocks


def measured_beside(comparison: Comparison) -> tuple[list[str], Table]:
    """Which design lies nearest to each measured curve in words, and a table of all; no words where none was given."""
    measured = [answer.measured for answer in comparison.evaluations]
    return nearest_words(names_in_words(comparison), measured), nearness_table(design_names(comparison), measured)


def dangers_of_all(comparison: Comparison, *, loudest: bool = False) -> list[str]:
    """Words on safety: of the materials of all designs, each once, and of each driver's levels, the loudest first, for
    a page shows two; or of that alone."""
    answers = list(zip(design_names(comparison), comparison.evaluations, strict=True))
    told = dict.fromkeys(line for _, answer in answers for line in cautions(answer))
    falling = sorted(filter(lambda one: loudness(one[1]), answers), key=lambda one: -_peak_db(one[1]))
    loud = [f"{name}: {words}." for name, answer in falling for words in loudness(answer)]
    return [*told, *(loud[:1] if loudest else loud)]


def _peak_db(answer: Answer) -> float:
    from diaphragm_fem.answer.driver.cautions import loudest_db  # loaded for a driver alone

    return -np.inf if answer.driver is None else loudest_db(answer.driver.curve, answer.driver.sections)


def comparison_verdict(comparison: Comparison) -> list[str]:
    """A line per design other than the baseline: what changes, and which modes change places."""
    names = names_in_words(comparison)
    lines = []
    for d, name in enumerate(names):
        if d == comparison.baseline:
            continue
        changes = []
        for row in known_rows(comparison):
            if row.name in MAIN_FIGURES and (words := show_difference(row, d)):
                changes.append(f"{naming(row.name).words} {words}")
        text = ", ".join(changes) if changes else "no figure to compare"
        lines.append(f"{name} against {names[comparison.baseline]}: {text}. {_places(comparison, d)}".strip())
    return lines


def _places(comparison: Comparison, design: int) -> str:
    """Which modes a design has in another order than the baseline."""
    moved, base = [], comparison.baseline
    for tracks in comparison.tracks.values():
        places = [(track, track.index[base], track.index[design]) for track in tracks]
        both = [(track, a, b) for track, a, b in places if a is not None and b is not None]
        moved += [(track, a, b) for track, a, b in both if any((x - a) * (y - b) < 0 for _, x, y in both)]
    if not moved:
        return "The modes that both have come in the same order."
    lowest, was, now = min(moved, key=lambda found: found[0].frequency_hz[base] or np.inf)
    frequency = show_hz(lowest.frequency_hz[base])
    return (
        f"{one(len(moved), 'mode changes', 'modes change')} places with others, the lowest at {frequency} in the "
        f"baseline (m = {lowest.order}, number {was + 1}, here number {now + 1}: {lowest.label})."
    )


def figure_table(comparison: Comparison, rows: Sequence[FigureRow] | None = None) -> Table:
    """Figures down, designs across (turned about for more than four): the value, its mark of doubt, its difference to
    the baseline; of all that some design has (`known_rows`), or of some rows."""
    rows = known_rows(comparison) if rows is None else rows
    designs = [
        f"{name} (baseline)" if d == comparison.baseline else name for d, name in enumerate(design_names(comparison))
    ]
    words = [row_words(comparison, row) for row in rows]
    cells = [[_cell(row, d) for d in range(len(designs))] for row in rows]
    if len(designs) > MOST_ACROSS:
        turned = zip(designs, zip(*cells, strict=True), strict=True)
        return Table(["design", *words], [[name, *column] for name, column in turned])
    return Table(["figure", *designs], [[word, *line] for word, line in zip(words, cells, strict=True)])


def known_rows(comparison: Comparison, names: Sequence[str] | None = None) -> list[FigureRow]:
    """The figures that some design has, of shelves where one has steps, those of `names` in their order: of drivers
    what they do with everything on, then what they do in vacuum; in vacuum first where some design is no driver, which
    only that compares with.
    """
    rows = [row for row in comparison.rows if any(show_value(row, d) != NONE for d in range(len(row.values)))]
    rows = [row for row in rows if stepped(comparison) or not row.name.removeprefix("loaded_").startswith("shelf")]
    if names is not None:
        rows = [row for name in names for row in rows if row.name == name]
    if len({answer.driver is None for answer in comparison.evaluations}) > 1:
        return sorted(rows, key=lambda row: row.name.startswith("loaded_") or row.name in OF_DRIVERS)
    return sorted(rows, key=lambda row: (_of_vacuum(comparison, row.name), row.name not in OF_DRIVERS))


def row_words(comparison: Comparison, row: FigureRow) -> str:
    """A figure in words, which say "in vacuum" where it has a twin with everything on."""
    return naming(row.name).words + (", in vacuum" if _of_vacuum(comparison, row.name) else "")


def _of_vacuum(comparison: Comparison, name: str) -> bool:
    """Whether a figure has a twin with everything on, and is that without."""
    return any(row.name == f"loaded_{name}" for row in comparison.rows)


def _cell(row: FigureRow, d: int) -> str:
    text = show_value(row, d)
    change = "" if d == row.baseline or text == NONE else show_difference(row, d)
    return f"{text} ({change})" if change else text


OF_DRIVERS = (*SHARED, *(name for name in OWN if name != BAND_TO), *IN_BAFFLE, *OF_TWO)
HEADLINES_OF_DRIVERS = (
    *OF_DRIVERS, "loaded_fundamental_hz", "loaded_low_area_m2", "loaded_decoupling_hz", "loaded_departure_hz",
    "loaded_even_band_octaves", *HEADLINES,
)  # fmt: skip
"""Without where a level's band ends, for that is no merit, and levels are told over the band that all share."""


def brief_blocks(comparison: Comparison, width: int) -> list[Block]:
    """What a designer reads first, on 24 lines of 80 letters with the line on what was written: who wins on what, as
    many of the main figures as there is room for, the most decisive first, and what may harm. Where names leave room
    for fewer than FEW figures numbers stand for them, with the names once, or without where that makes more room."""
    enough = min(FEW, len(decisive_rows(comparison)))
    told = {k: f"design {k}" for k in range(1, len(comparison.designs) + 1)}
    short = tuple(replace(one, name=name) for one, name in zip(comparison.designs, told.values(), strict=True))
    numbered = replace(comparison, designs=short)
    listed = "; ".join(f"{k} {name}" for k, name in zip(told, design_names(comparison), strict=True))
    best, most = _brief(comparison, width)
    for lead in (f"By number: {listed}.", IN_ORDER):
        if most >= enough:
            break
        found, count = _brief(numbered, width, lead)
        best, most = (found, count) if count > most else (best, most)
    return best


def _brief(comparison: Comparison, width: int, lead: str = "") -> tuple[list[Block], int]:
    """The first screen, and of how many figures it has room."""
    words = " ".join(filter(None, [lead, *who_wins(comparison)]))
    before: list[Block] = [Words(words)] if words else []
    rows = decisive_rows(comparison)
    harm = noticed("Caution", dangers_of_all(comparison, loudest=True))
    for count in range(len(rows), 0, -1):
        shown = rows[:count]
        blocks = [*before, figure_table(comparison, shown), *_notes(comparison, shown), *harm]
        if len(block_lines(blocks, width)) <= FIRST_LINES:
            return blocks, count
    return [*before, *_notes(comparison, []), *harm], 0


def decisive_rows(comparison: Comparison) -> list[FigureRow]:
    """The main figures by how many times what can be told some design is apart from the baseline, the farthest first:
    those that are won before the others, what only one side has last; without those in which none is apart, and without
    worst nulls that all lie far above what plays (`null_told`)."""
    figures = [e.driver.figures for e in comparison.evaluations if e.driver is not None]
    heard = any(one.null is not None and null_told(one) == one.null for one in figures)
    rows = [row for row in known_rows(comparison, HEADLINES_OF_DRIVERS) if heard or row.name not in NULLS]
    apart = {row.name: _times_apart(row) for row in rows}
    decides = CONTESTS_OF_DRIVERS if len(figures) > 1 else CONTESTS

    def place(row: FigureRow) -> tuple[bool, bool, float]:
        return row.name not in decides, apart[row.name] == np.inf, -apart[row.name]

    return sorted((row for row in rows if apart[row.name] > 1), key=place)


def _times_apart(row: FigureRow) -> float:
    values = row.judged or row.values
    if row.apart:
        return 0.0
    return max(times_told(row.name, value, values[row.baseline]) for value in values)


def _notes(comparison: Comparison, shown: Sequence[FigureRow]) -> list[Block]:
    """What marks mean, how many figures and warnings there are besides, and which design lies nearest to a measured
    curve."""
    notes = [DOUBTFUL] if any(any(row.doubtful) for row in shown) else []
    more = len(known_rows(comparison)) - len(shown)
    counted = [one(more, "further figure" if shown else "figure")] if more else []
    counted += [one(len(comparison.remarks), "warning")] if comparison.remarks else []
    notes += [f"{join_words(counted)} by --all and in comparison.md."] if counted else []
    measured = [Words(line) for line in measured_beside(comparison)[0]]
    return [*measured, *([Words(" ".join(notes))] if notes else [])]


def missing_table(comparison: Comparison) -> Table:
    """Why figures are missing: each reason once, with the figures and the designs that it holds for."""
    figures: dict[tuple[str, str], list[str]] = {}
    for row in comparison.rows:
        for name, reason in zip(design_names(comparison), row.reasons, strict=True):
            if reason:
                figures.setdefault((name, reason), []).append(naming(row.name).words)
    designs: dict[tuple[str, str], list[str]] = {}
    for (name, reason), missing in figures.items():
        designs.setdefault((", ".join(missing), reason), []).append(name)
    rows = [[", ".join(names), missing, reason] for (missing, reason), names in designs.items()]
    return Table(["design", "has no", "because"], rows, numbers_from=3)


def track_table(comparison: Comparison, m: int) -> Table:
    """Modes down, designs across: number in the design's own list, frequency, and likeness where it is not sure."""
    head = ["what moves", *design_names(comparison)]
    rows = []
    for track in comparison.tracks[m][:MOST_TRACKS]:
        cells = [track.label]
        for place, frequency, likeness in zip(track.index, track.frequency_hz, track.likeness, strict=True):
            if place is None or frequency is None:
                cells.append("–")
                continue
            doubt = f" (MAC {likeness:.2f})" if likeness is not None and likeness < SURE_LIKENESS else ""
            cells.append(f"{place + 1}: {show_hz(frequency, 4)}{doubt}")
        rows.append(cells)
    return Table(head, rows)
