"""Which cases of a study differ in the numbers of their walls alone, so that one span of walls answers for them."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import prod

from diaphragm_fem.study.plan.amount import Written, amount_in_si
from diaphragm_fem.study.plan.study import Recipe, Variable

WORTH = 36  # cases that pay for making a span: 0.4 to 3.5 s, some 0.05 s saved by each


@dataclass(frozen=True)
class SharedWalls:
    """fixed: walls' values that are the same in all cases; named: what chooses their materials; numbers: what varies in
    them besides, the dimensions of a span; expected: how many cases a span will be asked for, 0 where there is none;
    apart: places of the variables that tell spans apart, none where the order of cases is not to follow spans.
    """

    fixed: Mapping[str, Written]
    named: tuple[Variable, ...]
    numbers: tuple[Variable, ...]
    expected: int
    apart: tuple[int, ...]

    @property
    def pays(self) -> bool:
        return self.expected >= WORTH

    def span_of(self, values: tuple[Written, ...]) -> tuple[Written, ...]:
        """What cases have in common that share a span; nothing where none is shared."""
        return tuple(values[j] for j in self.apart) if self.pays else ()


def shared_walls(recipe: Recipe) -> SharedWalls:
    """What the cases of a study share."""
    walls = [variable for variable in recipe.variables if variable.wall_only]
    fixed = {v.name: v.numbers[0] for v in walls if v.is_one_value}
    free = [variable for variable in walls if variable.name not in fixed]
    named = tuple(v for v in free if v.source == "list" and any(amount_in_si(name) is None for name in v.numbers))
    numbers = tuple(variable for variable in free if variable not in named)
    known = bool(numbers) and all(variable.source != "table" for variable in walls)
    expected = recipe.alike // prod(len(variable.numbers) for variable in named) if known else 0
    around = any(variable.around_only for variable in recipe.variables)  # neighbours share more: a solved diaphragm
    apart = tuple(j for j, variable in enumerate(recipe.variables) if variable not in numbers and not around)
    return SharedWalls(fixed, named, numbers, expected, apart)
