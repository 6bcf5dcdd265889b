"""The folder of a study's morning: page, sheets, CSV of every table, and the best designs as files."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from diaphragm_fem.report.blocks.blocks import Picture, Table, write_csv
from diaphragm_fem.report.blocks.pages import write_markdown
from diaphragm_fem.report.contents.morning import morning_blocks
from diaphragm_fem.report.page.printing import with_pdf
from diaphragm_fem.report.page.study import write_study_page
from diaphragm_fem.report.stamp import stamp_of_study
from diaphragm_fem.report.words.study import yield_words
from diaphragm_fem.report.words.words import digits
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.beside import Beside
from diaphragm_fem.study.morning.best_files import write_best_designs


@dataclass(frozen=True)
class MorningFiles:
    """What was written: the page in two forms and printed where asked for, figures, design files; last among these,
    where anything of the winner scatters, its tolerance study."""

    markdown: Path
    page: Path
    printed: list[Path]
    figures: list[Path]
    designs: tuple[Path, ...]


def write_morning(morning: Morning, folder: Path, *, pictures: bool = True, pdf: bool = False) -> MorningFiles:
    """Write the morning of a study into a folder; with `pdf` sheets as PDF too, and the page where a browser is."""
    designs = write_best_designs(morning, folder / "best")
    figures, drawn = _draw(morning, folder, pdf) if pictures else ([], {})
    _write_tables(morning, folder)
    blocks = morning_blocks(morning, drawn, designs)
    title = f"{morning.results.study.name}: what the study came to"
    markdown = write_markdown(folder / "morning.md", title, blocks)
    page, *printed = with_pdf(write_study_page(morning, folder / "morning.html", blocks, designs), pdf)
    return MorningFiles(markdown, page, printed, figures, designs)


def _draw(morning: Morning, folder: Path, pdf: bool) -> tuple[list[Path], dict[str, Picture]]:
    from diaphragm_fem.report.sheets.listing import write_sheets
    from diaphragm_fem.report.sheets.listing_of_many import OF_A_MORNING

    stamp = stamp_of_study(morning.results.study)
    paths, pictures = write_sheets(OF_A_MORNING, morning, folder, pdf=pdf, stamp=stamp)
    return paths, {picture.file.removesuffix(".png"): picture for picture in pictures}


def _write_tables(morning: Morning, folder: Path) -> None:
    """Every table as CSV, whole: numbers in SI units, a limit by its figure ("" for all of them) and in words."""
    results = morning.results
    names = [column.name for column in results.columns]

    def save(file: str, head: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
        write_csv(folder / file, Table(head, rows))

    def case_row(case: int) -> list[object]:
        figures = [values[case] for values in results.figures.values()]
        return [int(results.numbers[case]), *results.written[case], *figures]

    if morning.ranking is not None:
        order, score = morning.ranking.order, morning.ranking.score
        rows = [[place + 1, f"{score[place]:.6f}", *case_row(case)] for place, case in enumerate(order)]
        save("ranking.csv", ["rank", "score", "case", *names, *results.figures], rows)
    if morning.best:
        figures = list(dict.fromkeys(name for design in (*morning.best, morning.base) for name in design.found.figures))
        rows = [_beside_row(morning, design, names, figures) for design in (*morning.best, morning.base)]
        save("best_as_drawn.csv", ["case", "score", "inside_limits", *names, *figures], rows)
    if len(morning.front):
        save("front.csv", ["case", *names, *results.figures], [case_row(case) for case in morning.front])
    effects = []
    for e in morning.effects:
        places = e.labels or [digits(float(p), 9) for p in e.place]
        effects += [
            [e.figure, e.variable, p, m, s, int(n)] for p, m, s, n in zip(places, e.mean, e.error, e.count, strict=True)
        ]
    if effects:
        save("effects.csv", ["figure", "variable", "place", "mean", "standard_error", "cases"], effects)
    if morning.indices:
        rows = [[i.figure, i.variable, i.first, i.first_error, i.total, i.total_error] for i in morning.indices]
        save("sensitivity.csv", ["figure", "variable", "alone", "alone_95", "with_others", "with_others_95"], rows)
    if morning.yields:
        rows = [[y.figure, yield_words(y, morning), y.passing, y.of, y.share, y.low, y.high] for y in morning.yields]
        save("yield.csv", ["figure", "limit", "passing", "of", "yield", "low_95", "high_95"], rows)
    if morning.halved:
        rows = [[h.variable, h.share, h.gain, h.error] for h in morning.halved]
        save("yield_if_halved.csv", ["scatter", "yield", "gain", "gain_95"], rows)
    for band in morning.bands:
        rows = np.column_stack((band.frequency_hz, band.values.T)).tolist()
        save(f"band_{band.curve.replace(':', '_').replace(' ', '_')}.csv", ["frequency_hz", "p5", "p50", "p95"], rows)


def _beside_row(morning: Morning, design: Beside, names: Sequence[str], figures: Sequence[str]) -> list[object]:
    case: object = "base" if design.case is None else int(morning.results.numbers[design.case])
    values = [design.found.figures.get(name) for name in figures]
    return [case, design.score, design.inside, *(design.amounts.get(name, "") for name in names), *values]
