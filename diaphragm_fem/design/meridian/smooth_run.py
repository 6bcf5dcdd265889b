"""Smooth runs of an outline: what lies on either side of a corner, and what its fillet takes of that.

A high roll is a line, an arc and a line. The fillet at its foot may reach beyond a line that is too short for it onto
the arc, so that the part does not change suddenly as the line comes in.
"""

from collections.abc import Sequence

from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.fillet import Fillet, turn
from diaphragm_fem.design.meridian.outline import Stretch

NO_TURN = 1e-9  # rad: tangent within rounding


def beyond_corner(stretches: Sequence[Stretch], i: int) -> list[int]:
    """The stretches of the run that begins at corner i (before stretch i), the nearest first; none at the outer end."""
    k = i
    while k + 1 < len(stretches) and _runs_on(stretches[k], stretches[k + 1]):
        k += 1
    return list(range(i, min(k + 1, len(stretches))))


def before_corner(stretches: Sequence[Stretch], i: int) -> list[int]:
    """The same of the run that ends at corner i; none at the tip."""
    k = i - 1
    while k > 0 and _runs_on(stretches[k - 1], stretches[k]):
        k -= 1
    return list(range(i - 1, max(k, 0) - 1, -1))


def _runs_on(first: Stretch, second: Stretch) -> bool:
    """Whether two stretches are a line and an arc of one wall without a corner between them."""
    alike = first.zone == second.zone and first.wall is None and second.wall is None
    kinds = {type(first.curve), type(second.curve)}
    return alike and kinds == {Line, Arc} and abs(turn(first.curve, second.curve)) <= NO_TURN


def what_is_left(stretches: Sequence[Stretch], chosen: Sequence[Fillet | None]) -> list[tuple[float, float]]:
    """Between which arc lengths in metres each stretch is left by the fillets of the corners, the tip's first."""
    first, last = [0.0] * len(stretches), [stretch.curve.length for stretch in stretches]
    for i, one in enumerate(chosen):
        if one is not None:
            for k, cut in _taken(stretches, beyond_corner(stretches, i), one.cut_second):
                first[k] = cut
            for k, cut in _taken(stretches, before_corner(stretches, i), one.cut_first):
                last[k] -= cut
    return list(zip(first, last, strict=True))


def _taken(stretches: Sequence[Stretch], run: Sequence[int], cut: float) -> list[tuple[int, float]]:
    """What a cut from the begin of a run takes of each of its stretches."""
    taken = []
    for k in run:
        taken.append((k, cut if k == run[-1] else min(cut, stretches[k].curve.length)))
        cut -= taken[-1][1]
    return taken
