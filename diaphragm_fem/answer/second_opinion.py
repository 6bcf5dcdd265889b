"""The first modes and the figures of merit by the solid model, which shares no assumption about thin walls.

Modes are laid beside each other by their shapes, not by their place in the list: where the models differ, two of them
may change places.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.analysis.merit import Merit
from diaphragm_fem.analysis.modes import Modes, solve_modes
from diaphragm_fem.answer.mode_shapes import common_stretches, modal_assurance, shapes_at
from diaphragm_fem.answer.mode_tracks import match_shapes
from diaphragm_fem.answer.quick import quick_of
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.structure import Structure

ORDERS = 3  # the lowest orders asked for
MODES = 5  # of each
REACH = 1.3  # of the last of them: how far up a mode of the same shape is looked for
AGREE_WITHIN = 0.005  # of a frequency of a mode
FIGURES_AGREE_WITHIN = 0.02  # of a figure of merit in hertz: they hang on thresholds
FREQUENCIES = {
    "fundamental_hz": "the fundamental resonance",
    "decoupling_hz": "the decoupling",
    "handed_over_hz": "the hand-over",
    "break_up_hz": "break-up",
}


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
    """Rows mode by mode, and the solid's figures of merit; None without a drive or where order 0 was not asked for."""

    rows: tuple[OpinionRow, ...]
    merit: Merit | None = None

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
    merit: Merit | None,
    *,
    up_to_hz: float,
    from_hz: float,
) -> tuple[SecondOpinion | None, tuple[str, ...]]:
    """Solve the first modes of the lowest orders and the figures of merit as a solid.

    structures, modes and merit are the shell's. Remarks say why there is no opinion, or where the two disagree.
    """
    from diaphragm_fem.model.solid import build_solid

    asked = {m: shell for m, shell in sorted(modes.items())[:ORDERS] if len(shell)}
    top = max((float(shell.frequency_hz[:MODES][-1]) for shell in asked.values()), default=0.0)
    if not top:
        return None, ("no second opinion: the shell found no mode to compare",)
    try:
        solid = build_solid(design, up_to_hz=top)
        rows = [row for m, shell in asked.items() for row in _rows(shell, structures[m], solid.structure(m))]
        own = None
        if merit is not None:
            own = quick_of(build_solid(design, up_to_hz=up_to_hz).structure(0), up_to_hz, from_hz).merit
    except MeshError as problem:
        return None, (f"no second opinion: {problem}",)
    opinion = SecondOpinion(tuple(rows), own)
    return opinion, (*_mode_remarks(opinion), *_figure_remarks(merit, own))


def _rows(shell: Modes, shell_system: Structure, solid_system: Structure) -> list[OpinionRow]:
    """The first modes of one order beside the solid's. Those a little above them take part, so that none is left to
    be matched with what is another's.
    """
    first = min(MODES, len(shell))
    reach = REACH * float(shell.frequency_hz[first - 1])
    count = int(np.searchsorted(shell.frequency_hz, reach))
    solid = solve_modes(solid_system, reach)
    stretches = common_stretches(shell_system.zones, solid_system.zones)
    ours = shapes_at(shell_system, shell.vectors[:, :count], [here for here, _ in stretches])
    theirs = shapes_at(solid_system, solid.vectors, [there for _, there in stretches])
    likeness = modal_assurance(ours, theirs)
    found = dict(match_shapes(likeness))
    rows = []
    for k in range(first):
        row = OpinionRow(shell.order, k + 1, float(shell.frequency_hz[k]))
        if k in found:
            there = found[k]
            row = replace(
                row,
                solid_index=there + 1,
                solid_hz=float(solid.frequency_hz[there]),
                likeness=float(likeness[k, there]),
            )
        rows.append(row)
    return rows


def _mode_remarks(opinion: SecondOpinion) -> list[str]:
    remarks = []
    if opinion.largest > AGREE_WITHIN:
        worst = max(opinion.rows, key=lambda row: abs(row.difference or 0.0))
        remarks.append(
            f"shell and solid differ by {100 * (worst.difference or 0.0):+.2f} % on mode {worst.index} of order "
            f"m = {worst.order} ({worst.shell_hz:.0f} Hz and {worst.solid_hz:.0f} Hz): a wall is thick, a corner "
            "sharp, or a soft and a stiff wall meet; there believe the solid"
        )
    for row in opinion.lost:
        remarks.append(
            f"mode {row.index} of order m = {row.order} ({row.shell_hz:.0f} Hz) has none like it in the solid up to "
            f"{REACH:g} times the highest of these modes: there believe the solid"
        )
    return remarks


def _figure_remarks(shell: Merit | None, solid: Merit | None) -> list[str]:
    if shell is None or solid is None:
        return []
    remarks = []
    for name, words in FREQUENCIES.items():
        ours, theirs = getattr(shell, name), getattr(solid, name)
        if ours is None and theirs is None:
            continue
        if ours is None or theirs is None:
            place = f"at {ours or theirs:.0f} Hz"
            which = ("the shell", "the solid") if theirs is None else ("the solid", "the shell")
            remarks.append(f"{which[0]} puts {words} {place}, {which[1]} finds none: believe the solid")
        elif abs(ours / theirs - 1) > FIGURES_AGREE_WITHIN:
            remarks.append(
                f"the solid puts {words} at {theirs:.0f} Hz, {100 * (theirs / ours - 1):+.1f} % from the shell's "
                f"{ours:.0f} Hz: believe the solid"
            )
    return remarks
