"""The answers a sweep wants of one design file's data: figures and curves, nothing kept that is not asked
for."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.answer.driver.loaded import load_design_on
from diaphragm_fem.answer.quick import Quick, quick
from diaphragm_fem.answer.stroke.figures import never_within, stroke_figures_of
from diaphragm_fem.answer.trust.cautions import design_cautions
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.files.named_files import file_digests
from diaphragm_fem.errors import DiaphragmError, StudyError
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.study.plan.study import Recipe
from diaphragm_fem.study.run.case_row import CHANGED, OUT_OF_REACH, CaseResult
from diaphragm_fem.study.run.look_ahead import Ahead, Solved, made_ahead, walls_ahead
from diaphragm_fem.study.run.shared_joints import read_joints_over
from diaphragm_fem.study.run.shared_meridian import Shelf

_shelf: Shelf | None = None
_ahead: list[Ahead | Solved] = []


def prepare(recipe: Recipe) -> Shelf:
    """Make ready for the cases of a study, whose limit of time is not for loading what solves them: it takes seconds
    where its parts scatter, and is done once."""
    global _shelf
    if _shelf is None or _shelf.recipe is not recipe:
        with suppress(DiaphragmError):  # a base that is to be changed before it is a design: the cases will tell
            if recipe.drawn(recipe.base).driver is not None:
                import diaphragm_fem.answer.driver.driver  # noqa: F401  a tenth of what a solver needs to start
        _shelf = Shelf(recipe)
        _shelf.meet()
        read_joints_over(recipe)
    return _shelf


def look_ahead(designs: Sequence[Mapping[str, Any]], recipe: Recipe) -> None:
    """Make the parts of the cases that come next, and solve those that spans of walls answer."""
    shelf = prepare(recipe)
    _ahead[:] = walls_ahead(designs, shelf) if shelf.pays else made_ahead(designs, recipe)


def evaluate_case(data: Mapping[str, Any], recipe: Recipe) -> CaseResult:
    """Figures and curves of one design by the quick way (shell, m = 0), and the modes of other orders where asked for.

    Cases that differ in walls alone are answered from one shared mesh where that is proven good enough.
    """
    shelf = prepare(recipe)
    settings = recipe.settings
    _check_files(data, recipe)
    place, up_to_hz = next((k for k, one in enumerate(_ahead) if one.data is data), None), recipe.up_to_hz
    ahead = None if place is None else _ahead.pop(place)  # its matrices are not needed any more
    design = ahead.design if ahead else recipe.drawn(data)
    _check_files(data, recipe)  # which may have been changed as it was drawn
    shared = ahead.quick(recipe) if ahead else shelf.quick(data, design) if design.driver is None else None
    result, found = solved(design, recipe, shared=shared)
    curves = _curves(result, settings["curves"], int(settings["points"]))
    if settings["modes"]:
        for order in settings["orders"]:
            above = None if order == 0 else _modes(design, order, up_to_hz, recipe.joints)
            curves[f"mode_hz:{order}"] = result.solution.mode_hz if above is None else above
    stroke = stroke_figures_of(data, design, corrected=recipe.joints)
    figures, never = {**found.figures, **stroke}, {**found.never, **never_within(stroke)}
    return CaseResult(figures, curves, design_cautions(design, up_to_hz), never, found.read)


def _check_files(data: Mapping[str, Any], recipe: Recipe) -> None:
    if not recipe.files or (found := file_digests([data], recipe.folder)).items() <= recipe.files.items():
        return
    if gone := [name for name, digest in found.items() if not digest and recipe.files.get(name)]:
        raise StudyError(
            f"{OUT_OF_REACH}: '{gone[0]}', looked for from {recipe.folder.absolute()}; workers on other machines need "
            "the same folders there"
        )
    raise StudyError(f"{CHANGED}; put it back as it was, or name another store")


def solved(design: Design, recipe: Recipe, *, refine: int = 1, shared: Quick | None = None) -> tuple[Quick, CaseResult]:
    """The shell's solution of a design, one that is shared or its own on elements cut into `refine`, and its figures,
    of a driver also those with everything on."""
    wanted, up_to_hz, corrected = recipe.wanted, recipe.up_to_hz, recipe.joints
    if design.driver is None:
        own = shared or quick(design, up_to_hz=up_to_hz, wanted=wanted, corrected=corrected, refine=refine)
        return own, CaseResult(own.figures.table(), never=own.figures.never, read={"": own.figures})
    from diaphragm_fem.answer.driver.driver import quick_figures

    on = load_design_on(design, up_to_hz=up_to_hz, corrected=corrected, refine=refine)  # a diaphragm is solved once
    own, loaded = on.vacuum.quick(wanted), quick_figures(on, wanted.bands, both=recipe.asks_both)
    figures = {**own.figures.table(), **loaded.figures()}
    read = {"": own.figures, "loaded_": loaded.loaded}
    return own, CaseResult(figures, never={**own.figures.never, **loaded.never}, read=read)


def _curves(result: Quick, wanted: list[str], points: int) -> dict[str, NDArray]:
    if not wanted:
        return {}
    area = result.solution.curve(points)
    curves: dict[str, NDArray] = {}
    for name in wanted:
        if name == "area":
            curves["area_m2"] = area.total
        elif name == "zones":
            for zone, row in zip(area.zones, area.zone, strict=True):
                curves[f"zone_area_m2:{zone.name}"] = row
        elif name == "response":
            curves["response_m2_per_kg"] = area.response
        elif name == "force":
            curves["coil_force_n_per_m"] = area.coil_force
    return {"frequency_hz": area.frequency_hz, **curves}


def _modes(design: Any, order: int, up_to_hz: float, corrected: bool) -> NDArray:
    model = build_shell(design, up_to_hz=up_to_hz, corrected=corrected)
    return np.asarray(solve_modes(model.structure(order), up_to_hz).frequency_hz)
