"""The morning of a study in blocks: what it came to, its cases, then `ranking` and `scatter` with their sheets."""

from collections.abc import Sequence
from pathlib import Path

from diaphragm_fem.report.blocks.blocks import Block, Heading, Picture, Words, noticed
from diaphragm_fem.report.blocks.table import Table
from diaphragm_fem.report.contents.ranking import front_blocks, ranking_blocks
from diaphragm_fem.report.contents.scatter import matter_blocks, scatter_blocks, unsolved_parts, wished_words
from diaphragm_fem.report.contents.winner import around_blocks
from diaphragm_fem.report.words.study import inputs_words
from diaphragm_fem.report.words.trust import dangers_of_study
from diaphragm_fem.report.words.words import join_words, one, show_micro
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.run.running_totals import Reasons

REASONS_SHOWN = 6  # of each status


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
    blocks += noticed("Caution", dangers_of_study(morning.results))
    for told, name in parts:
        blocks += [*told, *([drawn[name]] if name in drawn else [])]
    return blocks


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
        return show_micro(words)
    if morning.ranking is not None:
        return "No design keeps to all limits."
    told = []
    if morning.yields:
        whole = morning.yields[-1]
        low, high = 100 * whole.low, 100 * whole.high
        solved = " that could be solved" if unsolved_parts(morning) else ""
        share = f"{100 * whole.share:.1f} % of the parts{solved} keep to all limits"
        told.append(f"{share} (95 % interval {low:.1f} to {high:.1f} %).")
    wished = dict.fromkeys(wish.figure for wish in morning.results.study.wishes)
    scatter = [wished_words(spread, morning) for spread in morning.spreads if spread.figure in wished]
    if morning.tolerance and scatter:
        told.append(f"Of what is wished for, nine parts in ten have {join_words(scatter)}.")
    return " ".join(told)


def _solved(morning: Morning) -> str:
    results = morning.results
    varied = join_words([column.name.replace("_", " ") for column in results.varying]) or "nothing"
    text = f"{one(len(results), 'design')} of the study '{results.study.name}' solved; "
    return text + f"{varied} varied by {results.study.how}. {inputs_words(results)}".rstrip()


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
