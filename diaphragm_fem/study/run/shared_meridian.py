"""Cases on one meridian share one assembly: a shelf of wall families for the cases of a study.

A family is made from the study alone: from the ends of everything that varies in thickness and material, never from
the cases met so far, so that a case answers the same whoever solves it and in whatever order. A family that misses
the full model by more than TOLERANCE at designs that did not make it is not used, and its cases are solved one by
one.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from itertools import product
from pathlib import Path
from typing import Any

from diaphragm_fem.analysis.figure_definitions import difference
from diaphragm_fem.answer.quick import Quick, quick
from diaphragm_fem.answer.wall_family import WallFamily, quick_wall, wall_family
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.read import design_from
from diaphragm_fem.design.wall_choice import WallChoice
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.plan.sampling import levels, values_at
from diaphragm_fem.study.plan.study import Recipe, wanted_of

WORTH = 64  # cases on one meridian that pay for making a family
MOST_SAMPLES = 16
TOLERANCE = 2e-3  # relative, on every figure at the check designs
KEPT = 4

Frame = tuple[Any, ...]


class Shelf:
    """Families of one study, the last few kept."""

    def __init__(self, recipe: Recipe) -> None:
        self.recipe = recipe
        self._families: OrderedDict[Frame, WallFamily | None] = OrderedDict()

    def quick(self, data: Mapping[str, Any], design: Design) -> Quick | None:
        """The answers for a design from its family; None where it has none."""
        if self.recipe.alike < WORTH:
            return None
        frame = frame_of(design)
        if frame not in self._families:
            self._families[frame] = self._make(data, frame)
            while len(self._families) > KEPT:
                self._families.popitem(last=False)
        self._families.move_to_end(frame)
        family = self._families[frame]
        walls = None if family is None else wall_choices(family.base, design)
        if family is None or walls is None:
            return None
        return quick_wall(family, walls, wanted=wanted_of(self.recipe.settings))

    def _make(self, data: Mapping[str, Any], frame: Frame) -> WallFamily | None:
        up_to_hz = float(self.recipe.settings["up_to_hz"])
        try:
            ends = [design for values in self._samples(data) if frame_of(design := self._design(data, values)) == frame]
            middle = self._design(data, {v.name: _middle(levels_of) for v, levels_of in self._walls(data)})
            if len(ends) < 2 or frame_of(middle) != frame:
                return None
            samples = [wall_choices(middle, design) for design in ends]
            if any(sample is None for sample in samples):
                return None
            family = wall_family(middle, [sample for sample in samples if sample is not None], up_to_hz=up_to_hz)
            checks = [middle, ends[0]]
            return family if all(self._holds(family, design, up_to_hz) for design in checks) else None
        except DiaphragmError:  # an end that cannot be built: the cases tell why, one by one
            return None

    def _holds(self, family: WallFamily, design: Design, up_to_hz: float) -> bool:
        walls = wall_choices(family.base, design)
        if walls is None:
            return False
        exact = quick(design, up_to_hz=up_to_hz).figures.table()
        found = quick_wall(family, walls).figures.table()
        return all(difference(name, found[name], value) <= TOLERANCE for name, value in exact.items())

    def _design(self, data: Mapping[str, Any], values: Mapping[str, Written]) -> Design:
        origin = self.recipe.origin
        return design_from(self.recipe.changed(data, values), origin, folder=Path(origin).parent)

    def _walls(self, data: Mapping[str, Any]) -> list[tuple[Any, list[Written]]]:
        """Variables of the wall with their lowest, middle and highest values; names from the slowest to the fastest."""
        found = []
        for variable in self.recipe.variables:
            if not variable.wall_only:
                continue
            if variable.source == "list":
                values = list(variable.numbers)
                if variable.of is None and all(isinstance(value, str) for value in values):
                    values.sort(key=lambda value: (self._speed(data, variable.name, value), value))
            elif variable.source in ("range", "log_range"):
                values = levels(variable) if variable.count > 1 else values_at(variable, [0.0, 0.5, 1.0])  # type: ignore[arg-type,assignment]
            else:
                values = values_at(variable, [0.002, 0.5, 0.998])  # type: ignore[arg-type]
            found.append((variable, values))
        return found

    def _speed(self, data: Mapping[str, Any], name: str, value: Written) -> float:
        """Modulus over density, summed over the materials of the design: what tells fast walls from slow ones."""
        design = self._design(data, {name: value})
        return sum(m.youngs_modulus / m.density for m in design.materials)

    def _samples(self, data: Mapping[str, Any]) -> list[dict[str, Written]]:
        walls = self._walls(data)
        ends = [list(dict.fromkeys((values[0], values[-1]))) for _, values in walls]
        names = [variable.name for variable, _ in walls]
        combined = list(product(*ends))
        if len(combined) > MOST_SAMPLES:  # the two far corners, and each thing at its other end
            low, high = tuple(pair[0] for pair in ends), tuple(pair[-1] for pair in ends)
            singles = [tuple(high[j] if j == i else low[j] for j in range(len(ends))) for i in range(len(ends))]
            combined = list(dict.fromkeys([low, high, *singles]))[:MOST_SAMPLES]
        return [dict(zip(names, values, strict=True)) for values in combined]


def _middle(values: list[Written]) -> Written:
    return values[len(values) // 2]


def frame_of(design: Design) -> Frame:
    """Everything about a design but its walls."""

    def shape(piece: Piece) -> Any:
        return piece.curve, piece.zone, piece.winding

    return (
        tuple(map(shape, design.meridian)), tuple(map(shape, design.former)), design.joint, design.ring,
        design.inner_edge, design.outer_edge,
    )  # fmt: skip


def wall_choices(base: Design, design: Design) -> dict[str, WallChoice] | None:
    """The walls of a design, zone by zone, over those of a base with the same frame; None where they are no plain
    scaling.
    """
    found: dict[str, WallChoice] = {}
    for own, drawn in zip((*design.meridian, *design.former), (*base.meridian, *base.former), strict=True):
        if len(own.wall.layers) != 1 or len(drawn.wall.layers) != 1:
            return None
        layer, first = own.wall.layers[0], drawn.wall.layers[0]
        scale = layer.begin_thickness / first.begin_thickness
        choice = found.setdefault(own.zone.name, WallChoice(layer.material, scale))
        ends = (scale, layer.end_thickness / first.end_thickness)
        if choice.material != layer.material or any(abs(end / choice.scale - 1) > 1e-9 for end in ends):
            return None
    return found
