"""A few cases drawn before any is solved, so that a study in which none can succeed is told in the evening."""

import pickle
from collections.abc import Collection, Sequence
from contextlib import suppress

import numpy as np

from diaphragm_fem.analysis.figures.definitions import MEASURES, OF_ZONES, OVER_BANDS
from diaphragm_fem.analysis.figures.zones import zones_of
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import DiaphragmError, StudyError
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.study.plan.amount import Written, split_amount
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study import Study

TRIED = 7
MOST_TRIED = 400  # amounts of one list, spread over it: a few milliseconds each
MOST_TOLD = 3
FIRST_SECTION = (
    "figures of this study are of the first section alone but overlap_octaves and those that begin with 'sum_'"
)


def try_cases(study: Study, sampler: Sampler) -> list[str]:
    """Draw and mesh cases spread over the study until one succeeds, and every value of a list in one of them.

    Raises StudyError with the first reason where none does, for a name in a list that fits no case, and for a figure of
    a zone that the design does not have. Returns what else is to be told: of which section most figures are, amounts of
    a list that fit no case, and what changes nothing.
    """
    trouble, numbers = "", _evenly(len(sampler), TRIED)
    for number in numbers:
        values = sampler.values(number)
        try:
            design = _drawn(study, values)
        except DiaphragmError as error:
            told = ", ".join(f"{v.name} = {x!r}" for v, x in zip(study.recipe.variables, values, strict=True))
            trouble = trouble or f"case {number} ({told}): {error}"
            continue
        if design is not None:
            _check_zones(study, design)
            cases = [values, *map(sampler.values, numbers)]
            return [*[FIRST_SECTION] * study.recipe.of_two, *_try_lists(study, cases), *_idle(study, cases)]
    if trouble:
        raise StudyError(f"{study.path}: no case can be solved as far as tried; {trouble}")
    return _try_lists(study, list(map(sampler.values, numbers)))


def _evenly(length: int, count: int) -> list[int]:
    return list(dict.fromkeys(np.linspace(0, length - 1, count).astype(int).tolist()))


def _drawn(study: Study, values: tuple[Written, ...], *, constrained: bool = True) -> Design | None:
    """The design of a case, drawn and meshed; None for one that is discarded."""
    recipe = study.recipe
    data = recipe.design_of(values)
    if constrained and recipe.broken_constraint(data) is not None:
        return None
    design = recipe.drawn(data)
    mesh_meridian(design, recipe.up_to_hz)
    return design


def _try_lists(study: Study, cases: Sequence[tuple[Written, ...]]) -> list[str]:
    """Every value of a list put into some cases, of which the first is known to be good, constraints aside.

    A name, such as that of a material, with which none can be drawn is refused. An amount is told: it may fit with few
    of the others, which is what constraints and failed rows are for.
    """
    told = []
    for place, variable in enumerate(study.recipe.variables):
        values = list(dict.fromkeys(variable.numbers)) if variable.source == "list" else []
        for value in values if len(values) <= MOST_TRIED else [values[k] for k in _evenly(len(values), MOST_TRIED)]:
            trouble = _trouble(study, [(*case[:place], value, *case[place + 1 :]) for case in cases])
            if trouble is None:
                continue
            where = f"key vary.{variable.name}.list: {value!r} fits no case"
            if split_amount(value) is None:
                raise StudyError(f"{study.path}, {where}: {trouble}")
            told.append(f"{where} as far as tried: {trouble}")
    return told if len(told) <= MOST_TOLD else [*told[:MOST_TOLD], f"and {len(told) - MOST_TOLD} more such values"]


def _trouble(study: Study, cases: Sequence[tuple[Written, ...]]) -> DiaphragmError | None:
    """The first reason why none of these cases can be drawn; None where one can."""
    trouble: DiaphragmError | None = None
    for values in cases:
        try:
            _drawn(study, values, constrained=False)
        except DiaphragmError as error:
            trouble = trouble or error
        else:
            return None
    return trouble


def _idle(study: Study, cases: Sequence[tuple[Written, ...]]) -> list[str]:
    """What varies and leaves the design as it is: the thickness of a wall whose zones all have their own."""
    recipe, (good, *others), told = study.recipe, cases, []

    def asked(values: tuple[Written, ...]) -> bytes:
        data = recipe.design_of(values)
        return pickle.dumps((recipe.drawn(data), data.get("stroke")))

    as_it_is = asked(good)
    for place, variable in enumerate(recipe.variables):
        drawn = []
        for value in dict.fromkeys(case[place] for case in others if case[place] != good[place]):
            with suppress(DiaphragmError):
                drawn.append(asked((*good[:place], value, *good[place + 1 :])))
                if drawn[-1] != as_it_is:
                    break
        if drawn and all(one == as_it_is for one in drawn):
            told.append(
                f"key vary.{variable.name}: '{variable.keys[0]}' changes nothing of the design as far as tried; is "
                "another key in force there?"
            )
    return told


def _check_zones(study: Study, design: Design) -> None:
    """A figure of single zones, 'decoupling_hz:outer step' or 'share_rms:BAND, outer flank', names one that it is told
    of, and no other figure names any."""
    of_stroke = _figures_of_stroke(study)
    for key, name in study.asked_figures:
        stem, _, part = name.removeprefix("loaded_").partition(":")
        over_a_band = stem in (*MEASURES, *OVER_BANDS)
        zone = part.partition(", ")[2] if over_a_band else part
        if stem in OF_ZONES:
            of = zones_of(OF_ZONES[stem], design.zones)
            if zone not in of and (zone or over_a_band):
                raise StudyError(
                    f"{study.path}, key {key}: '{name}' must end in a zone of which '{stem}' is told; the design has "
                    f"{', '.join(of) or 'none'}"
                )
        elif zone and stem not in of_stroke:
            raise StudyError(
                f"{study.path}, key {key}: '{stem}' is read over no band of a study and told of no zone; over bands "
                f"are {', '.join((*MEASURES, *OVER_BANDS))}, of zones {', '.join(OF_ZONES)}"
            )


def _figures_of_stroke(study: Study) -> Collection[str]:
    """Figures behind whose colon a share or a frequency stands; loaded for designs that have them alone."""
    if "stroke" not in study.recipe.base:
        return ()
    from diaphragm_fem.answer.stroke.figures import STROKE_FIGURES

    return STROKE_FIGURES
