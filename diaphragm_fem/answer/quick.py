"""One design on one mesh, as quickly as its figures and its area curve can be had: what a sweep runs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from diaphragm_fem.analysis.break_up_mode import ModeStrains, mode_strains
from diaphragm_fem.analysis.equivalent_volume import equivalent_volume
from diaphragm_fem.analysis.figures import Figures, figures_of
from diaphragm_fem.analysis.own_modulus import eigenpairs_at_own_modulus
from diaphragm_fem.analysis.solution import Solution, solve
from diaphragm_fem.design.design import Design
from diaphragm_fem.model.shell import build_shell
from diaphragm_fem.model.structure import Structure

Bands = Mapping[str, tuple[float, float]]


@dataclass(frozen=True, eq=False)
class Quick:
    """The solution of a structure of order 0 and the figures read from it."""

    solution: Solution
    figures: Figures


def quick(design: Design, *, up_to_hz: float = 20e3, from_hz: float = 20.0, bands: Bands | None = None) -> Quick:
    """Modes, area and figures of a driven design from the shell model, m = 0, one mesh; `bands` are named bands in Hz
    for smooth measures.

    Raises AnalysisError without a drive; design and mesh errors pass through.
    """
    return quick_of(build_shell(design, up_to_hz=up_to_hz).structure(0), up_to_hz, from_hz, bands)


def quick_of(structure: Structure, up_to_hz: float, from_hz: float = 20.0, bands: Bands | None = None) -> Quick:
    """The same from an assembled structure of order 0."""
    solution = solve(structure, up_to_hz, from_hz)
    return Quick(solution, figures_of_solution(solution, bands))


def figures_of_solution(solution: Solution, bands: Bands | None = None) -> Figures:
    """The figures of a solution; modes beyond its range are sought only where that holds no break-up mode."""
    structure, static = solution.structure, solution.static
    volume = equivalent_volume(
        structure.stiffness_at(static.modulus_hz), structure.drive, structure.pickup, structure.volume.sum(axis=0),
        structure.rigid_modes,
    )  # fmt: skip

    def strains(top: float) -> ModeStrains:
        pairs = solution.pairs if top <= solution.up_to_hz else eigenpairs_at_own_modulus(structure, top)
        return mode_strains(structure, pairs)

    return figures_of(
        static, volume, solution.scan, solution.reduced.curve, strains, solution.fundamental_hz, bands=bands,
        static_at_hz=static.modulus_hz if structure.modulus_varies else None,
    )  # fmt: skip
