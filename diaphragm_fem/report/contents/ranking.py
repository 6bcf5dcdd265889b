"""Blocks of the morning page about the best: ranking as drawn, what it may be owed to, its neighbours, trade-off."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import takewhile
from math import log10
from pathlib import Path

import numpy as np

from diaphragm_fem.analysis.figures.definitions import OVER_A_BAND
from diaphragm_fem.answer.better import least_words
from diaphragm_fem.errors import typed
from diaphragm_fem.report.blocks.blocks import Block, Heading, Words
from diaphragm_fem.report.blocks.table import Table
from diaphragm_fem.report.words.figures import value_text
from diaphragm_fem.report.words.study import aim_words, amount_text, column_naming, limit_words, naming
from diaphragm_fem.report.words.words import NONE, join_words, one, show_hz, signed
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.beside import Beside
from diaphragm_fem.study.morning.drawing_steps import drawn_amounts
from diaphragm_fem.study.morning.neighbours import Neighbourhood
from diaphragm_fem.study.morning.ranking import Ranking
from diaphragm_fem.study.morning.tolerance_file import assumed_scatter
from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.run.case_row import CaseResult

DIFFERING_SHOWN = 4
SHOWN_FRONT = 20
PLATEAU = "area_per_mass_m2_per_kg"
HAND_OVER = "handed_over_hz"  # for which a part has its steps: a winner that has lost it is told, wished for or not


def ranking_blocks(morning: Morning, designs: Sequence[Path]) -> list[Block]:
    """The best designs as drawn with the base design below them; empty where the study wishes nothing."""
    ranking, results = morning.ranking, morning.results
    if ranking is None:
        return []
    wishes = ", ".join(
        f"{naming(w.figure).words} {aim_words(w.aim, w.figure)} (weight {w.weight:g})" for w in ranking.wishes
    )
    limits = "; ".join(limit_words(name, given) for name, given in results.study.limits.items()) or "none"
    words = (
        f"Wishes: {wishes}. Limits: {limits}; {one(len(ranking.order), 'design')} keep to all of them. "
        "The score is the weighted mean of marks from 0, the worst inside the limits, to 1, the best; "
        "a figure that does not exist counts 0, but a departure, break-up mode or null that never comes stands at the "
        "end of what was searched. The best were rounded to what a drawing says, solved and ranked again, "
        "which may take one a little beyond either."
    )
    if not morning.best:
        return [Heading("Ranking"), Words(words)]
    shown = list(dict.fromkeys([*(w.figure for w in ranking.wishes), *morning.figures]))
    columns = [column_naming(c).label if c.unit else c.name.replace("_", " ") for c in results.varying]
    levels = ["plateau, dB to base"] if _plateaus_differ(morning) else []
    head = ["rank", "case", "score", *columns, *(naming(n).label for n in shown), *levels, "file"]
    rows = [
        [str(place), str(results.numbers[best.case]), *_cells(morning, best, shown), _file(designs, place)]
        for place, best in enumerate(morning.best, start=1)
    ]
    if morning.base.figures:
        rows.append([str(_rank_of(morning)), "base", *_cells(morning, morning.base, shown), ""])
    told = [Words(text) for text, _ in ranking_remarks(morning)]
    run = Words("Each file is a design of its own: give it to `diaphragm-fem examine` for the whole answer.")
    return [Heading("Ranking"), Words(words), Table(head, rows, words=(len(head) - 1,)), *told, run]


def ranking_remarks(morning: Morning) -> list[tuple[str, bool]]:
    """What is to be known of the winner, that against the base design first, and whether each is a reason to doubt."""
    ranking = morning.ranking
    assert ranking is not None  # nothing is best otherwise
    plain = (*_tie(morning, ranking), *_given_up(morning, ranking), *_own_bands(morning, ranking))
    alone = morning.opinion is not None and not morning.opinion.solid
    return [
        *((text, bool(morning.base.trouble)) for text in _about_base(morning, ranking)),
        *((text, True) for text in _marks_of_nothing(morning, ranking)),
        *((text, False) for text in plain),
        *((text, True) for text in _thresholds(morning)),
        *((f"Of the winner: {text}.", True) for text in morning.best[0].warnings),
        *((text, alone) for text in _opinion(morning)),
        *_finer_mesh(morning),
    ]


def _cells(morning: Morning, design: Beside, figures: Sequence[str]) -> list[str]:
    """Score, amounts and figures of a design, and its response per newton against the base design's."""
    inputs = _inputs(morning, design.amounts)
    values = [naming(name).bare(design.figure(name), judged=design.judged.get(name)) for name in figures]
    score = _score(design.score) if design.inside else "outside a limit"
    own, base = design.figure(PLATEAU), morning.base.figure(PLATEAU)
    level = [signed(20 * log10(own / base), 1) if own > 0 else NONE] if _plateaus_differ(morning) else []
    return [score, *inputs, *values, *level]


def _inputs(morning: Morning, amounts: Mapping[str, Written]) -> list[str]:
    """What varies as a design file says it: a ratio is the amount that it stands for."""
    return [amount_text(column, amounts.get(column.name)) for column in morning.results.varying]


def _score(score: float) -> str:
    return f"{score:.3f}".replace("-", "−")


def _plateaus_differ(morning: Morning) -> bool:
    """Whether the response per newton is worth a column: slots and gaps leave that of the diaphragm as it is."""
    base = morning.base.figure(PLATEAU)
    return base > 0 and any(abs(best.figure(PLATEAU) / base - 1) > 1e-6 for best in morning.best)


def _file(designs: Sequence[Path], place: int) -> str:
    return f"best/{designs[place - 1].name}" if place <= len(designs) else ""


def _rank_of(morning: Morning) -> str:
    """The place that the base design would take among all cases as they were solved."""
    if not morning.base.inside or morning.base_breaks or morning.ranking is None:
        return NONE
    return str(1 + int((morning.ranking.score > morning.base.score).sum()))


def _tie(morning: Morning, ranking: Ranking) -> list[str]:
    """That the next ranks are as good as the winner, as far as their figures can be told apart."""
    winner, *others = morning.best
    tied = len(list(takewhile(lambda one: ranking.as_good(one.judged, winner.judged), others)))
    cases = len(morning.neighbourhood.tied) if morning.neighbourhood else 0
    words = f": what is wished for differs by no more than {_untold(ranking)}."
    as_solved = f"{cases} cases as they were solved are as good as the winner" if cases > tied + 1 else ""
    if not tied:
        return [as_solved + words] if as_solved else []
    return [f"Ranks 1 to {tied + 1} are a tie{as_solved and f', and {as_solved}'}{words}"]


def _about_base(morning: Morning, ranking: Ranking) -> list[str]:
    base, winner = morning.base, morning.best[0]
    if base.trouble:
        return [f"The base design could not be solved beside them: {base.trouble}."]
    if morning.base_breaks:
        return [f'The base design breaks "{morning.base_breaks}" of [keep], so it is no rival.']
    if not base.inside:
        return ["The base design does not keep to all limits."]
    if base.score >= winner.score or not winner.inside:
        return ["No case beats the base design."]
    gains = [_gain(morning, ranking, wish.figure) for wish in ranking.wishes]
    told = join_words(
        [gain for gain in gains if gain] or [f"nothing that was wished for by more than {_untold(ranking)}"]
    )
    held, gone = base.figures.get(HAND_OVER), winner.figures.get(HAND_OVER, "not kept") is None
    lost = f" The base hands its motion over from {show_hz(held)}, the winner does not." if held and gone else ""
    return [f"Against the base design the winner changes {told}.{lost}"]


def _marks_of_nothing(morning: Morning, ranking: Ranking) -> list[str]:
    """Wishes whose marks run from 0 to 1 over a difference that cannot be told."""
    alike = []
    for wish in ranking.wishes:
        values = morning.results.judged(wish.figure)[ranking.order]
        values = values[np.isfinite(values)]
        if len(values) and ranking.alike(wish.figure, values.max(), values.min()):
            alike.append(wish.figure)
    words = f"all cases are alike within {_untold(ranking, alike)}: marks rank by chance there."
    return [f"In {join_words([naming(figure).words for figure in alike])} {words}"] if alike else []


def _untold(ranking: Ranking, figures: Iterable[str] | None = None) -> str:
    """ "1 %, which cannot be told apart", of these figures or all that is wished for."""
    names = [wish.figure for wish in ranking.wishes] if figures is None else figures
    return f"{least_words(names, ranking.off)}, which cannot be told apart"


def _given_up(morning: Morning, ranking: Ranking) -> list[str]:
    """What the winner has less of than the case that is best in one wish alone: where wishes pull apart."""
    winner, told = morning.best[0], []
    for wish, marks in zip(ranking.wishes, ranking.marks, strict=True):
        case = int(ranking.order[marks.argmax()])
        found = morning.results.of_case(case)
        if not ranking.alike(wish.figure, winner.judged.get(wish.figure), found.judged.get(wish.figure)):
            alone, now = (_value(wish.figure, design) for design in (found, winner))
            told.append(f"{naming(wish.figure).words} {alone} (case {morning.results.numbers[case]}), not {now}")
    return [f"Wished for alone there would be {join_words(told)}."] if told and len(ranking.wishes) > 1 else []


def _own_bands(morning: Morning, ranking: Ranking) -> list[str]:
    """That what is wished for is read over each driver's own band: the one that plays less far passes for more even."""
    wished = [wish.figure for wish in ranking.wishes]
    own = [naming(figure).words for figure in wished if figure in OVER_A_BAND]
    if not own:
        return []
    ends = [design.figures.get("loaded_departure_hz") for design in (morning.best[0], morning.base)]
    told = "" if None in ends else ": the winner's ends at {}, the base's at {}".format(*map(show_hz, ends))
    return [
        f"Each design's {join_words(own)} {'is' if len(own) == 1 else 'are'} read over a band of its own, which "
        f"ends at its loaded 3 dB departure{told}. To judge all over one band, name it under [want] and wish for "
        f"`{next(figure for figure in wished if figure in OVER_A_BAND)}:NAME`."
    ]


def _gain(morning: Morning, ranking: Ranking, figure: str) -> str:
    """ "break-up mode from 7.73 kHz to 12.0 kHz"; "" for a change that cannot be told."""
    both = morning.base, morning.best[0]
    told = [_value(figure, design) for design in both]
    if ranking.alike(figure, *(design.judged.get(figure) for design in both)) or told[0] == told[1]:
        return ""
    return f"{naming(figure).words} from {told[0]} to {told[1]}"


def _value(figure: str, design: Beside | CaseResult) -> str:
    """A figure in words, of what never comes "none up to 20.0 kHz", octaves with the digits of the ranking: 7.66 there
    were 7.7 here, "not 7.6" of 7.65."""
    value, never = design.figures.get(figure), design.never.get(figure)
    if value is not None and figure.partition(":")[0].endswith("octaves"):
        return naming(figure).text(value)
    return value_text(figure, value) + (f" up to {value_text(figure, never)}" if never else "")


def _thresholds(morning: Morning) -> list[str]:
    """What the winner's place may be owed to."""
    told = []
    for near in morning.near_misses[0] if morning.near_misses else ():
        unit = f" {near.unit}" if near.unit else ""
        told.append(
            f"The winner owes its {naming(near.figure).words} to a threshold of {near.threshold:g}{unit}, which it "
            f"clears by {near.clears_by:.2g}{unit}: the {near.zone} comes to {near.value:.3g}{unit} at "
            f"{show_hz(near.frequency_hz)}. Rank by a smooth measure over a band to be sure of it."
        )
    return told


def _opinion(morning: Morning) -> list[str]:
    """How far the winner's shell figures are from the solid."""
    opinion = morning.opinion
    if opinion is None:
        return []
    model = "the shell with its ends and joints" if morning.results.study.recipe.joints else "the bare shell"
    if not opinion.solid:
        return ["The winner could not be solved as a solid: its figures are the shell's alone."]
    agrees = "every figure agrees within 2 %"
    where = ", in vacuum" if "loaded_" in morning.best[0].read else ""
    if opinion.differing:
        apart = "; ".join(
            f"{naming(name).words} {value_text(name, solid)}, not {value_text(name, shell)}"
            for name, (shell, solid) in list(opinion.differing.items())[:DIFFERING_SHOWN]
        )
        agrees = f"believe the solid where they differ: {apart}"
    return [f"All cases were solved by {model}. The winner was solved as a solid as well{where}: {agrees}."]


def _finer_mesh(morning: Morning) -> list[tuple[str, bool]]:
    """What elements half as long move of figures that were wished for or limited, and whether one must doubt them."""
    found = morning.finer_mesh
    if found is None:
        return []
    others = found.looked_at - 1
    those = "The winner" + (f" and {others} other case{'s' * (others > 1)} spread over the study" if others else "")
    moves = f"what decides here moves by {100 * found.times_told:.2g} % of what can be told apart at most"
    if doubt := found.times_told > 1:
        whose = "the winner" if found.case is None else f"case {found.case}"
        finer, ranked = (value_text(found.figure, value) for value in (found.finer, found.ranked))
        moves = f"{naming(found.figure).words} of {whose} is {finer}, not {ranked}. Trust the ranking no further"
    return [(f"{those} {'were' if others else 'was'} solved again on elements half as long: {moves}.", doubt)]


def around_blocks(morning: Morning, designs: Sequence[Path]) -> list[Block]:
    """Whether the winner stands on a plateau or a needle, at an end of a range, and where that can be found out."""
    around, results = morning.neighbourhood, morning.results
    if around is None:
        return []
    number = results.numbers[around.winner]
    if not around.neighbours:
        words = f"How well case {number} bears small errors of the making is not told: "
        amounts, variables = morning.best[0].amounts, results.study.recipe.variables
        scatters = any(assumed_scatter(variable, amounts.get(variable.name)) for variable in variables)
        words += "with such errors it could not be solved." if scatters else "none are assumed of what varies here."
    else:
        each = f"Solved again as drawn with {_scatters(around)} either way, one at a time,"
        if around.behind:
            bad = join_words([f"{one.change} of {one.variable.replace('_', ' ')}" for one in around.behind])
            words = (
                f"Case {number} stands on a needle: small errors of the making cost it its lead. {each} it breaks a "
                f"limit, loses more than a fifth of its score or cannot be solved with {bad}."
            )
            if around.steady:
                words += f" The first that keeps up is rank {around.steady}."
            elif len(morning.best) > 1:
                words += " None of the next ranks keeps up either."
        else:
            least = min(near.design.score for near in around.neighbours)
            words = (
                f"Case {number} stands on a plateau: small errors of the making cost it little. {each} it keeps all "
                f"limits and a score of {_score(least)} at least, of {_score(morning.best[0].score)}."
            )
        words += " Such errors are assumed (common practice, no source); two at once may cost more."
    if around.at_end:
        names = join_words([name.replace("_", " ") for name in around.at_end])
        words += (
            f" It stands at the end of the range of {names}: a better one may lie beyond, so widen the study there."
        )
    if designs and designs[-1].name.startswith("tolerance_of"):
        words += f" A tolerance study of it is ready: `diaphragm-fem sweep {typed(designs[-1])}`."
    return [Heading("Around the winner"), Words(words)]


def _scatters(around: Neighbourhood) -> str:
    """ "0.03 mm of tread and 4 % of thickness"."""
    told = {near.variable.replace("_", " "): near.change[1:] for near in around.neighbours}
    return join_words([f"{scatter} of {name}" for name, scatter in told.items()])


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
    if morning.base.figures:
        _, *cells = _cells(morning, morning.base, list(morning.aims))
        rows.append(["base", *cells[: len(head) - 1]])
    return [Heading("Trade-off"), Words(words), Table(head, rows)]
