"""A few cases drawn before any is solved, so that a study in which none can succeed is told in the evening."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from diaphragm_fem.analysis.smooth_measures import MEASURES
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read import design_from
from diaphragm_fem.errors import DiaphragmError, StudyError
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study import Study

TRIED = 7


def try_cases(study: Study, sampler: Sampler) -> None:
    """Draw and mesh cases spread over the study until one succeeds.

    Raises StudyError with the first reason where none does, and for a figure of a zone that the design does not have.
    """
    recipe, trouble = study.recipe, ""
    for number in dict.fromkeys(np.linspace(0, len(sampler) - 1, TRIED).astype(int).tolist()):
        values = sampler.values(number)
        told = ", ".join(f"{v.name} = {value!r}" for v, value in zip(recipe.variables, values, strict=True))
        try:
            data = recipe.design_of(values)
            if recipe.broken_constraint(data) is not None:
                continue
            design = design_from(data, recipe.origin, folder=Path(recipe.origin).parent)
            mesh_meridian(design, float(recipe.settings["up_to_hz"]))
        except DiaphragmError as error:
            trouble = trouble or f"case {number} ({told}): {error}"
            continue
        _check_zones(study, design)
        return
    if trouble:
        raise StudyError(f"{study.path}: no case can be solved as far as tried; {trouble}")


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
