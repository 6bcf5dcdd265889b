"""What the places of the best designs may be owed to, how far the winner's shell is from the solid, and what a finer
mesh moves of the winner and of cases all over the study."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from math import ceil, isfinite
from typing import Any

import numpy as np

from diaphragm_fem.analysis.figures.thresholds import Threshold, threshold_of
from diaphragm_fem.answer.better import times_told
from diaphragm_fem.answer.machine.cores import one_thread
from diaphragm_fem.answer.quick import quick_of
from diaphragm_fem.answer.trust.second_opinion import differing
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.morning.beside import Beside
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.study import Recipe
from diaphragm_fem.study.plan.wish import Limits, keeps_to
from diaphragm_fem.study.run.case_answer import solved

ONE_IN, MOST_LOOKED_AT = 50, 9  # cases beside the winner: one in so many, a second's work at most without a driver


@dataclass(frozen=True)
class Opinion:
    """The solid's word on one design, as it is in vacuum: figures (name -> shell's, solid's) in which the two models
    differ by more than 2 %; solid: whether the solid could be asked."""

    differing: Mapping[str, tuple[float | None, float | None]]
    solid: bool


@dataclass(frozen=True)
class FinerMesh:
    """What elements half as long move in designs, of which so many were looked at: the figure that is farthest off for
    what can be told of it, the number of its case (None: the winner as drawn), its value as judged and by the finer
    elements. moved: by how many times what can be told each figure is moved where it is moved most.
    """

    looked_at: int
    figure: str
    case: int | None
    ranked: float | None
    finer: float | None
    moved: Mapping[str, float] = field(default_factory=dict)

    @property
    def times_told(self) -> float:
        return times_told(self.figure, self.ranked, self.finer)


def near_misses(design: Beside, wished: Iterable[str], limits: Mapping[str, Limits]) -> tuple[Threshold, ...]:
    """The nearest near miss of each figure, wished or limited, that hangs on a threshold; of one that is limited alone
    the nearest that breaks its limits: a mode of 8 kHz was told of where 4 kHz were asked."""
    told, wished = [], tuple(wished)
    for name in dict.fromkeys((*wished, *limits)):
        before = "loaded_" if name.startswith("loaded_") else ""
        if before in design.found.read:
            harmless = None if name in wished else partial(keeps_to, limits=limits[name])
            near = threshold_of(design.found.read[before], name.removeprefix(before), harmless)
            told.append(near and replace(near, figure=name))
    return tuple(one for one in told if one is not None)


@one_thread
def opinion_of(recipe: Recipe, design: Beside) -> Opinion | None:
    """Shell and solid of one design; None where its figures are not this program's or it could not be solved."""
    shell = design.found.read.get("")
    if shell is None:
        return None
    from diaphragm_fem.model.solid.solid import build_solid

    top = recipe.up_to_hz
    try:
        system = build_solid(recipe.drawn(design.data), up_to_hz=top).structure(0)
        solid = quick_of(system, top, wanted=recipe.wanted).figures
    except DiaphragmError:
        return Opinion({}, False)
    return Opinion(differing(shell, solid), True)


@one_thread
def on_finer_mesh(results: Results, names: Iterable[str], winner: Beside) -> FinerMesh | None:
    """The winner and one case in fifty, spread over the study, solved again by elements half as long, with joints of
    their own; None where none of them has one of these figures, or they are not this program's.

    One mesh carries no estimate of its error: this looks whether it will do here.
    """
    recipe, names = results.study.recipe, tuple(dict.fromkeys(names))
    count = min(MOST_LOOKED_AT, ceil(len(results) / ONE_IN))
    spread = np.linspace(0, len(results) - 1, count + 2)[1:-1].astype(int).tolist()
    designs = [(None, winner.data), *((k, recipe.design_of(results.written[k])) for k in spread)]
    found, looked_at = [], 0
    for case, data in designs if winner.found.read else ():
        finer = _finer(recipe, data)
        looked_at += bool(finer)
        for name in finer.keys() & set(names):
            ranked = (winner.found if case is None else results.of_case(case)).judged.get(name)
            number = None if case is None else int(results.numbers[case])
            found.append(FinerMesh(0, name, number, ranked, finer[name]))
    worst = max(found, key=lambda one: (one.times_told, one.figure), default=None)
    moved = {name: max(one.times_told for one in found if one.figure == name) for name in {one.figure for one in found}}
    return None if worst is None else replace(worst, looked_at=looked_at, moved=moved)


def known_off(opinion: Opinion | None, finer: FinerMesh | None) -> dict[str, float]:
    """By how many times what can be told figures are known to be off here, by the solid and by the finer mesh."""
    off = dict(finer.moved) if finer else {}
    for name, (shell, solid) in opinion.differing.items() if opinion else ():
        off[name] = max(off.get(name, 0.0), times_told(name, shell, solid))
    return {name: times for name, times in off.items() if isfinite(times)}


def _finer(recipe: Recipe, data: Mapping[str, Any]) -> Mapping[str, float | None]:
    """Figures as they are judged, by elements half as long; none where they cannot be had."""
    try:
        return solved(recipe.drawn(data), recipe, refine=2)[1].judged
    except DiaphragmError:
        return {}
