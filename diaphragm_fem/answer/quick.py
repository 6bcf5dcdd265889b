"""One design on one mesh, as quickly as its figures and its area curve can be had: what a sweep runs."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from diaphragm_fem.analysis.figures.break_up_mode import ModeStrains, StrainsUpTo, mode_strains
from diaphragm_fem.analysis.figures.definitions import AS_USUAL, Wanted
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.read_figures import figures_of
from diaphragm_fem.analysis.modes.own_modulus import eigenpairs_at_own_modulus
from diaphragm_fem.analysis.solution import Solution, solve
from diaphragm_fem.design.design import Design
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.structure import Structure

Whole: TypeAlias = Callable[[float], Structure]  # in which modes up to a frequency in Hz are sought


@dataclass(frozen=True, eq=False)
class Quick:
    """The solution of a structure of order 0 and the figures read from it."""

    solution: Solution
    figures: Figures


def quick(
    design: Design,
    *,
    up_to_hz: float = 20e3,
    wanted: Wanted = AS_USUAL,
    corrected: bool = True,
    refine: int = 1,
) -> Quick:
    """Modes, area and figures of a driven design from the shell model, m = 0, one mesh.

    corrected: whether ends, joints and the thickness of walls are put right (see `model.joint.correction`); refine:
    into how many each element of the usual mesh is cut.
    Raises AnalysisError without a drive; design and mesh errors pass through.
    """
    model = build_shell(design, up_to_hz=up_to_hz, refine=refine, corrected=corrected)
    return quick_of(model.structure(0), up_to_hz, wanted)


def quick_of(structure: Structure, up_to_hz: float, wanted: Wanted = AS_USUAL) -> Quick:
    """The same from an assembled structure of order 0."""
    return quick_from(solve(structure, up_to_hz), wanted)


def quick_from(solution: Solution, wanted: Wanted = AS_USUAL, whole: Whole | None = None) -> Quick:
    """The same from a solution that is there already; `whole` as in `figures_of_solution`."""
    return Quick(solution, figures_of_solution(solution, wanted, whole))


def strains_of(solution: Solution, whole: Whole | None = None) -> StrainsUpTo:
    """The modes of a solution up to any frequency; beyond its range they are solved when asked for."""

    def strains(top: float) -> ModeStrains:
        if top <= solution.up_to_hz:
            return mode_strains(solution.structure, solution.pairs)
        structure = solution.structure if whole is None else whole(top)
        return mode_strains(structure, eigenpairs_at_own_modulus(structure, top))

    return strains


def figures_of_solution(solution: Solution, wanted: Wanted = AS_USUAL, whole: Whole | None = None) -> Figures:
    """The figures of a solution; modes beyond its range are sought only where that holds no break-up mode.

    whole: makes the structure in which they are sought, where the solution's own is a reduced one that may know nothing
    beyond its range: on such, break-up modes of light metals above 20 kHz came out up to 42 % off.
    """
    return figures_of(
        solution.static, solution.scan, solution.reduced.curve, strains_of(solution, whole), solution.fundamental_hz,
        even_db=wanted.even_db, bands=wanted.bands,
    )  # fmt: skip
