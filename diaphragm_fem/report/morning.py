"""The morning page of a study: tables, figures, CSV of every table, and the best designs as files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from diaphragm_fem.report.blocks import Block, Heading, Picture, Words
from diaphragm_fem.report.page.study_page import write_study_page
from diaphragm_fem.report.pages import write_markdown
from diaphragm_fem.report.study_words import aim_words, column_naming, column_text, limit_words, naming
from diaphragm_fem.report.table import Table, write_csv
from diaphragm_fem.report.words import NONE, digits, one, show_hz
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.best_files import write_best_designs
from diaphragm_fem.study.run.running_totals import Reasons
from diaphragm_fem.study.run.store import DISCARDED

FAR_BEHIND = 0.8  # of the best score: neighbours below it have lost what made the winner win
DIFFERING_SHOWN = 4
REASONS_SHOWN = 6  # of each status
SHOWN_FRONT = 20


@dataclass(frozen=True)
class MorningFiles:
    """What was written: the folder, the page in two forms, figures, tables and design files."""

    folder: Path
    markdown: Path
    page: Path
    figures: tuple[Path, ...]
    tables: tuple[Path, ...]
    designs: tuple[Path, ...]


def write_morning(morning: Morning, folder: str | Path, *, pictures: bool = True) -> MorningFiles:
    """Write the morning of a study into a folder, which is made where it is missing."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    designs = write_best_designs(morning, folder / "best")
    drawn = _draw(morning, folder) if pictures else {}
    tables = _write_tables(morning, folder)
    blocks = morning_blocks(morning, drawn, designs)
    title = f"{morning.results.study.name}: what the study came to"
    markdown = write_markdown(folder / "morning.md", title, blocks)
    page = write_study_page(morning, folder / "morning.html", blocks, designs)
    return MorningFiles(folder, markdown, page, tuple(folder / file for file in drawn.values()), tables, designs)


def morning_blocks(morning: Morning, drawn: dict[str, str], designs: Sequence[Path]) -> list[Block]:
    """The page's blocks; `drawn` maps a figure's subject to its file."""
    blocks: list[Block] = [Words(_opening(morning))]
    blocks += _cases(morning)
    if morning.ranking is not None:
        blocks += _ranking(morning, designs)
        blocks += _pictures(drawn, "best_curves")
    if len(morning.front):
        blocks += _front(morning)
    blocks += _pictures(drawn, "trade_off")
    if morning.tolerance:
        blocks += _scatter(morning)
        blocks += _pictures(drawn, "scatter")
    if morning.indices or morning.effects:
        blocks += _what_matters(morning)
        blocks += _pictures(drawn, "variance") + _pictures(drawn, "effects")
    if morning.neighbourhood is not None:
        blocks += _around(morning)
        blocks += _pictures(drawn, "neighbourhood")
    return blocks


def _draw(morning: Morning, folder: Path) -> dict[str, str]:
    from diaphragm_fem.report.sheets.listing import OF_A_MORNING
    from diaphragm_fem.report.sheets.writing import write_sheets

    _, pictures = write_sheets(OF_A_MORNING, morning, folder)
    return {picture.file.removesuffix(".png"): picture.file for picture in pictures}


def _pictures(drawn: dict[str, str], subject: str) -> list[Block]:
    return [Picture(drawn[subject], subject.replace("_", " "))] if subject in drawn else []


def _opening(morning: Morning) -> str:
    results = morning.results
    varied = ", ".join(column.name.replace("_", " ") for column in results.varying) or "nothing"
    text = f"{one(len(results), 'design')} of the study '{results.study.name}' solved; "
    text += f"{varied} varied by {results.study.how}."
    if morning.ranking is not None and len(morning.best):
        winner = int(morning.best[0])
        values = ", ".join(f"{c.name.replace('_', ' ')} {column_text(c, winner)}" for c in results.varying)
        text += f" The best is case {results.numbers[winner]}: {values}."
    elif morning.ranking is not None:
        text += " No design keeps to all limits."
    return text


def _cases(morning: Morning) -> list[Block]:
    results = morning.results
    grouped = Reasons()
    for status, reason, count in results.reasons:
        grouped.add(status, reason, count)
    counted = grouped.counted.items()
    rows: list[list[str]] = []
    for status, count in sorted(results.counts.items()):
        rows.append([status, str(count), ""])
        own = sorted(((n, r) for (s, r), n in counted if s == status), reverse=True)[:REASONS_SHOWN]
        rows += [["  because", str(n), reason] for n, reason in own]
    return [Heading("Cases"), Table(["cases", "number", "reason"], rows, 3)]


def _ranking(morning: Morning, designs: Sequence[Path]) -> list[Block]:
    ranking, results = morning.ranking, morning.results
    assert ranking is not None
    wishes = ", ".join(
        f"{naming(w.figure).words} {aim_words(w.aim, w.figure)} (weight {w.weight:g})" for w in ranking.wishes
    )
    limits = "; ".join(limit_words(name, given) for name, given in results.study.limits.items()) or "none"
    words = (
        f"Wishes: {wishes}. Limits: {limits}; {one(len(ranking.order), 'design')} keep to all of them. "
        "The score is the weighted mean of marks from 0, the worst inside the limits, to 1, the best; "
        "a figure that does not exist counts 0."
    )
    if not len(morning.best):
        return [Heading("Ranking"), Words(words)]
    shown = list(dict.fromkeys([*(w.figure for w in ranking.wishes), *morning.figures]))
    head = [
        "rank",
        "case",
        "score",
        *(column_naming(c).label for c in results.varying),
        *(naming(n).label for n in shown),
        "file",
    ]
    rows = []
    for place, case in enumerate(morning.best):
        inputs = [_bare(column_text(c, case), column_naming(c).unit) for c in results.varying]
        figures = [_bare(naming(n).text(results.figure(n)[case]), naming(n).unit) for n in shown]
        file = f"best/{designs[place].name}" if place < len(designs) else ""
        rows.append(
            [str(place + 1), str(results.numbers[case]), f"{ranking.score[place]:.3f}", *inputs, *figures, file]
        )
    blocks = [Words(words) for words in _about_winner(morning)]
    run = Words("Each file is a design of its own: give it to `diaphragm-fem examine` for the whole answer.")
    return [Heading("Ranking"), Words(words), Table(head, rows, words=(len(head) - 1,)), *blocks, run]


def _about_winner(morning: Morning) -> list[str]:
    """What the winner's place may be owed to, and how far its shell figures are from the solid."""
    winner = morning.winner
    if winner is None:
        return []
    told = []
    for near in winner.thresholds:
        unit = f" {near.unit}" if near.unit else ""
        told.append(
            f"The winner owes its {naming(near.figure).words} to a threshold of {near.threshold:g}{unit}, which it "
            f"clears by {near.clears_by:.2g}{unit}: the {near.zone} comes to {near.value:.3g}{unit} at "
            f"{show_hz(near.frequency_hz)}. Rank by a smooth measure over a band to be sure of it."
        )
    if not winner.solid:
        told.append("The winner could not be solved as a solid: its figures are the shell's alone.")
    elif winner.differing:
        apart = ", ".join(
            f"{naming(name).words} {_told(name, shell)} by the shell, {_told(name, solid)} by the solid"
            for name, (shell, solid) in list(winner.differing.items())[:DIFFERING_SHOWN]
        )
        told.append(f"All cases were solved by the shell; for the winner the solid, to be believed, differs: {apart}.")
    else:
        told.append("All cases were solved by the shell; for the winner the solid agrees within 2 % in every figure.")
    return told


def _told(name: str, value: float | None) -> str:
    return NONE if value is None else naming(name).text(value, 3)


def _bare(text: str, unit: str) -> str:
    return text.removesuffix(unit).strip() if unit else text


def _front(morning: Morning) -> list[Block]:
    results = morning.results
    aims = ", ".join(f"{naming(name).words} {aim}" for name, aim in morning.aims.items())
    words = f"{one(len(morning.front), 'design')} that no other beats in one figure without losing in another ({aims})."
    picked = morning.front[
        np.unique(np.linspace(0, len(morning.front) - 1, min(len(morning.front), SHOWN_FRONT)).astype(int))
    ]
    if len(picked) < len(morning.front):
        words += f" Shown: {len(picked)} of them spread along the front; all are in front.csv."
    head = ["case", *(column_naming(c).label for c in results.varying), *(naming(name).label for name in morning.aims)]
    rows = [
        [
            str(results.numbers[case]),
            *(_bare(column_text(c, case), column_naming(c).unit) for c in results.varying),
            *(_bare(naming(n).text(results.figure(n)[case]), naming(n).unit) for n in morning.aims),
        ]
        for case in picked
    ]
    return [Heading("Trade-off"), Words(words), Table(head, rows)]


def _scatter(morning: Morning) -> list[Block]:
    results = morning.results
    blocks: list[Block] = [Heading("Scatter of the making")]
    unsolved = sum(count for status, count in results.counts.items() if status in ("failed", "stopped"))
    if morning.yields:
        rows = []
        for found in morning.yields:
            limits = results.study.limits
            name = next((n for n in limits if found.limit.startswith(f"{n} ")), None)
            words = limit_words(name, limits[name]) if name else "all limits"
            rows.append(
                [
                    words,
                    f"{100 * found.share:.1f} %",
                    f"{100 * found.low:.1f} to {100 * found.high:.1f} %",
                    f"{found.passing} of {found.of}",
                ]
            )
        note = "Yield over the parts that were solved; "
        note += f"{one(unsolved, 'part')} could not be solved and count neither way. "
        blocks += [
            Words(note + "Interval of 95 % by Wilson (1927)."),
            Table(["limit", "yield", "95 % interval", "parts"], rows),
        ]
    head = ["figure", "parts that have it", "mean", "deviation", "5 %", "middle", "95 %"]
    rows = []
    for spread in morning.spreads:
        figure = naming(spread.figure)
        cells = [
            _bare(figure.text(value), figure.unit) for value in (spread.mean, spread.deviation, *spread.percentiles)
        ]
        rows.append([figure.label, f"{spread.count} of {int(results.independent.sum())}", *cells])
    return [*blocks, Table(head, rows)]


def _what_matters(morning: Morning) -> list[Block]:
    totals = any(np.isfinite(index.total) for index in morning.indices)
    if totals:
        words = (
            "Sobol indices: the share of a figure's variance that a variable explains alone, and together with others."
        )
    else:
        words = (
            "Share of a figure's variance that each variable explains alone, from the means of its levels or bins; "
            'what is missing to 100 % comes from variables acting together. A plan "sensitivity" splits that too.'
        )
    if morning.results.counts.get(DISCARDED):
        words += (
            " Constraints ruled cases out, so that what varies no longer varies independently: shares may overlap and "
            "add up to more than 100 %."
        )
    head = ["figure", "variable", "alone", "±", *(["with others", "±"] if totals else [])]
    rows = []
    for index in morning.indices:
        cells = [_percent(index.first), _percent(index.first_error)]
        if totals:
            cells += [_percent(index.total), _percent(index.total_error)]
        rows.append([naming(index.figure).words, index.variable.replace("_", " "), *cells])
    return [Heading("What matters"), Words(words), *([Table(head, rows, 2)] if rows else [])]


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %" if np.isfinite(share) else NONE


def _around(morning: Morning) -> list[Block]:
    around, results = morning.neighbourhood, morning.results
    assert around is not None and morning.ranking is not None
    best = float(morning.ranking.score[0])
    words = (
        f"The {one(len(around.cases), 'nearest case')} around case {results.numbers[around.winner]} "
        f"(score {best:.3f}): "
        f"{100 * around.inside:.0f} % keep to all limits"
    )
    words += f", the worst of those with a score of {around.worst:.3f}." if np.isfinite(around.worst) else "."
    if around.at_end:
        names = " and ".join(name.replace("_", " ") for name in around.at_end)
        words += (
            f" It stands at the end of the range of {names}: a better one may lie beyond, so widen the study there."
        )
    if around.inside < 1 or (np.isfinite(around.worst) and around.worst < FAR_BEHIND * best):
        words += " This winner stands on a needle: small errors of the making cost it its limits or its lead."
    else:
        words += " Its neighbours keep up with it, so small errors of the making cost it little."
    head = [
        "case",
        "away",
        "score",
        *(column_naming(c).label for c in results.varying),
        *(naming(n).label for n in morning.figures),
    ]
    rows = []
    for case, distance, score in zip(around.cases, around.distance, around.score, strict=True):
        rows.append(
            [
                str(results.numbers[case]),
                f"{100 * distance:.1f} %",
                f"{score:.3f}" if np.isfinite(score) else "outside a limit",
                *(_bare(column_text(c, case), column_naming(c).unit) for c in results.varying),
                *(_bare(naming(n).text(results.figure(n)[case]), naming(n).unit) for n in morning.figures),
            ]
        )
    return [Heading("Around the winner"), Words(words), Table(head, rows)]


def _write_tables(morning: Morning, folder: Path) -> tuple[Path, ...]:
    """Every table as CSV in SI units, whole."""
    results = morning.results
    names = [column.name for column in results.columns]
    written = []

    def save(file: str, head: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
        written.append(write_csv(folder / file, Table(head, rows)))

    def case_row(case: int) -> list[object]:
        figures = [_plain(values[case]) for values in results.figures.values()]
        return [int(results.numbers[case]), *results.written[case], *figures]

    if morning.ranking is not None:
        order, score = morning.ranking.order, morning.ranking.score
        rows = [[place + 1, f"{score[place]:.6f}", *case_row(case)] for place, case in enumerate(order)]
        save("ranking.csv", ["rank", "score", "case", *names, *results.figures], rows)
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
        rows = [
            [i.figure, i.variable, *map(_plain, (i.first, i.first_error, i.total, i.total_error))]
            for i in morning.indices
        ]
        save("sensitivity.csv", ["figure", "variable", "alone", "alone_95", "with_others", "with_others_95"], rows)
    if morning.yields:
        rows = [[y.limit, y.passing, y.of, y.share, y.low, y.high] for y in morning.yields]
        save("yield.csv", ["limit", "passing", "of", "yield", "low_95", "high_95"], rows)
    for band in morning.bands:
        rows = np.column_stack((band.frequency_hz, band.values.T)).tolist()
        save(f"band_{band.curve.replace(':', '_').replace(' ', '_')}.csv", ["frequency_hz", "p5", "p50", "p95"], rows)
    return tuple(written)


def _plain(value: float) -> object:
    return float(value) if np.isfinite(value) else ""
