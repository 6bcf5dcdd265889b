"""The morning of a study in blocks: what it came to, its cases, the ranking and the trade-off; what is to be known of
the winner stands in `winner` and `around_winner`, what varies in `scatter`."""

from collections.abc import Mapping, Sequence
from math import log10
from pathlib import Path

import numpy as np

from diaphragm_fem.report.blocks.blocks import Block, Heading, Picture, Points, Table, Words, noticed, said_in
from diaphragm_fem.report.contents.around_winner import around_blocks
from diaphragm_fem.report.contents.scatter import (
    matter_blocks,
    scatter_blocks,
    unsolved_parts,
    wished_words,
    yield_blocks,
)
from diaphragm_fem.report.contents.winner import ranking_remarks, score_text
from diaphragm_fem.report.words.study import aim_words, amount_text, column_naming, inputs_words, limit_words, naming
from diaphragm_fem.report.words.trust import dangers_of_many
from diaphragm_fem.report.words.words import NONE, join_words, one, printed, signed
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.beside import Beside, drawn_amounts
from diaphragm_fem.study.morning.results import Results, where_unsolved
from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.run.status import Reasons

OF_TWO = " Figures are of the first section alone but those of both sections and of the crossover."
REASONS_SHOWN = 6  # of each status
SHOWN_FRONT = 20
PLATEAU = "area_per_mass_m2_per_kg"


def morning_blocks(morning: Morning, drawn: dict[str, Picture], designs: Sequence[Path]) -> list[Block]:
    """The page's blocks; `drawn` maps a sheet's name to its picture."""
    parts = [
        (_cases(morning), ""),
        (ranking_blocks(morning, designs), "best_designs"),
        (around_blocks(morning, designs), "around_winner"),
        (front_blocks(morning), "trade_off"),
        (scatter_blocks(morning), "scatter"),
        (matter_blocks(morning), "what_matters"),
    ]
    blocks: list[Block] = [Words(text) for text in (_result(morning), _solved(morning)) if text]
    blocks += noticed("Caution", dangers_of_many(morning.results.materials, morning.results.figures.items()))
    for told, name in parts:
        blocks += [*told, *([drawn[name]] if name in drawn else [])]
    return blocks


def brief_morning_blocks(morning: Morning) -> list[Block]:
    """What is read first: the winner or the yield, what to know of it, the best beside the base design."""
    counts = sorted(morning.results.counts.items())
    left = join_words([f"{count} {status}" for status, count in counts if status not in ("done", "discarded")])
    unsolved = f"{left}. {_where_unsolved(morning.results)}".rstrip() if left else ""
    remarks = [text for text, _ in ranking_remarks(morning)] if morning.best else []
    told = [_result(morning), _solved(morning), unsolved, *remarks, *said_in(around_blocks(morning, ()))]
    blocks: list[Block] = [Heading(morning.results.study.name, 1), Points([text for text in told if text])]
    blocks += noticed("Caution", dangers_of_many(morning.results.materials, morning.results.figures.items()))
    best = [_ranking_table(morning, ())] if morning.best else []
    return [*blocks, *best, *yield_blocks(morning)]


def _result(morning: Morning) -> str:
    """What the study came to: its winner, or how many of the parts are good."""
    if morning.best:
        winner = morning.best[0]
        values = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in winner.amounts.items())
        lead = "The best is" if winner.inside else "Of the best none keeps to all limits as drawn; the first is"
        words = f"{lead} case {morning.results.numbers[winner.case]}, rounded for a drawing: {values}."
        if winner.inside and morning.base.inside and not morning.base_breaks and morning.ranking is not None:
            if morning.ranking.as_good(morning.base.found.judged, winner.found.judged):
                words += " The base design is as good, as far as figures can be told apart."
            elif morning.base.score >= winner.score:
                words += " The base design is better."
        return printed(words)
    if morning.ranking is not None:
        return "No design keeps to all limits."
    told = []
    if morning.yields:
        whole = morning.yields[-1]
        low, high = 100 * whole.low, 100 * whole.high
        unsolved = unsolved_parts(morning)
        solved = " that could be solved" if unsolved else ""
        without = f"; {unsolved} of {unsolved + whole.of} could not" if unsolved else ""
        share = f"{100 * whole.share:.1f} % of the parts{solved} keep to all limits"
        told.append(f"{share} (95 % interval {low:.1f} to {high:.1f} %){without}.")
    wished = dict.fromkeys(wish.figure for wish in morning.results.study.wishes)
    scatter = [wished_words(spread, morning) for spread in morning.spreads if spread.figure in wished]
    if morning.tolerance and scatter:
        told.append(f"Of what is wished for, nine parts in ten have {join_words(scatter)}.")
    return " ".join(told)


def _solved(morning: Morning) -> str:
    results = morning.results
    varied = join_words([column.name.replace("_", " ") for column in results.varying]) or "nothing"
    text = f"{one(len(results), 'design')} of the study '{results.study.name}' solved; "
    text += f"{varied} varied by {results.study.how}. {inputs_words(results)}".rstrip()
    return text + OF_TWO * results.study.recipe.of_two


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
    where = _where_unsolved(results)
    told = [Words(where)] if where else []
    return [Heading("Cases"), Table(["cases", "number", "reason"], rows, 3), *told]


def _where_unsolved(results: Results) -> str:
    """ "Of 53 cases that were not solved 48 have gap of 0.499 mm or less, of the 179 that were 0."; "" where no part of
    the study tells them."""
    found = where_unsolved(results)
    if found is None:
        return ""
    named, unit = column_naming(found.column), found.column.unit
    name = found.column.names[int(found.value)] if found.column.names else ""
    amount = name or f"of {amount_text(found.column, f'{found.value / named.factor!r} {unit}'.strip())} {named.unit}"
    end = {"<=": " or less", ">=": " or more"}.get(found.side, "")
    return (
        f"Of {one(len(results.unsolved), 'case')} that were not solved {found.unsolved} have {named.words} "
        f"{amount.strip()}{end}, of the {len(results)} that were {found.solved}."
    )


def ranking_blocks(morning: Morning, designs: Sequence[Path]) -> list[Block]:
    """The best designs as drawn with the base design below them; empty where the study wishes nothing."""
    ranking, results = morning.ranking, morning.results
    if ranking is None:
        return []
    wishes = ", ".join(
        f"{naming(w.figure).words} {aim_words(w.aim, w.figure)} (weight {w.weight:g})" for w in ranking.wishes
    )
    limits = "; ".join(limit_words(name, given) for name, given in results.study.limits.items()) or "none"
    kept = one(len(ranking.order), "design keeps", "designs keep")
    words = (
        f"Wishes: {wishes}. Limits: {limits}; {kept} to all of them. "
        "The score is the weighted mean of marks from 0, the worst inside the limits, to 1, the best; "
        "a figure that does not exist counts 0, but a departure, break-up mode or null that never comes stands at the "
        "end of what was searched. The best were rounded to what a drawing says, solved and ranked again, "
        "which may take one a little beyond either."
    )
    if not morning.best:
        return [Heading("Ranking"), Words(words)]
    told = [Words(text) for text, _ in ranking_remarks(morning)]
    run = Words("Each file is a design of its own: give it to `diaphragm-fem examine` for the whole answer.")
    return [Heading("Ranking"), Words(words), _ranking_table(morning, designs), *told, run]


def _ranking_table(morning: Morning, designs: Sequence[Path]) -> Table:
    """The best designs with their files, those that were written, and the base design below them."""
    ranking, results = morning.ranking, morning.results
    assert ranking is not None  # nothing is best otherwise
    shown = list(dict.fromkeys([*(w.figure for w in ranking.wishes), *morning.figures]))
    columns = [column_naming(c).label if c.unit else c.name.replace("_", " ") for c in results.varying]
    levels = ["plateau, dB to base"] if _plateaus_differ(morning) else []
    files = ["file"] if designs else []
    head = ["rank", "case", "score", *columns, *(naming(n).label for n in shown), *levels, *files]
    rows = [
        [str(place), str(results.numbers[best.case]), *_cells(morning, best, shown), *_file(designs, place)]
        for place, best in enumerate(morning.best, start=1)
    ]
    if morning.base.found.figures:
        rows.append([str(_rank_of(morning)), "base", *_cells(morning, morning.base, shown), *(files and [""])])
    return Table(head, rows, words=(len(head) - 1,) if files else ())


def _cells(morning: Morning, design: Beside, figures: Sequence[str]) -> list[str]:
    """Score, amounts and figures of a design, and its response per newton against the base design's."""
    inputs = _inputs(morning, design.amounts)
    values = [naming(name).bare(design.figure(name), judged=design.found.judged.get(name)) for name in figures]
    score = score_text(design.score) if design.inside else "outside a limit"
    own, base = design.figure(PLATEAU), morning.base.figure(PLATEAU)
    level = [signed(20 * log10(own / base), 1) if own > 0 else NONE] if _plateaus_differ(morning) else []
    return [score, *inputs, *values, *level]


def _inputs(morning: Morning, amounts: Mapping[str, Written]) -> list[str]:
    """What varies as a design file says it: a ratio is the amount that it stands for."""
    return [amount_text(column, amounts.get(column.name)) for column in morning.results.varying]


def _plateaus_differ(morning: Morning) -> bool:
    """Whether the response per newton is worth a column: slots and gaps leave that of the diaphragm as it is."""
    base = morning.base.figure(PLATEAU)
    return base > 0 and any(abs(best.figure(PLATEAU) / base - 1) > 1e-6 for best in morning.best)


def _file(designs: Sequence[Path], place: int) -> list[str]:
    """The cell of a design's file; none where none was written."""
    return [f"best/{designs[place - 1].name}" if place <= len(designs) else ""] if designs else []


def _rank_of(morning: Morning) -> str:
    """The place that the base design would take among all cases as they were solved."""
    if not morning.base.inside or morning.base_breaks or morning.ranking is None:
        return NONE
    return str(1 + int((morning.ranking.score > morning.base.score).sum()))


def front_blocks(morning: Morning) -> list[Block]:
    """The designs that no other beats in everything, and the base design below them."""
    results, recipe = morning.results, morning.results.study.recipe
    if not len(morning.front):
        return []
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
            *_inputs(morning, drawn_amounts(recipe, recipe.design_of(results.written[case]))),
            *(naming(n).bare(results.figure(n)[case], judged=results.judged(n)[case]) for n in morning.aims),
        ]
        for case in picked
    ]
    if morning.base.found.figures:
        _, *cells = _cells(morning, morning.base, list(morning.aims))
        rows.append(["base", *cells[: len(head) - 1]])
    return [Heading("Trade-off"), Words(words), Table(head, rows)]
