"""A few cases drawn before any is solved, so that a study in which none can succeed is told in the evening."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from diaphragm_fem.analysis.smooth_measures import MEASURES
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read import design_from
from diaphragm_fem.errors import DiaphragmError, StudyError
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.study.plan.amount import Written, split_amount
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study import Study

TRIED = 7


def try_cases(study: Study, sampler: Sampler) -> None:
    """Draw and mesh cases spread over the study until one succeeds, and every name of a list in one of them.

    Raises StudyError with the first reason where none does, and for a figure of a zone that the design does not have.
    """
    trouble = ""
    for number in _spread(sampler):
        values = sampler.values(number)
        try:
            design = _drawn(study, values)
        except DiaphragmError as error:
            told = ", ".join(f"{v.name} = {x!r}" for v, x in zip(study.recipe.variables, values, strict=True))
            trouble = trouble or f"case {number} ({told}): {error}"
            continue
        if design is not None:
            _check_zones(study, design)
            _try_lists(study, sampler)
            return
    if trouble:
        raise StudyError(f"{study.path}: no case can be solved as far as tried; {trouble}")


def _spread(sampler: Sampler) -> list[int]:
    return list(dict.fromkeys(np.linspace(0, len(sampler) - 1, TRIED).astype(int).tolist()))


def _drawn(study: Study, values: tuple[Written, ...]) -> Design | None:
    """The design of a case, drawn and meshed; None for one that is discarded."""
    recipe = study.recipe
    data = recipe.design_of(values)
    if recipe.broken_constraint(data) is not None:
        return None
    design = design_from(data, recipe.origin, folder=Path(recipe.origin).parent)
    mesh_meridian(design, float(recipe.settings["up_to_hz"]))
    return design


def _try_lists(study: Study, sampler: Sampler) -> None:
    """StudyError for a name in a list, such as that of a material, with which no case can be drawn as far as tried.

    Amounts are left alone: one that fits with few of the others is what constraints and failed rows are for.
    """
    for place, variable in enumerate(study.recipe.variables):
        names = [value for value in variable.numbers if variable.source == "list" and split_amount(value) is None]
        for name in dict.fromkeys(names):
            trouble: DiaphragmError | None = None
            for number in _spread(sampler):
                values = list(sampler.values(number))
                values[place] = name
                try:
                    _drawn(study, tuple(values))
                except DiaphragmError as error:
                    trouble = error
                else:
                    break
            else:
                raise StudyError(f"{study.path}, key vary.{variable.name}.list: {name!r} fits no case: {trouble}")


def _check_zones(study: Study, design: Design) -> None:
    """A figure of one zone, 'decoupling_hz:outer step' or 'share_rms:BAND, outer flank', names a zone of the design."""
    zones = [zone.name for zone in design.zones]
    for key, name in study.asked_figures:
        stem, _, zone = name.partition(":")
        if stem in MEASURES:
            zone = zone.partition(",")[2].strip()
        if zone and zone not in zones:
            raise StudyError(
                f"{study.path}, key {key}: '{name}' is the figure of a zone that the design does not have; it has "
                f"{', '.join(zones)}"
            )
