"""Cases on one meridian share one mesh: a shelf of spans of walls for the cases of a study.

A span is made from the study alone: for one choice of materials, from places in the ranges of the numbers that vary
in the walls, never from the cases met so far, so that a case answers the same whoever solves it and in whatever
order. It is held against walls that did not make it; where it does not come to meet them, its cases are solved one by
one.
"""

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from itertools import islice, product
from math import isclose
from typing import Any

import numpy as np

from diaphragm_fem.answer.quick import Quick
from diaphragm_fem.answer.walls.family import (
    HELD,
    SAMPLED,
    TRIED,
    WallFamily,
    WallSpan,
    line_of,
    wall_family,
    wall_span,
)
from diaphragm_fem.answer.walls.line import Walls
from diaphragm_fem.answer.walls.quick_walls import quick_wall, wall_steps
from diaphragm_fem.answer.walls.steps import Steps
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.files.key_path import read_path
from diaphragm_fem.design.meridian.wall import Layer
from diaphragm_fem.design.wall_choice import WallChoice, chosen_layers
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.plan.amount import Written, amount_in_si
from diaphragm_fem.study.plan.sampling import evenly_spread, values_at, wide_share
from diaphragm_fem.study.plan.shared_walls import shared_walls
from diaphragm_fem.study.plan.study import Recipe, Variable

MOST_SAMPLES = 16
DEVIATIONS = 2.878  # to either side: two in a thousand lie beyond each
TRIES = 10  # walls at most that a span is held against
KEPT = 24  # spans of some 4 MB

Frame = tuple[Any, ...]


class Shelf:
    """Spans of one study, the last few kept."""

    def __init__(self, recipe: Recipe) -> None:
        self.recipe = recipe
        self._walls = shared_walls(recipe)
        self._spans: OrderedDict[Frame, WallSpan | None] = OrderedDict()

    @property
    def pays(self) -> bool:
        """Whether any case is answered from a span."""
        return self._walls.pays

    def quick(self, data: Mapping[str, Any], design: Design) -> Quick | None:
        """The answers for a design from its span; None where it has none."""
        found = self._walls_of(data, design)
        return None if found is None else quick_wall(*found, wanted=self.recipe.wanted)

    def steps(self, data: Mapping[str, Any]) -> Steps[tuple[Design, Quick] | None]:
        """The design of a file's data and its answers in steps, from a span that is there already; None where none
        is."""
        design = self.recipe.drawn(data)
        yield
        found = None if design.driver is not None else self._walls_of(data, design, make=False)
        if found is None:
            return None
        answers = yield from wall_steps(*found, wanted=self.recipe.wanted)
        return design, answers

    def _walls_of(self, data: Mapping[str, Any], design: Design, *, make: bool = True) -> tuple[WallSpan, Walls] | None:
        """The span of a design, made where it is not there yet, and its walls there."""
        if not self.pays:
            return None
        chosen = frame_of(design), *(read_path(data, variable.keys[0]) for variable in self._walls.named)
        if chosen not in self._spans:
            if not make:
                return None
            self._spans[chosen] = self._make(data, chosen[0])
            while len(self._spans) > KEPT:
                self._spans.popitem(last=False)
        self._spans.move_to_end(chosen)
        span = self._spans[chosen]
        walls = None if span is None else wall_choices(span.family.base, design)
        return None if span is None or walls is None else (span, walls)

    def meet(self) -> None:
        """Solve the patches of all spans where nothing but walls varies: those of other films share their cuts."""
        if not self._walls.pays or not all(variable.wall_only for variable in self.recipe.variables):
            return
        names = islice(product(*(variable.numbers for variable in self._walls.named)), KEPT)
        choices = [dict(zip((variable.name for variable in self._walls.named), own, strict=True)) for own in names]
        first, *others = (self.recipe.changed(self.recipe.base, choice) for choice in choices)
        with suppress(DiaphragmError):  # the cases will tell
            if (found := self._family(first)) and (line := line_of(found[0], found[1])):
                thinnest = [self._design(data, _spread(len(self._walls.numbers))[0][0]) for data in others]
                films = [walls for design in thinnest if (walls := wall_choices(found[0].base, design))]
                line.meet(found[2][:HELD], films)

    def _make(self, data: Mapping[str, Any], frame: Frame) -> WallSpan | None:
        try:
            found = self._family(data)
            if found is None or frame_of(found[0].base) != frame:
                return None
            return wall_span(*found, expected=self._walls.expected)
        except DiaphragmError:  # an end that cannot be built: the cases tell why, one by one
            return None

    def _family(self, data: Mapping[str, Any]) -> tuple[WallFamily, list[Walls], list[Walls]] | None:
        """What a span is made of, and held against; None where corners follow thickness, so that every wall is a shape
        of its own, or walls are no plain scaling."""
        samples, tries = _spread(len(self._walls.numbers))
        shares = [*samples, *tries]
        designs = [self._design(data, some) for some in shares]
        base = designs[0]
        frame = frame_of(base)
        known: list[Walls] = [
            walls for x in designs if frame_of(x) == frame and (walls := wall_choices(base, x)) is not None
        ]
        if len(known) < len(designs):
            return None
        made, held = known[: len(samples)], known[len(samples) :]
        family = wall_family(base, made, up_to_hz=self.recipe.up_to_hz, corrected=self.recipe.joints)
        return family, made, held

    def _design(self, data: Mapping[str, Any], shares: Sequence[float]) -> Design:
        """The design with every number of the walls at a share of its range."""
        numbers = zip(self._walls.numbers, shares, strict=True)
        values = {**self._walls.fixed, **{variable.name: _value(variable, share) for variable, share in numbers}}
        return self.recipe.drawn(self.recipe.changed(data, values))


def _value(variable: Variable, share: float) -> Written:
    """The value at a share 0...1 of a variable's range; of a distribution all but two in a thousand at either end, of
    one with a peak evenly over its deviations."""
    if variable.source == "list":
        rising: list[Written] = sorted(variable.numbers, key=lambda value: amount_in_si(value) or 0.0)
        return rising[round(share * (len(rising) - 1))]
    share = 0.002 + 0.996 * share if variable.source == "uniform" else wide_share(variable, share, DEVIATIONS)
    return values_at(variable, np.array([share]))[0]


def _spread(count: int) -> tuple[list[tuple[float, ...]], list[tuple[float, ...]]]:
    """Shares of each of `count` ranges from which a span is made, and against which it is held: all their ends combined
    and the middle of all; of many ranges the two far corners, and each at its other end; of one those of a line."""
    if count == 1:
        return [(x,) for x in SAMPLED], [(x,) for x in TRIED]
    corners: list[tuple[float, ...]] = list(product((0.0, 1.0), repeat=count)) if 2**count <= MOST_SAMPLES else []
    if not corners:
        singles = [tuple(float(i == j) for i in range(count)) for j in range(count)]
        corners = [(0.0,) * count, (1.0,) * count, *singles][:MOST_SAMPLES]
    return [*corners, (0.5,) * count], list(map(tuple, evenly_spread(1 + TRIES, count)[1:].tolist()))


def frame_of(design: Design) -> Frame:
    """Everything about a design but its walls."""

    def shape(piece: Piece) -> Any:
        return piece.curve, piece.zone, piece.winding

    return (
        tuple(map(shape, design.meridian)), tuple(map(shape, design.former)), design.beads, design.joint, design.ring,
        design.inner_edge, design.outer_edge,
    )  # fmt: skip


def wall_choices(base: Design, design: Design) -> dict[str, WallChoice] | None:
    """The walls of a design, zone by zone, over those of a base with the same frame; None where they are no plain
    scaling."""
    found: dict[str, WallChoice] = {}
    pairs = list(zip((*design.meridian, *design.former), (*base.meridian, *base.former), strict=True))
    for own, drawn in pairs:
        layers, first = ([x for x in piece.wall.layers if x.glued is None] for piece in (own, drawn))
        if len(layers) != 1 or len(first) != 1:
            return None
        scale = layers[0].begin_thickness / first[0].begin_thickness
        found.setdefault(own.zone.name, WallChoice(layers[0].material, scale))
    return found if all(_alike(own.wall.layers, chosen_layers(drawn, found)) for own, drawn in pairs) else None


def _alike(some: Sequence[Layer], others: Sequence[Layer]) -> bool:
    return len(some) == len(others) and all(
        a.material == b.material
        and isclose(a.begin_thickness, b.begin_thickness)
        and isclose(a.end_thickness, b.end_thickness)
        for a, b in zip(some, others, strict=True)
    )
