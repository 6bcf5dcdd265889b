"""The page of a study: the winner and its warning, every case on parallel axes, trade-off, ranking, cards, failures."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from diaphragm_fem.answer.better import times_told
from diaphragm_fem.report.blocks.blocks import Block, Heading, Picture, Table, Words, notices_of
from diaphragm_fem.report.contents.winner import ranking_remarks
from diaphragm_fem.report.page.packing import packed
from diaphragm_fem.report.page.writer import write_page
from diaphragm_fem.report.words.study import Naming, aim_words, column_naming, limit_words, naming
from diaphragm_fem.report.words.words import one
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.beside import Beside
from diaphragm_fem.study.morning.results import Column
from diaphragm_fem.study.plan.amount import amount_in_si

EMPTY: Mapping[int, str] = MappingProxyType({})
MOST_FIGURES = 10  # on the page, those that the study names first; ranking.csv has all
TABLES = {
    "rank": "The best, as drawn", "limit": "Yield", "scatter halved": "Yield if one scatter were halved",
    "parts that have it": "Spread of every figure", "case": "No other beats them",
}  # fmt: skip
"""Titles of tables that do not have that of their section, by the first or second heading of their columns."""
SHORT = 20  # rows of a table that is open at first
RANKED = ("Ranking", "Around")  # headings whose words tell how far to trust the winner
TRADE_OFF = "Trade-off"  # the heading whose words stand below the picture
CASES = "Cases"  # the heading that comes last
WARNING, NOTE = "Warning", "Note"


def write_study_page(morning: Morning, path: Path, blocks: Sequence[Block], designs: Sequence[Path] = ()) -> Path:
    """Write the page of a study; words and tables are those of the `blocks` of its Markdown page, `designs` the files
    of the best designs in the order of `morning.best`."""
    (lead, *opening), sections = _sections(blocks)
    remarks = [item for heading, inside in sections for item in _remarks(morning, heading, inside)]
    if morning.best:
        lead, remarks = f"{lead} {remarks[0][1]}", remarks[1:]
    study = morning.results.study  # rounding to a drawing may have changed the order of the best
    files = {int(best.case or 0): f"best/{file.name}" for best, file in zip(morning.best, designs, strict=False)}
    told = {heading: _told(heading, inside) for heading, inside in sections if not heading.startswith(RANKED[1])}
    ranked = [item for k, item in enumerate(told.pop(RANKED[0], [])) if k == 0 or item[0] == "table"]
    return write_page(
        path, "study", study_data(morning, files), title=study.name,
        stamp=[("study", Path(study.path).name), ("plan", study.how), ("solved", one(len(morning.results), "case"))],
        lead=lead, opening=opening, ranked=ranked,
        remarks=[*notices_of(blocks), *sorted(remarks, key=lambda remark: remark[0] == NOTE)],
        trade=told.pop(TRADE_OFF, []), told=sorted(told.items(), key=lambda item: item[0] == CASES),
        wishes=morning.ranking is not None, base=bool(morning.base.found.figures),
    )  # fmt: skip


def _told(heading: str, inside: Sequence[Block]) -> list[tuple[Any, ...]]:
    """Words and tables below a heading; of a table its title, and whether it is open at first."""
    found: list[tuple[Any, ...]] = []
    for block in inside:
        if isinstance(block, Words):
            found.append(("words", block.text))
        elif isinstance(block, Table):
            title = next((TABLES[head] for head in block.head[:2] if head in TABLES), heading)
            found.append(("table", title, block, heading != TRADE_OFF and len(block.rows) <= SHORT))
    return found


def _remarks(morning: Morning, heading: str, inside: Sequence[Block]) -> list[tuple[str, str]]:
    """The words below a heading that tell how far to trust the winner, that on the base design first; of what else
    stands there nothing."""
    if heading.startswith(RANKED[1]):
        needle = morning.neighbourhood is not None and bool(morning.neighbourhood.behind)
        told = [(block.text, needle) for block in inside if isinstance(block, Words)]
    else:
        told = ranking_remarks(morning) if heading == RANKED[0] and morning.best else []
    return [(WARNING if doubt else NOTE, text) for text, doubt in told]


def study_data(morning: Morning, files: Mapping[int, str] = EMPTY) -> dict[str, Any]:
    """Every case as columns of numbers, in 32 bits: what varied, then figures, in the units they are shown in.

    order: cases inside the limits from best to worst, score (the same), marks (wish, case) of these; front: cases that
    no other beats in everything. Cases are told by their place, `number` has the numbers of the study.
    files: the design file of each case that has one; drawn: score of each of these as a drawing says it, and amounts
    and figures by key; winner: the best as drawn, which need not be the first as solved.
    """
    results, ranking = morning.results, morning.ranking
    data: dict[str, Any] = {
        "number": packed(results.numbers, "u4"), "axes": [*_inputs(morning), *_figures(morning)],
        "front": packed(morning.front, "u4"), "files": {str(case): file for case, file in files.items()},
        "drawn": {str(best.case): _as_drawn(morning, best) for best in morning.best if not best.trouble},
        "winner": morning.best[0].case if morning.best else None,
        "limits": [
            {"figure": name, "words": limit_words(name, ends), "low": _shown(name, ends[0]),
             "high": _shown(name, ends[1])} for name, ends in results.study.limits.items()
        ],
        "wishes": [], "counts": dict(results.counts),
        "trade": [name for name in morning.aims if name in results.figures][:2],
    }  # fmt: skip
    if ranking is not None:
        data |= {
            "order": packed(ranking.order, "u4"), "score": packed(ranking.score, "f4"),
            "marks": packed(ranking.marks, "f4"),
            "wishes": [
                {"figure": wish.figure, "words": f"{naming(wish.figure).words} {aim_words(wish.aim, wish.figure)}",
                 "weight": wish.weight} for wish in ranking.wishes
            ],
        }  # fmt: skip
    return data


def _inputs(morning: Morning) -> list[dict[str, Any]]:
    found = []
    for column in morning.results.varying:
        axis = _axis(column.name, column_naming(column), column.values, _input(morning.base, column))
        found.append({**axis, "kind": "input", "names": list(column.names), "log": column.log})
    return found


def _axis(key: str, name: Naming, values: np.ndarray, base: float | None) -> dict[str, Any]:
    """The axis of a figure; `base` is where the base design stands on it."""
    return {
        "key": key, "words": name.words, "unit": name.unit, "kind": "figure", "names": [], "log": False,
        "values": packed(name.shown(values), "f4"), "base": base,
    }  # fmt: skip


def _as_drawn(morning: Morning, best: Beside) -> dict[str, Any]:
    inputs = {column.name: _input(best, column) for column in morning.results.varying}
    figures = {name: _shown(name, value) for name, value in best.found.figures.items()}
    told = {key: value for key, value in {**inputs, **figures}.items() if value is not None}
    return {"score": float(best.score) if best.inside else None, "values": told}


def _input(design: Beside, column: Column) -> float | None:
    """Where a design stands on the axis of an input; None where it has no such amount or name."""
    amount = design.amounts.get(column.name)
    if column.names:
        return float(column.names.index(str(amount))) if str(amount) in column.names else None
    size = amount_in_si(amount) if column.unit else None
    return None if size is None else size / column_naming(column).factor


def _figures(morning: Morning) -> list[dict[str, Any]]:
    """What the study asks for, then what else differs from case to case by more than cannot be told."""
    results, ranking = morning.results, morning.ranking
    wishes = () if ranking is None else ranking.wishes
    differing = [name for name, values in results.figures.items() if _differs(name, values)]
    named = [*(w.figure for w in wishes), *morning.aims, *results.study.limits, *morning.figures, *differing]
    chosen = [name for name in dict.fromkeys(named) if name in results.figures][:MOST_FIGURES]
    return [
        _axis(name, naming(name), results.figures[name], _shown(name, morning.base.found.figures.get(name)))
        for name in chosen
        if np.isfinite(results.figures[name]).any()
    ]


def _differs(figure: str, values: np.ndarray) -> bool:
    known = values[np.isfinite(values)]
    return len(known) > 0 and times_told(figure, float(known.max()), float(known.min())) > 1


def _shown(figure: str, value: float | None) -> float | None:
    return None if value is None else float(naming(figure).shown(value))


def _sections(blocks: Sequence[Block]) -> tuple[list[str], list[tuple[str, list[Block]]]]:
    """The words before the first heading, and what stands under each."""
    lead: list[str] = []
    sections: list[tuple[str, list[Block]]] = []
    for block in blocks:
        if isinstance(block, Heading):
            sections.append((block.words, []))
        elif sections:
            sections[-1][1].append(block)
        elif isinstance(block, Words):
            lead.append(block.text)
    return lead, [(heading, [x for x in inside if not isinstance(x, Picture)]) for heading, inside in sections]
