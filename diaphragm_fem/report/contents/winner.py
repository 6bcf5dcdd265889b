"""What is to be known of a winner: its gain and its price, what its place may be owed to; what stands around it
is told in `around_winner`."""

from collections.abc import Iterable
from itertools import takewhile
from math import log2

import numpy as np

from diaphragm_fem.analysis.figures.definitions import BAND_TO, BANDED, OVER_A_BAND
from diaphragm_fem.answer.better import better, least_words
from diaphragm_fem.report.words.figures import value_text
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.words import join_words, show_hz
from diaphragm_fem.report.words.worth import COSTS, COSTS_TOLD, SHARES
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.ranking import Ranking
from diaphragm_fem.study.plan.wish import distance_from_best
from diaphragm_fem.study.run.case_row import CaseResult

DIFFERING_SHOWN = 4
HAND_OVER = "handed_over_hz"  # for which a part has its steps: a winner that has lost it is told, wished for or not
SHIFTED = 1 / 3  # octaves: a hand-over that has moved so far is told


def ranking_remarks(morning: Morning) -> list[tuple[str, bool]]:
    """What is to be known of the winner, that against the base design first, and whether each is a reason to doubt."""
    ranking = morning.ranking
    assert ranking is not None  # nothing is best otherwise
    bands = (*_own_bands(morning, ranking), *_by_itself(morning, ranking))
    plain = (*_tie(morning, ranking), *_given_up(morning, ranking), *bands)
    alone = morning.opinion is not None and not morning.opinion.solid
    return [
        *((text, bool(morning.base.trouble)) for text in _about_base(morning, ranking)),
        *((text, True) for text in _marks_of_nothing(morning, ranking)),
        *((text, False) for text in plain),
        *((text, True) for text in _thresholds(morning)),
        *((f"Of the winner: {text}.", True) for text in morning.best[0].found.warnings),
        *((text, alone) for text in _opinion(morning)),
        *_finer_mesh(morning),
    ]


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
    return [f"Against the base design the winner changes {told}.{_handed_over(morning)}{_price(morning, ranking)}"]


def _handed_over(morning: Morning) -> str:
    """That the winner hands its motion over no more, or from elsewhere, or that the base does not; "" where it does as
    the base, no part has a step or none is kept.

    Of a ring V the winner handed over from 3.88 in place of 2.16 kHz, untold. Of a driver with everything on, as
    `examine` reads it: of one that gives over from 4.64 kHz it was told that in vacuum it does not.
    """
    kept = morning.base.found.figures
    name = f"loaded_{HAND_OVER}" if f"loaded_{HAND_OVER}" in kept else HAND_OVER
    held, now = (design.found.figures.get(name, 0.0) for design in (morning.base, morning.best[0]))
    if 0.0 in (held, now) or (held and now and abs(log2(now / held)) <= SHIFTED):
        return ""
    if not held:
        if not any(one.startswith(f"{name}:") for one in kept):  # of no step
            return ""
        then = f"the winner does from {show_hz(now)}" if now else "nor does the winner"
        return f" The base does not hand its motion over, {then}."
    then = f"from {show_hz(now)}" if now else "does not"
    return f" The base hands its motion over from {show_hz(held)}, the winner {then}."


def _price(morning: Morning, ranking: Ranking) -> str:
    """What nobody wished for and is worse than of the base, by what a verdict tells as a cost, the worst of it; of a
    driver with everything on."""
    base, winner = (design.found.figures for design in (morning.base, morning.best[0]))
    wished = {wish.figure.partition(":")[0] for wish in ranking.wishes}
    idle = (
        {name for name in COSTS if name.endswith("_band_octaves")} if any("_band_" in one for one in wished) else set()
    )
    much = {}
    for name in COSTS.keys() - wished - idle:
        was, now = base.get(name), winner.get(name)
        of_driver = name in (*BANDED, "excursion_m") or name.startswith("loaded_")
        if was is not None and now is not None and of_driver == ("median_level_db" in base):
            worse = better(name) * (was - now) / COSTS[name]
            much[name] = worse / (abs(was) or 1.0) if name in SHARES else worse
    worst = sorted((name for name in much if much[name] >= 1), key=lambda name: -much[name])[:COSTS_TOLD]
    told = [
        f"{naming(name).words} {value_told(name, morning.best[0].found)} (base {value_told(name, morning.base.found)})"
        for name in worst
    ]
    return f" Its price: {join_words(told)}." if told else ""


def _tie(morning: Morning, ranking: Ranking) -> list[str]:
    """That the next ranks are as good as the winner, as far as their figures can be told apart."""
    winner, *others = morning.best
    tied = len(list(takewhile(lambda one: ranking.as_good(one.found.judged, winner.found.judged), others)))
    cases = len(morning.neighbourhood.tied) if morning.neighbourhood else 0
    words = f": what is wished for differs by no more than {_untold(ranking)}."
    as_solved = f"{cases} cases as they were solved are as good as the winner" if cases > tied + 1 else ""
    if not tied:
        return [as_solved + words] if as_solved else []
    return [f"Ranks 1 to {tied + 1} are a tie{as_solved and f', and {as_solved}'}{words}"]


def _marks_of_nothing(morning: Morning, ranking: Ranking) -> list[str]:
    """Wishes whose marks run from 0 to 1 over a difference that cannot be told."""
    alike = []
    for wish in ranking.wishes:
        values = morning.results.judged(wish.figure)[ranking.order]
        values = values[np.isfinite(values)]
        if len(values) and ranking.alike(wish.figure, values.max(), values.min()):
            alike.append(wish.figure)
    return [f"All cases are alike within {_untold(ranking, alike)}: marks rank by chance there."] if alike else []


def _untold(ranking: Ranking, figures: Iterable[str] | None = None) -> str:
    """ "1 % in x and 0.3 dB in y, which cannot be told apart", of these figures or all that is wished for; where these
    have one limit, the limit alone."""
    limits: dict[str, list[str]] = {}
    for figure in [wish.figure for wish in ranking.wishes] if figures is None else figures:
        limits.setdefault(least_words([figure], ranking.off), []).append(naming(figure).words)
    whose = figures is not None or len(limits) > 1
    told = join_words([f"{least} in {' and '.join(names)}" if whose else least for least, names in limits.items()])
    return f"{told}, which cannot be told apart"


def _given_up(morning: Morning, ranking: Ranking) -> list[str]:
    """What the winner has less of than the case that is best in one wish alone: where wishes pull apart.

    Of cases that were solved as drawn, too, one that has it there as well.
    """
    winner, drawn, told = morning.best[0].found, {one.case: one.found for one in morning.best}, []
    for wish, marks in zip(ranking.wishes, ranking.marks, strict=True):
        for case in ranking.order[np.argsort(-marks, kind="stable")].tolist():
            found = morning.results.of_case(case)
            had, kept, now = (one.judged.get(wish.figure) for one in (found, drawn.get(case, found), winner))
            if ranking.alike(wish.figure, had, kept):
                break
        lack = distance_from_best(np.array([kept, now], float), wish.aim)
        if not ranking.alike(wish.figure, now, kept) and (now is None or lack[0] < lack[1]):  # as drawn it may gain
            values = [value_told(wish.figure, design) for design in (found, winner)]
            told.append(
                f"{naming(wish.figure).words} {values[0]} (case {morning.results.numbers[case]}), not {values[1]}"
            )
    return [f"Wished for alone there would be {join_words(told)}."] if told and len(ranking.wishes) > 1 else []


def _own_bands(morning: Morning, ranking: Ranking) -> list[str]:
    """That what is wished for is read over each driver's own band: the one that plays less far passes for more even."""
    wished = [wish.figure for wish in ranking.wishes]
    own = [naming(figure).words for figure in wished if figure in OVER_A_BAND]
    if not own:
        return []
    ends = [design.found.figures.get(BAND_TO) for design in (morning.best[0], morning.base)]
    told = "" if None in ends else ": the winner's ends at {}, the base's at {}".format(*map(show_hz, ends))
    return [
        f"Each design's {join_words(own)} {'is' if len(own) == 1 else 'are'} read over a band of its own, which "
        f"ends at its loaded 3 dB departure, or where it plays to{told}. To judge all over one band, name it under "
        f"[want] and wish for `{next(figure for figure in wished if figure in OVER_A_BAND)}:NAME`."
    ]


def _by_itself(morning: Morning, ranking: Ranking) -> list[str]:
    """What the winner comes to over its own band, where that differs."""
    found, told = morning.best[0].found, []
    for figure in [wish.figure for wish in ranking.wishes]:
        own, _, band = figure.partition(":")
        both = found.figures.get(figure), found.figures.get(own)
        if band and own in BANDED and None not in both and not ranking.alike(figure, *both):
            told.append(f"{naming(own).words} {value_told(own, found)}, not {value_told(figure, found)}")
    end = found.figures.get(BAND_TO)
    where = f"Over its own band, {f'up to {show_hz(end)}, ' if end else ''}as `examine` reads it,"
    return [f"{where} the winner has {join_words(told)}."] if told else []


def _gain(morning: Morning, ranking: Ranking, figure: str) -> str:
    """ "break-up mode from 7.73 kHz to 12.0 kHz"; "" for a change that cannot be told."""
    both = morning.base.found, morning.best[0].found
    told = [value_told(figure, design) for design in both]
    if ranking.alike(figure, *(design.judged.get(figure) for design in both)) or told[0] == told[1]:
        return ""
    return f"{naming(figure).words} from {told[0]} to {told[1]}"


def value_told(figure: str, design: CaseResult) -> str:
    """A figure in words, of what never comes "none up to 20.0 kHz", octaves with the digits of the ranking."""
    value, never = design.figures.get(figure), design.never.get(figure)
    if value is not None and figure.partition(":")[0].endswith("octaves"):
        return naming(figure).text(value)
    return value_text(figure, value) + (f" up to {value_text(figure, never)}" if never else "")


def _thresholds(morning: Morning) -> list[str]:
    """What the winner's place may be owed to."""
    told = []
    for near in morning.near_misses[0] if morning.near_misses else ():
        unit = f" {near.unit}" if near.unit else ""
        how = f"it clears by {near.clears_by:.2g}{unit}: the {near.zone} comes to"
        if near.clears_by < 0:
            how = f"the {near.zone} passes for less than 1/24 octave: it comes to"
        told.append(
            f"The winner owes its {naming(near.figure).words} to a threshold of {near.threshold:g}{unit}, which {how} "
            f"{near.value:.3g}{unit} at {show_hz(near.frequency_hz)}. "
            "Rank by a smooth measure over a band to be sure of it."
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
    where = ", in vacuum" if "loaded_" in morning.best[0].found.read else ""
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
    moves = f"what decides here moves by at most {100 * found.times_told:.2g} % of the least difference that counts"
    if doubt := found.times_told > 1:
        whose = "the winner" if found.case is None else f"case {found.case}"
        finer, ranked = (value_text(found.figure, value) for value in (found.finer, found.ranked))
        moves = f"{naming(found.figure).words} of {whose} is {finer}, not {ranked}. Trust the ranking no further"
    return [(f"{those} {'were' if others else 'was'} solved again on elements half as long: {moves}.", doubt)]


def score_text(score: float) -> str:
    return f"{score:.3f}".replace("-", "−")
