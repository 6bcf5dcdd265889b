"""What the places of the best designs may be owed to, and how far the winner's shell is from the solid."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS
from diaphragm_fem.analysis.figures.thresholds import Threshold, threshold_of
from diaphragm_fem.answer.machine.one_thread import one_thread
from diaphragm_fem.answer.quick import Quick, quick, quick_of
from diaphragm_fem.answer.trust.second_opinion import differing
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.plan.study import Recipe


@dataclass(frozen=True)
class Opinion:
    """The solid's word on one design: figures (name -> shell's, solid's) in which the two models differ by more than
    2 %; solid: whether the solid could be asked; joints: whether the shell knew of ends, joints and thick walls.
    """

    differing: Mapping[str, tuple[float | None, float | None]]
    solid: bool
    joints: bool


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


def _solved(recipe: Recipe, names: Iterable[str], data: Mapping[str, Any]) -> tuple[Design, Quick] | None:
    if not any(name.partition(":")[0] in DEFINITIONS for name in names):
        return None
    try:
        design = recipe.drawn(data)
        return design, quick(design, up_to_hz=recipe.up_to_hz, wanted=recipe.wanted, corrected=recipe.joints)
    except DiaphragmError:
        return None
