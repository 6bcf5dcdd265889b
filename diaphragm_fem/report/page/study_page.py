"""The page of a study: the winner and its warning, every case on parallel axes, trade-off, ranking, cards, failures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from diaphragm_fem.report.blocks import Block, Heading, Picture, Words
from diaphragm_fem.report.page.packing import packed
from diaphragm_fem.report.page.writer import write_page
from diaphragm_fem.report.study_words import aim_words, column_naming, limit_words, naming
from diaphragm_fem.report.table import Table
from diaphragm_fem.report.words import one
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.results import Column
from diaphragm_fem.study.plan.amount import amount_in_si

EMPTY: Mapping[int, str] = MappingProxyType({})
MOST_FIGURES = 10  # on the page, those that the study names first; ranking.csv has all
AS_DRAWN = "The best, as drawn"  # the page ranks the cases as they were solved
RANKED = ("Ranking", "Around")  # headings whose words tell how far to trust the winner


def write_study_page(morning: Morning, path: Path, blocks: Sequence[Block], designs: Sequence[Path] = ()) -> Path:
    """Write the page of a study; words and tables are those of the `blocks` of its Markdown page, `designs` the files
    of the best designs in the order of `morning.best`.
    """
    lead, sections = _sections(blocks)
    warnings = [words for heading, inside in sections if heading.startswith(RANKED[1]) for words in _words(inside)] + [
        words for heading, inside in sections if heading == RANKED[0] for words in _words(inside)[1:-1]
    ]
    tables = [
        (AS_DRAWN if heading == RANKED[0] else heading, block, heading == RANKED[0])
        for heading, inside in sections
        for block in inside
        if isinstance(block, Table)
    ]
    study = morning.results.study
    told = [(heading, _words(inside)) for heading, inside in sections if not heading.startswith(RANKED)]
    return write_page(
        path, "study", study_data(morning, _files(morning, designs)), title=study.name, about="",
        stamp=[("study", Path(study.path).name), ("plan", study.how), ("solved", one(len(morning.results), "case"))],
        lead=" ".join(lead), warnings=warnings, tables=tables, told=[item for item in told if item[1]],
        wishes=_wishes(morning), base=bool(morning.base.figures),
    )  # fmt: skip


def _files(morning: Morning, designs: Sequence[Path]) -> dict[int, str]:
    """The design file of each case that has one: rounding to a drawing may have changed their order."""
    return {int(best.case or 0): f"best/{file.name}" for best, file in zip(morning.best, designs, strict=False)}


def study_data(morning: Morning, files: Mapping[int, str] = EMPTY) -> dict[str, Any]:
    """Every case as columns of numbers, in 32 bits: what varied, then figures, in the units they are shown in.

    order: cases inside the limits from best to worst, score (the same), marks (wish, case) of these; front: cases that
    no other beats in everything. Cases are told by their place, `number` has the numbers of the study.
    files: the design file of each case that has one; winner: the best as drawn, which need not be the first as solved.
    """
    results, ranking = morning.results, morning.ranking
    data: dict[str, Any] = {
        "number": packed(results.numbers, "u4"), "axes": [*_inputs(morning), *_figures(morning)],
        "front": packed(morning.front, "u4"), "files": {str(case): file for case, file in files.items()},
        "winner": morning.best[0].case if morning.best else None,
        "limits": [
            {
                "figure": name, "words": limit_words(name, (low, high)), "low": _shown(name, low),
                "high": _shown(name, high),
            }
            for name, (low, high) in results.study.limits.items()
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
        name = column_naming(column)
        values = column.values if column.names else name.shown(column.values)
        found.append(
            {
                "key": column.name, "words": name.words, "unit": "" if column.names else name.unit, "kind": "input",
                "names": list(column.names), "log": column.log, "values": packed(values, "f4"),
                "base": _base_input(morning, column),
            }
        )  # fmt: skip
    return found


def _base_input(morning: Morning, column: Column) -> float | None:
    """Where the base design stands on the axis of an input; None where it has no such amount or name."""
    amount = morning.base.amounts.get(column.name)
    if column.names:
        return float(column.names.index(str(amount))) if str(amount) in column.names else None
    size = amount_in_si(amount) if column.unit else None
    return None if size is None else size / column_naming(column).factor


def _figures(morning: Morning) -> list[dict[str, Any]]:
    results, ranking = morning.results, morning.ranking
    wishes = () if ranking is None else ranking.wishes
    named = [
        *(wish.figure for wish in wishes),
        *morning.aims,
        *results.study.limits,
        *morning.figures,
        *results.figures,
    ]
    chosen = [name for name in dict.fromkeys(named) if name in results.figures][:MOST_FIGURES]
    return [
        {
            "key": name, "words": naming(name).words, "unit": naming(name).unit, "kind": "figure", "names": [],
            "log": False, "values": packed(naming(name).shown(results.figures[name]), "f4"),
            "base": _shown(name, morning.base.figures.get(name)),
        }
        for name in chosen
        if np.isfinite(results.figures[name]).any()
    ]  # fmt: skip


def _shown(figure: str, value: float | None) -> float | None:
    return None if value is None else float(naming(figure).shown(value))


def _wishes(morning: Morning) -> str:
    ranking = morning.ranking
    if ranking is None:
        return ""
    return "; ".join(f"{naming(w.figure).words} {aim_words(w.aim, w.figure)}" for w in ranking.wishes)


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


def _words(inside: Sequence[Block]) -> list[str]:
    return [block.text for block in inside if isinstance(block, Words)]
