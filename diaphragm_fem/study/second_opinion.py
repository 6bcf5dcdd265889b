"""The first modes solved again by the solid model, which shares no assumption about thin walls with the shell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.eigen import eigenpairs_below
from diaphragm_fem.analysis.modes import Modes
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import MeshError

ORDERS = 3  # the lowest orders asked for
MODES = 5  # of each
AGREE_WITHIN = 0.005


@dataclass(frozen=True)
class OpinionRow:
    """One mode seen by both models; difference = shell/solid - 1."""

    order: int
    index: int
    shell_hz: float
    solid_hz: float

    @property
    def difference(self) -> float:
        return self.shell_hz / self.solid_hz - 1


@dataclass(frozen=True)
class SecondOpinion:
    """Rows mode by mode, and the largest difference."""

    rows: tuple[OpinionRow, ...]

    @property
    def largest(self) -> float:
        return max((abs(row.difference) for row in self.rows), default=0.0)


def ask_second_opinion(
    design: Design, modes: Mapping[int, Modes], up_to_hz: float
) -> tuple[SecondOpinion | None, tuple[str, ...]]:
    """Solve the first modes of the lowest orders as a solid; remarks say why not, or where the two disagree."""
    from diaphragm_fem.model.solid import build_solid

    rows: list[OpinionRow] = []
    try:
        asked = {m: shell.frequency_hz[:MODES] for m, shell in sorted(modes.items())[:ORDERS] if len(shell)}
        top = max((float(f[-1]) for f in asked.values()), default=0.0)
        if not top:
            return None, ("no second opinion: the shell found no mode to compare",)
        solid = build_solid(design, up_to_hz=top)
        for m, shell_hz in asked.items():
            system = solid.system(m)
            pairs = eigenpairs_below(system.stiffness, system.mass, (2 * np.pi * 1.1 * float(shell_hz[-1])) ** 2)
            solid_hz = np.sqrt(np.maximum(pairs.squares[system.rigid_modes :], 0)) / (2 * np.pi)
            rows += [
                OpinionRow(m, k + 1, float(a), float(b))
                for k, (a, b) in enumerate(zip(shell_hz, solid_hz, strict=False))
            ]
    except MeshError as problem:
        return None, (f"no second opinion: {problem}",)
    opinion = SecondOpinion(tuple(rows))
    remarks: tuple[str, ...] = ()
    if opinion.largest > AGREE_WITHIN:
        worst = max(rows, key=lambda row: abs(row.difference))
        remarks = (
            f"shell and solid differ by {100 * worst.difference:+.2f} % on mode {worst.index} of order "
            f"m = {worst.order} "
            f"({worst.shell_hz:.0f} Hz and {worst.solid_hz:.0f} Hz): a wall is thick, a corner sharp, or a soft and a "
            "stiff wall meet; there believe the solid",
        )
    return opinion, remarks
