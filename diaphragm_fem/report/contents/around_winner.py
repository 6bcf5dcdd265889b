"""Whether a winner stands on a plateau or on a needle, at an end of a range, and where that can be found out."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from diaphragm_fem.errors import typed
from diaphragm_fem.report.blocks.blocks import Block, Heading, Words
from diaphragm_fem.report.contents.winner import score_text, value_told
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.words import join_words
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.best_files import tolerance_study
from diaphragm_fem.study.morning.neighbours import FAR_BEHIND, Neighbour, Neighbourhood, assumed_scatter


def around_blocks(morning: Morning, designs: Sequence[Path]) -> list[Block]:
    """How the winner bears small manufacturing errors; `designs` are the files of the best, a tolerance study last."""
    around = morning.neighbourhood
    if around is None:
        return []
    number = morning.results.numbers[around.winner]
    if not around.neighbours:
        words = f"How well case {number} bears small manufacturing errors is not told: {_untried(morning)}"
    else:
        told = _needle(morning, around) if around.behind else _plateau(morning, around)
        words = f"Case {number} {told} Such errors are assumed (common practice, no source); two at once may cost more."
    if around.at_end:
        names = join_words([name.replace("_", " ") for name in around.at_end])
        words += (
            f" It stands at the end of the range of {names}: a better one may lie beyond, so widen the study there."
        )
    if study := tolerance_study(designs):
        words += f" A tolerance study of it is ready: `diaphragm-fem sweep {typed(study)}`."
    return [Heading("Around the winner"), Words(words)]


def _untried(morning: Morning) -> str:
    amounts, variables = morning.best[0].amounts, morning.results.study.recipe.variables
    scatters = any(assumed_scatter(variable, amounts.get(variable.name)) for variable in variables)
    return "with such errors it could not be solved." if scatters else "none are assumed of what varies here."


def _needle(morning: Morning, around: Neighbourhood) -> str:
    lost = any(one.design.found.figures for one in around.behind)
    needle, edge = "a needle: small manufacturing errors cost it its lead", "the edge of what can be solved"
    falls = _falls_to(morning, around.behind)
    words = f"stands on {needle if lost else edge}. {_as_tried(around)} it {_how_behind(around.behind)}.{falls}"
    if around.steady:
        words += f" The first that keeps up is rank {around.steady}."
    elif len(morning.best) > 1:
        words += " None of the next ranks keeps up either."
    return words


def _how_behind(behind: Iterable[Neighbour]) -> str:
    """ "breaks a limit with +0.03 mm of tread and cannot be solved with −0.03 mm of gap": what cannot be solved has no
    known price."""
    ways: dict[str, list[str]] = {}
    for one in behind:
        solved = bool(one.design.found.figures)
        breaks = "loses more than a fifth of its score" if one.design.inside else "breaks a limit"
        ways.setdefault(breaks if solved else "cannot be solved", []).append(_change(one))
    return join_words([f"{way} with {join_words(changes)}" for way, changes in ways.items()])


def _change(near: Neighbour) -> str:
    return f"{near.change} of {near.variable.replace('_', ' ')}"


def _plateau(morning: Morning, around: Neighbourhood) -> str:
    least, own = min(near.design.score for near in around.neighbours), morning.best[0].score
    cost, alike = "no small manufacturing error costs it a fifth of its score", ""
    if least < own - FAR_BEHIND * abs(own):
        cost, alike = "small manufacturing errors cost it little", ", for differences that cannot be told apart"
    return (
        f"stands on a plateau: {cost}. {_as_tried(around)} it keeps all limits and a score of {score_text(least)} at "
        f"least, of {score_text(own)}{alike}.{_falls_to(morning, around.neighbours)}"
    )


def _falls_to(morning: Morning, neighbours: Iterable[Neighbour]) -> str:
    """What the worst of these errors makes of what is wished for: a fifth of a score may be 0.2 or 20 dB. Nothing
    where they break a limit alone, or leave nothing to solve."""
    ranking, best = morning.ranking, morning.best[0]
    fallen = [near for near in neighbours if near.design.score < best.score]
    if ranking is None or not fallen:
        return ""
    worst = min(fallen, key=lambda near: near.design.score)
    then, winner = worst.design.found, best.found
    names = [wish.figure for wish in ranking.wishes]
    told = [
        f"{naming(name).words} {value_told(name, then)}, not {value_told(name, winner)}"
        for name in names
        if not ranking.alike(name, then.judged.get(name), winner.judged.get(name))
    ]
    return f" With {_change(worst)} it has {join_words(told)}." if told else ""


def _as_tried(around: Neighbourhood) -> str:
    """ "Solved again as drawn with 0.03 mm of tread and 4 % of thickness either way, one at a time,"."""
    told = {near.variable.replace("_", " "): near.change[1:] for near in around.neighbours}
    scatters = join_words([f"{scatter} of {name}" for name, scatter in told.items()])
    return f"Solved again as drawn with {scatters} either way, one at a time,"
