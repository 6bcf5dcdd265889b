"""The first modes and the figures by the solid model, which shares no assumption about thin walls.

Modes are laid beside each other by their shapes, not by their place in the list: where the models differ, two of them
may change places.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from diaphragm_fem.analysis.figures.definitions import apart
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.modes.eigen import Eigenpairs
from diaphragm_fem.analysis.modes.modes import Modes, solve_modes
from diaphragm_fem.analysis.modes.pairing import match_shapes
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.answer.mode_shapes import common_stretches, modal_assurance, shapes_at
from diaphragm_fem.answer.quick import quick_from
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.structure import Structure

ORDERS, MODES = 3, 5  # the lowest orders asked for, and modes of each (a choice: 1.7 s of a stepped V)
REACH = 1.3  # of the last of them: how far up a mode of the same shape is looked for; bare shells were 16 % off
MOST_NODES = 20_000  # some 3,000 are usual, of 25 harsh domes 13,000 at most; of 23,500 one factor took 12 s and 1.9 GB
AGREE_WITHIN = 0.005  # of a frequency of a mode (a choice): demonstrations differ by 0.02 to 0.04 %
LEVELS_AGREE_WITHIN = 1.0  # dB, of a shelf, a peak or a hole (a choice)


@dataclass(frozen=True)
class OpinionRow:
    """A mode of the shell and the solid's mode of its shape, if any; places in the lists count from 1.

    likeness: their modal assurance criterion; difference = shell/solid - 1.
    """

    order: int
    index: int
    shell_hz: float
    solid_index: int | None = None
    solid_hz: float | None = None
    likeness: float | None = None

    @property
    def difference(self) -> float | None:
        return None if self.solid_hz is None else self.shell_hz / self.solid_hz - 1


@dataclass(frozen=True)
class SecondOpinion:
    """Rows mode by mode, and the solid's figures; None without a drive or where order 0 was not asked for.

    differing: figure -> (shell's, solid's), where they differ by more than is allowed.
    """

    rows: tuple[OpinionRow, ...]
    figures: Figures | None = None
    differing: Mapping[str, tuple[float | None, float | None]] = field(default_factory=dict)

    @property
    def largest(self) -> float:
        return max((abs(row.difference) for row in self.rows if row.difference is not None), default=0.0)

    @property
    def lost(self) -> tuple[OpinionRow, ...]:
        """Modes without one like them."""
        return tuple(row for row in self.rows if row.solid_hz is None)


def ask_second_opinion(
    design: Design,
    structures: Mapping[int, Structure],
    modes: Mapping[int, Modes],
    figures: Figures | None,
    *,
    up_to_hz: float,
) -> tuple[SecondOpinion | None, tuple[str, ...]]:
    """Solve the first modes of the lowest orders and the figures as a solid.

    structures, modes and figures are the shell's. Remarks say why there is no opinion, or where the two disagree.
    """
    from diaphragm_fem.model.solid.solid import build_solid

    asked = {m: shell for m, shell in sorted(modes.items())[:ORDERS] if len(shell)}
    if not asked:
        return None, ("no second opinion: the shell found no mode to compare",)
    try:
        solid = build_solid(design, up_to_hz=up_to_hz)
        rows, own = [], None
        for m in sorted({*asked, *(() if figures is None else (0,))}):  # one after another: solids of m >= 1 are large
            system, pairs = solid.structure(m), None
            _check_size(system)
            if m == 0 and figures is not None:
                own, pairs = _figures_and_pairs(system, up_to_hz)
            if m in asked:
                rows += _rows(asked[m], structures[m], system, up_to_hz, pairs)
            del system, pairs  # what this one took is free for the next
    except MeshError as problem:
        return None, (f"no second opinion: {problem}",)
    opinion = SecondOpinion(tuple(rows), own, {} if figures is None or own is None else differing(figures, own))
    return opinion, tuple(_mode_remarks(opinion))


def _check_size(system: Structure) -> None:
    """MeshError for a section of so many cells that its factors would take gigabytes, as of a film of a micrometre."""
    nodes = system.mass.shape[0] / (2 if system.order == 0 else 3)
    if nodes > MOST_NODES:
        raise MeshError(
            f"as a solid it has motions at {nodes:.0f} places, and at most {MOST_NODES} are solved, for a wall is very "
            "thin beside others"
        )


def _figures_and_pairs(system: Structure, up_to_hz: float) -> tuple[Figures, Eigenpairs]:
    solution = solve(system, up_to_hz)
    return quick_from(solution).figures, solution.pairs


def _rows(
    shell: Modes, shell_system: Structure, solid_system: Structure, up_to_hz: float, pairs: Eigenpairs | None
) -> list[OpinionRow]:
    """The first modes of one order beside the solid's, whose pairs below a frequency may be known. Those a little above
    them take part, so that none is left to be matched with what is another's."""
    first = min(MODES, len(shell))
    reach = REACH * float(shell.frequency_hz[first - 1])
    count = int(np.searchsorted(shell.frequency_hz, reach))
    solid = solve_modes(solid_system, reach, pairs if reach <= up_to_hz else None)
    stretches = common_stretches(shell_system.zones, solid_system.zones)
    ours = shapes_at(shell_system, shell.vectors[:, :count], [here for here, _ in stretches])
    theirs = shapes_at(solid_system, solid.vectors, [there for _, there in stretches])
    likeness = modal_assurance(ours, theirs)
    found = match_shapes(likeness)
    theirs_of = {k: (j + 1, float(solid.frequency_hz[j]), float(likeness[k, j])) for k, j in found}
    return [OpinionRow(shell.order, k + 1, float(shell.frequency_hz[k]), *theirs_of.get(k, ())) for k in range(first)]


def _mode_remarks(opinion: SecondOpinion) -> list[str]:
    remarks = []
    if opinion.largest > AGREE_WITHIN:
        worst = max(opinion.rows, key=lambda row: abs(row.difference or 0.0))
        remarks.append(
            f"shell and solid differ by {100 * (worst.difference or 0.0):+.2f} % on mode {worst.index} of order "
            f"m = {worst.order} ({worst.shell_hz:.0f} Hz and {worst.solid_hz:.0f} Hz): a wall is thick, a corner "
            f"sharp, or a soft and a stiff wall meet; there believe the solid"
        )
    for row in opinion.lost:
        remarks.append(
            f"mode {row.index} of order m = {row.order} ({row.shell_hz:.0f} Hz) has none like it in the solid up to "
            f"{REACH:g} times the highest of these modes: there believe the solid"
        )
    return remarks


def differing(shell: Figures, solid: Figures) -> dict[str, tuple[float | None, float | None]]:
    """Figures (name -> shell's, solid's) that differ by more than 2 %, a decibel or 0.03 octaves, or that only one
    of the two has."""
    both = {name: (ours, solid.values[name]) for name, ours in shell.values.items()}
    return {name: pair for name, pair in both.items() if apart(name, *pair, LEVELS_AGREE_WITHIN)}
