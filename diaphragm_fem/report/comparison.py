"""The page of a comparison and of a grid of walls: tables, sheets, and files to work on with."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.break_up_mode import SOUGHT
from diaphragm_fem.answer.comparison import Comparison, FigureRow
from diaphragm_fem.answer.mode_tracks import LEAST_LIKENESS, SURE_LIKENESS, Follow, Track
from diaphragm_fem.answer.wall_grid import WallGrid
from diaphragm_fem.design.evidence import MARK, MARK_LEGEND, doubtful_numbers
from diaphragm_fem.report.blocks import Block, Heading, Picture, Table, Words, write_page
from diaphragm_fem.report.comparison_files import curve_cells, figure_cells, mode_cells, number, write_csv
from diaphragm_fem.report.comparison_words import design_names, show_difference, show_micro
from diaphragm_fem.report.figure_words import HEADLINES
from diaphragm_fem.report.study_words import naming
from diaphragm_fem.report.words import digits, one, show_bound, show_hz

MAIN_FIGURES = (
    "fundamental_hz", "departure_hz", "break_up_mode_hz", "even_band_octaves", "shelf_band_octaves", "moving_mass_kg",
    "low_area_m2", "area_per_mass_m2_per_kg",
)  # fmt: skip
MOST_ACROSS = 4  # designs side by side; more go down the page
MOST_TRACKS = 12  # of each order on the page; the file has all


def write_comparison(comparison: Comparison, folder: str | Path, *, pdf: bool = False) -> list[Path]:
    """Write page, sheets and tables into a folder; returns the paths, the page first."""
    from diaphragm_fem.report.figures_comparison import curves_figure, profiles_figure, values_figure
    from diaphragm_fem.report.figures_tracks import modes_figure, orders_figure
    from diaphragm_fem.report.style import save_sheet

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    makers = {
        "figures": (values_figure, "Figures, with differences to the baseline"),
        "area_and_response": (curves_figure, "Effective area and volume velocity per newton"),
        "profiles": (profiles_figure, "Profiles laid over each other"),
        "modes_followed": (modes_figure, "Axisymmetric modes followed through the designs"),
        "modes_of_higher_order": (orders_figure, "Rocking and petal modes followed through the designs"),
    }
    pictures, paths = [], []
    for name, (make, words) in makers.items():
        sheet = make(comparison)
        if sheet is None:
            continue
        paths.append(save_sheet(sheet, folder / f"{name}.png"))
        if pdf:
            paths.append(save_sheet(sheet, folder / f"{name}.pdf"))
        pictures.append(Picture(f"{name}.png", words))
    paths.append(write_csv(folder / "figures.csv", *figure_cells(comparison)))
    paths.append(write_csv(folder / "modes_followed.csv", *mode_cells(comparison)))
    paths.append(write_csv(folder / "area_and_response.csv", *curve_cells(comparison)))
    title = " against ".join(design_names(comparison)) if len(comparison.designs) == 2 else "Designs side by side"
    return [*write_page(folder, "comparison", title, comparison_blocks(comparison, pictures)), *paths]


def comparison_blocks(comparison: Comparison, pictures: Sequence[Picture] = ()) -> list[Block]:
    """The page as blocks: in words, the table, the sheets, the modes, and how far to trust it."""
    blocks: list[Block] = [Words(line) for line in (winners(comparison), *comparison_verdict(comparison)) if line]
    if comparison.rows:
        blocks += [Heading("Figures"), figure_table(comparison)]
        missing = missing_table(comparison)
        if missing.rows:
            blocks += [Heading("Figures that do not exist", 3), missing]
    blocks += pictures
    blocks += [Heading("Modes followed by their shape"), Words(_how_followed(comparison))]
    for m, tracks in comparison.tracks.items():
        if tracks:
            blocks += [Heading(f"m = {m}", 3), track_table(comparison, m)]
        if len(tracks) > MOST_TRACKS:
            blocks.append(
                Words(f"{one(len(tracks) - MOST_TRACKS, 'further mode')} of this order in modes_followed.csv.")
            )
    if comparison.doubts:
        blocks += [Heading("Material numbers without a published source"), Words(f"{MARK_LEGEND}.")]
        blocks += [Words(show_micro(line)) for line in comparison.doubts]
    if comparison.remarks:
        blocks += [Heading("Warnings"), *(Words(show_micro(line)) for line in comparison.remarks)]
    return blocks


def comparison_verdict(comparison: Comparison) -> list[str]:
    """A line per design other than the baseline: what changes, and which modes change places."""
    names = design_names(comparison)
    lines = []
    for d, name in enumerate(names):
        if d == comparison.baseline:
            continue
        changes = []
        for row in comparison.rows:
            if row.name in MAIN_FIGURES and (words := show_difference(row, d)):
                changes.append(f"{naming(row.name).words} {words}")
        text = ", ".join(changes) if changes else "no figure to compare"
        lines.append(f"{name} against {names[comparison.baseline]}: {text}. {_places(comparison, d)}".strip())
    return lines


def _places(comparison: Comparison, design: int) -> str:
    """Which modes a design has in another order than the baseline."""
    moved = []
    for tracks in comparison.tracks.values():
        both = [t for t in tracks if t.index[design] is not None and t.index[comparison.baseline] is not None]
        moved += [t for t in both if _overtakes(t, both, comparison.baseline, design)]
    if not moved:
        return "No mode that both have changes its order among them."
    lowest = min(moved, key=lambda t: t.frequency_hz[comparison.baseline] or np.inf)
    was, now = lowest.index[comparison.baseline], lowest.index[design]
    assert was is not None and now is not None  # it is in both
    frequency = show_hz(lowest.frequency_hz[comparison.baseline])
    return (
        f"{one(len(moved), 'mode changes', 'modes change')} places with others, the lowest at {frequency} in the "
        f"baseline (m = {lowest.order}, number {was + 1}, here number {now + 1}: {lowest.label})."
    )


def _overtakes(track: Track, others: Iterable[Track], baseline: int, design: int) -> bool:
    """Whether a mode passes another that both designs have."""
    a, b = track.index[baseline], track.index[design]
    return any(
        (x - a) * (y - b) < 0
        for other in others
        if (x := other.index[baseline]) is not None
        and (y := other.index[design]) is not None
        and a is not None
        and b is not None
    )


def figure_table(comparison: Comparison, names: Collection[str] | None = None) -> Table:
    """Figures down, designs across (turned about for more than four): the value, its mark of doubt, its difference to
    the baseline. `names` picks figures.
    """
    rows = [row for row in comparison.rows if names is None or row.name in names]
    rows = [row for row in rows if any(value is not None for value in row.values)]
    designs = [
        f"{name} (baseline)" if d == comparison.baseline else name for d, name in enumerate(design_names(comparison))
    ]
    words = [naming(row.name).words for row in rows]
    cells = [[_cell(row, d) for d in range(len(designs))] for row in rows]
    if len(designs) > MOST_ACROSS:
        turned = zip(designs, zip(*cells, strict=True), strict=True)
        return Table(["design", *words], [[name, *column] for name, column in turned])
    return Table(["figure", *designs], [[word, *line] for word, line in zip(words, cells, strict=True)])


def _cell(row: FigureRow, d: int) -> str:
    value = row.values[d]
    if value is None:
        return "none"
    least = "≥ " if row.at_least[d] else ""
    change = "" if d == row.baseline else show_difference(row, d)
    text = least + naming(row.name).text(value, 3) + (MARK if row.doubtful[d] else "")
    return f"{text} ({change})" if change else text


def winners(comparison: Comparison) -> str:
    """Which design wins on what: "longest even band: 60 µm; highest break-up mode: as drawn"."""
    names, told = design_names(comparison), []
    for figure, (words, best) in CONTESTS.items():
        row = next((row for row in comparison.rows if row.name == figure), None)
        known = {} if row is None else {d: value for d, value in enumerate(row.values) if value is not None}
        if len(known) < 2 or len(set(known.values())) < 2:
            continue
        told.append(f"{words}: {names[best(known, key=lambda d: known[d])]}")
    return f"Best: {'; '.join(told)}." if told else ""


CONTESTS: Mapping[str, tuple[str, Callable[..., int]]] = {
    "shelf_band_octaves": ("widest shelf band", max),
    "even_band_octaves": ("widest even band", max),
    "departure_hz": ("latest departure", max),
    "break_up_mode_hz": ("highest break-up mode", max),
    "deepest_hole_db": ("shallowest hole", max),
    "highest_peak_db": ("lowest peak", min),
    "area_per_mass_m2_per_kg": ("most output per newton", max),
    "moving_mass_kg": ("least mass", min),
}


def brief_blocks(comparison: Comparison) -> list[Block]:
    """What a designer reads first, some forty lines: who wins on what, the main figures, how many warnings."""
    blocks: list[Block] = [Words(words)] if (words := winners(comparison)) else []
    blocks.append(figure_table(comparison, HEADLINES))
    notes = []
    if any(any(row.doubtful) for row in comparison.rows if row.name in HEADLINES):
        notes.append(f"{MARK} a number without a published source moves it by more than 2 %.")
    if comparison.remarks:
        notes.append(f"{one(len(comparison.remarks), 'warning')}: --all, or comparison.md.")
    return [*blocks, Words(" ".join(notes))] if notes else blocks


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


def _how_followed(comparison: Comparison) -> str:
    against = (
        "the same mode in the design before it, reckoned from the baseline"
        if comparison.follow is Follow.NEIGHBOUR
        else "the baseline's"
    )
    return (
        f"Each shape is laid against {against}, by the modal assurance criterion (MAC) of its radial and axial motion, "
        "weighted by area, at equal fractions of the arc length of each zone. A cell holds the mode's number in that "
        f"design and its frequency. A MAC below {SURE_LIKENESS:g} is written beside it; below {LEAST_LIKENESS:g} the "
        "mode counts as lost (–)."
    )


def write_wall_grid(grid: WallGrid, folder: str | Path, *, pdf: bool = False) -> list[Path]:
    """Write page, sheets and table of a grid of materials by thicknesses; returns the paths, the page first."""
    from diaphragm_fem.report.figures_wallgrid import maps_figure, trade_off_figure
    from diaphragm_fem.report.style import save_sheet

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    sheets = {"walls_trade_off": trade_off_figure(grid), "walls_maps": maps_figure(grid)}
    paths = [save_sheet(sheet, folder / f"{name}.png") for name, sheet in sheets.items()]
    if pdf:
        paths += [save_sheet(sheet, folder / f"{name}.pdf") for name, sheet in sheets.items()]
    head = ["material", "thickness_m", *grid.figures]
    rows = [
        [material.name, float(h), *(number(values[i, j]) for values in grid.figures.values())]
        for i, material in enumerate(grid.materials)
        for j, h in enumerate(grid.thickness)
    ]
    paths.append(write_csv(folder / "walls.csv", head, rows))
    size = f"{one(len(grid.materials), 'material')} by {one(len(grid.thickness), 'thickness', 'thicknesses')}"
    title = f"{grid.design.name}: {size}"
    return [*write_page(folder, "walls", title, wall_grid_blocks(grid)), *paths]


def wall_grid_blocks(grid: WallGrid) -> list[Block]:
    """The page of a grid: each material's thickness for the highest break-up mode, the sheets, how far to trust it."""
    names = [
        name
        for name in ("break_up_mode_hz", "fundamental_hz", "moving_mass_kg", "low_area_m2", "area_per_mass_m2_per_kg")
        if name in grid.figures
    ]
    rows = []
    for i, material in enumerate(grid.materials):
        best = _best_thickness(grid.figures["break_up_mode_hz"][i])
        mark = MARK if doubtful_numbers(material) else ""
        values = [naming(name).text(float(grid.figures[name][i, best]), 3) for name in names]
        if np.isnan(grid.figures["break_up_mode_hz"][i, best]):
            values[0] = f"above {naming('break_up_mode_hz').text(SOUGHT * grid.up_to_hz, 3)}"
        rows.append([material.name + mark, f"{digits(1e6 * grid.thickness[best])} µm", *values])
    own = [naming(name).text(_known(grid.as_drawn.get(name)), 3) for name in names]
    rows.append([f"as drawn: {grid.drawn_material}", f"{digits(1e6 * grid.drawn_thickness)} µm", *own])
    span = f"{digits(1e6 * grid.thickness[0])} to {digits(1e6 * grid.thickness[-1])} µm"
    errors = ", ".join(f"{naming(name).words} {show_bound(grid.error[name])}" for name in names if name in grid.error)
    blocks: list[Block] = [
        Words(f"Varied: {', '.join(grid.zones)}; thickness {span}. The meridian and all other walls stay as drawn."),
        Heading("Each material at the thickness of its highest break-up mode"),
        Table(["material", "thickness", *(naming(name).words for name in names)], rows),
        Picture("walls_trade_off.png", "Break-up mode, or where none is in reach the resonance, against moving mass"),
        Picture("walls_maps.png", "Figures by material and thickness"),
        Heading("How far to trust it"),
        Words(
            f"All {len(grid.materials) * len(grid.thickness)} walls come from one assembly on a common reduced basis. "
            f"Solved again with the full model, {len(grid.checked)} cells spread over the grid differ by at most: "
            f"{errors}. The break-up mode is the first that holds half its strain in the driven zones, so it may jump "
            "from one mode to the next where that share passes a half."
        ),
    ]
    doubts = [line for material in grid.materials for line in doubtful_numbers(material)]
    if doubts:
        blocks += [
            Heading("Material numbers without a published source"),
            Words(f"{MARK_LEGEND}."),
            *(Words(line) for line in doubts),
        ]
    cautions = list(dict.fromkeys(f"{x.name}: {x.caution}" for x in grid.materials if x.caution))
    if cautions:
        blocks += [Heading("Caution"), *(Words(f"{line} Local rules go first.") for line in cautions)]
    return blocks


def _best_thickness(break_up: NDArray[np.float64]) -> int:
    """Place of the highest break-up mode; of the thinnest wall whose mode lies beyond reach (nan), if any."""
    unmet = np.flatnonzero(np.isnan(break_up))
    return int(unmet[0]) if len(unmet) else int(np.argmax(break_up))


def _known(value: float | None) -> float:
    return float("nan") if value is None else value
