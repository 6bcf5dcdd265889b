"""One case of a study: its design made, ruled out or solved, and put into the form of a row."""

import importlib
import json
import time
import traceback
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, partial
from math import isfinite
from typing import TYPE_CHECKING, Any

from numpy.typing import NDArray

from diaphragm_fem.errors import DiaphragmError, StudyError, plain
from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.plan.study import Recipe
from diaphragm_fem.study.run.curve_packing import pack_curves
from diaphragm_fem.study.run.solver_process import Case
from diaphragm_fem.study.run.store import DISCARDED, DONE, FAILED, Row

if TYPE_CHECKING:  # its types load half of what a solver takes to begin
    from diaphragm_fem.analysis.figures.figures import Figures

EVALUATOR = "diaphragm_fem.study.run.case_answer:evaluate_case"
CHANGED = "a file that its design names was changed while the study ran"  # how the reason of such a case begins
OUT_OF_REACH = "a file that its design names cannot be read where it is solved"


@dataclass(frozen=True)
class CaseResult:
    """The answers for one design.

    figures   figure by name, in SI units; None where that figure does not exist for this design.
    never     of those None, what never comes, and by what it is judged (see `Figures.never`).
    read      from what figures were read, by what stands before their names: "", "loaded_"; not stored.
    curves    arrays by name, real or complex, with their axis among them ("frequency_hz").
    warnings  what the reader should know about these answers.
    """

    figures: Mapping[str, float | None]
    curves: Mapping[str, NDArray] = field(default_factory=dict)
    warnings: tuple[str, ...] | list[str] = ()
    never: Mapping[str, float] = field(default_factory=dict)
    read: Mapping[str, "Figures"] = field(default_factory=dict)

    @property
    def judged(self) -> dict[str, float | None]:
        """Figures as wishes and limits judge them."""
        return {**self.figures, **self.never}


Evaluator = Callable[[Mapping[str, Any], Recipe], CaseResult]


@cache
def find_evaluator(name: str) -> Evaluator:
    """The function "module:function" that answers for a design: (data of its file, recipe of the study) -> CaseResult.

    The answer for a case must be the same to the last bit whatever was solved before it in the same process: what it
    keeps from case to case (a mesh, an assembly) may make it faster, never different.
    """
    module, _, function = name.partition(":")
    return getattr(importlib.import_module(module), function)


def prepare(recipe: Recipe, name: str) -> None:
    """Let an evaluator make ready for a recipe: `prepare(recipe)` of its module, if it has that. No limit of time is
    kept meanwhile but that of starting a solver."""
    module = importlib.import_module(name.partition(":")[0])
    getattr(module, "prepare", lambda _: None)(recipe)


def begun(recipe: Recipe, case: Case) -> dict[str, Any] | Row:
    """The data of a case's design; the row of the case where that breaks a constraint or cannot be made."""
    number, values = case
    begin, design = time.perf_counter(), None
    try:
        design = recipe.design_of(values)
        status, reason = DISCARDED, recipe.broken_constraint(design)
    except MemoryError:
        raise
    except Exception as error:
        status, reason = FAILED, _words(error)
    if design is not None and reason is None:
        return design
    fingerprint = None if design is None else recipe.fingerprint(design)
    return Row(number, status, reason, inputs_text(recipe, values), fingerprint, seconds=time.perf_counter() - begin)


def look_ahead(recipe: Recipe, cases: Sequence[Case], name: str) -> dict[int, dict[str, Any] | Row]:
    """What cases that will be solved next begin with, by number. The evaluator may make their designs ready side by
    side: `look_ahead(designs, recipe)` of its module; nothing where it has none."""
    module = importlib.import_module(name.partition(":")[0])
    if (make_ready := getattr(module, "look_ahead", None)) is None:
        return {}
    found = {case[0]: begun(recipe, case) for case in cases}
    make_ready([one for one in found.values() if not isinstance(one, Row)], recipe)
    return found


def inputs_text(recipe: Recipe, values: tuple[Written, ...]) -> str:
    return _text(dict(zip((v.name for v in recipe.variables), values, strict=True)))


def given_up(recipe: Recipe, case: tuple[int, tuple[Written, ...]], status: str, reason: str) -> Row:
    """The row of a case that nobody answered."""
    number, values = case
    return Row(number, status, reason, inputs_text(recipe, values), recipe.fingerprint(recipe.design_of(values)))


def run_case(
    recipe: Recipe,
    number: int,
    values: tuple[Written, ...],
    evaluator: str,
    *,
    ahead: dict[str, Any] | Row | None = None,
    spent: float = 0.0,
) -> Row:
    """The row of one case; ahead: what `look_ahead` has it begin with, and spent: seconds that it has taken then. A
    case that fails is a row with its reason; nothing is raised but what stops the process, and MemoryError: what goes
    on in a process without memory is not to be trusted."""
    begin = time.perf_counter() - spent
    design = begun(recipe, (number, values)) if ahead is None else ahead
    if isinstance(design, Row):
        return design
    row = partial(Row, number, inputs=inputs_text(recipe, values), fingerprint=recipe.fingerprint(design))
    try:
        result = find_evaluator(evaluator)(design, recipe)
        figures, never = _figures(result, recipe.settings.get("figures"))
        curves = pack_curves(result.curves) if result.curves else None
    except MemoryError:
        raise
    except Exception as error:
        return row(status=FAILED, reason=_words(error), seconds=time.perf_counter() - begin)
    return row(
        status=DONE, reason=None, figures=figures, curves=curves, never=never, seconds=time.perf_counter() - begin,
        warnings=json.dumps(list(result.warnings)) if result.warnings else None,
    )  # fmt: skip


def _words(error: Exception) -> str:
    """Why a case fails, on one line: what is refused in words, else which error arose in which function."""
    told = plain(str(error).replace("\n", "; "))  # a path may have bytes that are no text, which no store takes
    if isinstance(error, DiaphragmError):
        return told
    *_, (frame, _) = traceback.walk_tb(error.__traceback__)
    return f"{type(error).__name__} in {frame.f_code.co_name}: {told}"


def _figures(result: CaseResult, wanted: list[str] | None) -> tuple[str, str | None]:
    """The figures as they are stored, and what of them never comes."""
    figures, asked = result.figures, set(result.figures if wanted is None else wanted)
    chosen = {name: value for name, value in figures.items() if {name, name.split(":")[0]} & asked}
    known = {*figures, *(name.split(":")[0] for name in figures)}
    if wanted and (missing := [name for name in wanted if name not in known]):
        raise StudyError(f"key want.figures: unknown figure '{missing[0]}'; known are {', '.join(figures)}")
    for name, value in chosen.items():
        if value is not None and not isfinite(value):
            raise StudyError(f"the figure {name} came out as {value}, which is no number")
    plain = {name: None if value is None else float(value) for name, value in chosen.items()}
    never = {name: float(value) for name, value in result.never.items() if name in chosen}
    return _text(plain), _text(never) if never else None


def _text(values: Mapping[str, Any]) -> str:
    return json.dumps(values, separators=(",", ":"))
