"""What the places of the best designs may be owed to, how far the winner's shell is from the solid, and what a finer
mesh moves of the winner and of cases all over the study.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import ceil, isfinite
from typing import Any

import numpy as np

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, difference
from diaphragm_fem.analysis.figures.smooth_measures import MEASURES
from diaphragm_fem.analysis.figures.thresholds import Threshold, threshold_of
from diaphragm_fem.answer.machine.one_thread import one_thread
from diaphragm_fem.answer.quick import Quick, quick, quick_of
from diaphragm_fem.answer.trust.second_opinion import differing
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.morning.beside import Beside
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.study import Recipe

ONE_IN, MOST_LOOKED_AT = 50, 9  # cases beside the winner: one in so many, a second's work at most


@dataclass(frozen=True)
class Opinion:
    """The solid's word on one design: figures (name -> shell's, solid's) in which the two models differ by more than
    2 %; solid: whether the solid could be asked; joints: whether the shell knew of ends, joints and thick walls.
    """

    differing: Mapping[str, tuple[float | None, float | None]]
    solid: bool
    joints: bool


@dataclass(frozen=True)
class FinerMesh:
    """What elements half as long move in designs, of which so many were looked at: the figure that is farthest off, the
    number of its case (None: the winner as drawn), its value as ranked and by the finer elements.
    """

    looked_at: int
    figure: str
    case: int | None
    ranked: float | None
    finer: float | None

    @property
    def apart(self) -> float:
        """How far that figure is off, relative as `difference` says."""
        return difference(self.figure, self.ranked, self.finer)


@one_thread
def near_misses(recipe: Recipe, names: Iterable[str], data: Mapping[str, Any]) -> tuple[Threshold, ...]:
    """The nearest near miss of each figure, wished or limited, that hangs on a threshold; none where the design cannot
    be solved.
    """
    names = tuple(dict.fromkeys(names))
    found = _solved(recipe, names, data)
    if found is None:
        return ()
    told = [threshold_of(found[1].figures, name) for name in names]
    return tuple(one for one in told if one is not None)


@one_thread
def second_opinion_of(recipe: Recipe, names: Iterable[str], data: Mapping[str, Any]) -> Opinion | None:
    """Shell and solid of one design; None where its figures are not this program's or it cannot be solved."""
    found = _solved(recipe, names, data)
    if found is None:
        return None
    from diaphragm_fem.model.solid.solid import build_solid

    design, shell = found
    top = recipe.up_to_hz
    try:
        solid = quick_of(build_solid(design, up_to_hz=top).structure(0), top, wanted=recipe.wanted).figures
    except DiaphragmError:
        return Opinion({}, False, recipe.joints)
    return Opinion(differing(shell.figures, solid), True, recipe.joints)


@one_thread
def on_finer_mesh(results: Results, names: Iterable[str], winner: Beside) -> FinerMesh | None:
    """The winner and one case in fifty, spread over the study, solved again by elements half as long, with joints of
    their own; None in a driver, and where none of them has a figure that the shell gives.

    One mesh carries no estimate of its error: this looks whether it will do here.
    """
    recipe, names = results.study.recipe, tuple(dict.fromkeys(names))
    count = min(MOST_LOOKED_AT, ceil(len(results) / ONE_IN))
    spread = np.linspace(0, len(results) - 1, count + 2)[1:-1].astype(int).tolist()
    designs = [(None, winner.data), *((k, recipe.design_of(results.written[k])) for k in spread)]
    found, looked_at = [], 0
    for case, data in designs if _are_the_shells(names) else ():
        finer = _finer(recipe, data)
        looked_at += bool(finer)
        for name in finer.keys() & set(names):
            ranked = winner.figure(name) if case is None else float(results.figure(name)[case])
            number = None if case is None else int(results.numbers[case])
            found.append(FinerMesh(0, name, number, ranked if isfinite(ranked) else None, finer[name]))
    worst = max(found, key=lambda one: (one.apart, one.figure), default=None)
    return None if worst is None else replace(worst, looked_at=looked_at)


def _finer(recipe: Recipe, data: Mapping[str, Any]) -> Mapping[str, float | None]:
    """Figures by elements half as long; none where they cannot be had."""
    try:
        design = recipe.drawn(data)
        if design.driver is not None:
            return {}
        found = quick(design, up_to_hz=recipe.up_to_hz, wanted=recipe.wanted, corrected=recipe.joints, refine=2)
        return found.figures.table()
    except DiaphragmError:
        return {}


def _are_the_shells(names: Iterable[str]) -> bool:
    """Whether some are figures that the shell gives."""
    return any(name.partition(":")[0] in (*DEFINITIONS, *MEASURES) for name in names)


def _solved(recipe: Recipe, names: Iterable[str], data: Mapping[str, Any]) -> tuple[Design, Quick] | None:
    if not _are_the_shells(names):
        return None
    try:
        design = recipe.drawn(data)
        return design, quick(design, up_to_hz=recipe.up_to_hz, wanted=recipe.wanted, corrected=recipe.joints)
    except DiaphragmError:
        return None
