"""One design on one mesh, as quickly as its figures and its area curve can be had: what a sweep runs."""

from __future__ import annotations

from dataclasses import dataclass

from diaphragm_fem.analysis.merit import Merit, figures_of_merit
from diaphragm_fem.analysis.solution import Solution, solve
from diaphragm_fem.design.design import Design
from diaphragm_fem.model.shell import build_shell
from diaphragm_fem.model.structure import Structure


@dataclass(frozen=True, eq=False)
class Quick:
    """The solution of a structure of order 0 and the figures read from it."""

    solution: Solution
    merit: Merit


def quick(design: Design, *, up_to_hz: float = 20e3, from_hz: float = 20.0) -> Quick:
    """Modes, area and figures of merit of a driven design from the shell model, m = 0, one mesh.

    Raises AnalysisError without a drive; design and mesh errors pass through.
    """
    return quick_of(build_shell(design, up_to_hz=up_to_hz).structure(0, by_zone=False), up_to_hz, from_hz)


def quick_of(structure: Structure, up_to_hz: float, from_hz: float = 20.0) -> Quick:
    """The same from an assembled structure of order 0."""
    return quick_from(solve(structure, up_to_hz, from_hz))


def quick_from(solution: Solution) -> Quick:
    """The same from a solution that is there already."""
    return Quick(solution, figures_of_merit(solution.static, solution.scan, solution.fundamental_hz))
