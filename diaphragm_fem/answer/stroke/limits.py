"""How far a part may move: everything that changes, yields or ends over the stroke, nearest to rest first."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.answer.stroke.stability import Rocking, Wrinkle
from diaphragm_fem.answer.stroke.strength import Strength
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.stroke_plan import MotorOverStroke, StrokePlan
from diaphragm_fem.load.plug import draw_plug

LARGE_STRAIN = 0.05  # fibre strain above which a law that stays linear is no more than a trend
STIFF = 40e9  # Pa: metals, and films or laminates as stiff, bear tenths of a per cent and no more
STIFF_STRAIN = 0.002  # where such walls begin to stay bent: common practice, no source; proof stresses differ tenfold


@dataclass(frozen=True)
class Change:
    """A stiffness, area or force factor that has changed by a share, up or down, against rest: strokes in m, None for
    never."""

    quantity: str
    share: float
    rear: float | None
    front: float | None


@dataclass(frozen=True)
class Limit:
    """Something met on the way: strokes in m where, toward the rear and the front, None where it is not.

    ends: whether the wall, its law or its balance ends there; else something only changes.
    """

    what: str
    rear: float | None
    front: float | None
    ends: bool = True

    def distance(self, rest: float) -> float:
        """From rest to the nearer of both in m; infinite where there is none."""
        return min((abs(x - rest) for x in (self.rear, self.front) if x is not None), default=inf)


def changes_over(path: StrokePath, plan: StrokePlan) -> tuple[Change, ...]:
    """The nearest strokes at which stiffness, area and a force factor over stroke are a share of the plan above or
    below what they are at rest."""
    over = {"stiffness": path.stiffness, "area": path.total_area}
    found = [Change(x, share, *path.changed(over[x], share)) for x in over for share in plan.changes]
    if plan.motor:
        first, rest, last = (float(path.stroke[k]) for k in (0, path.rest, -1))
        found += [Change("force factor", x, *changes_of_pull(plan.motor, rest, x, first, last)) for x in plan.changes]
    return tuple(found)


def changes_of_pull(
    motor: MotorOverStroke, rest: float, share: float, first: float, last: float
) -> tuple[float | None, float | None]:
    """The same strokes of a force factor about a rest in m, from a first to a last, of its own curve: by states 0.25 mm
    apart one met a tenth less 0.3 % off."""
    met = np.concatenate([motor.curve.solve(x * motor.curve(rest)) for x in (1 - share, 1 + share)])
    met = met[np.abs(met - np.clip(met, first, last)) < 1e-9 * (last - first)]  # a table may end where it has changed
    return max(met[met < rest].tolist(), default=None), min(met[met > rest].tolist(), default=None)


def limits_over(
    path: StrokePath,
    changes: Sequence[Change],
    snaps: tuple[float | None, float | None],
    wrinkles: tuple[Wrinkle | None, Wrinkle | None],
    strength: Strength,
    rocking: Rocking | None,
    plug: float | None = None,
) -> tuple[Limit, ...]:
    """All that is met on the way, nearest to rest first, the plug at a stroke in m among it; changes that are not
    reached come last."""
    rest = float(path.stroke[path.rest])
    found = [Limit(f"{x.quantity} changed by {100 * x.share:g} %", x.rear, x.front, ends=False) for x in changes]
    others = [
        *_of_walls(path, strength),
        *_of_balance(path, snaps, wrinkles),
        Limit("the plug before the face", None, plug),
    ]
    if rocking is not None:
        ways = rest - rocking.threshold, rest + rocking.threshold
        others.append(Limit("amplitude that feeds rocking (estimate)", *ways, ends=False))
    found += [limit for limit in others if limit.distance(rest) < inf]
    return tuple(sorted(found, key=lambda limit: limit.distance(rest)))


def _of_walls(path: StrokePath, strength: Strength) -> Iterator[Limit]:
    """Strains that a linear law or a stiff wall does not bear, and what the user allows."""
    for z, zone in enumerate(path.shell.model.design.zones):
        crossed = path.crossings(strength.fibre[:, z], LARGE_STRAIN, kink=True)
        yield Limit(f"fibre strain of {100 * LARGE_STRAIN:g} % in the {zone.name} (end of the linear law)", *crossed)
    for reached in strength.reached:
        yield Limit(f"the {reached.quantity} that you allow of {reached.material}", reached.rear, reached.front)
    given = {reached.material for reached in strength.reached}
    for k, material in enumerate(path.shell.model.design.materials):
        if material.youngs_modulus >= STIFF and material.name not in given:
            crossed = path.crossings(strength.of_material[0, :, k], STIFF_STRAIN, kink=True)
            yield Limit(f"fibre strain of {100 * STIFF_STRAIN:g} % in {material.name} (may stay bent)", *crossed)


def _of_balance(
    path: StrokePath, snaps: tuple[float | None, float | None], wrinkles: tuple[Wrinkle | None, Wrinkle | None]
) -> Iterator[Limit]:
    yield Limit("a snap", *snaps)
    for order in sorted({wrinkle.order for wrinkle in wrinkles if wrinkle}):
        rear, front = (x.stroke if x and x.order == order else None for x in wrinkles)
        yield Limit("rocking by itself" if order == 1 else f"folds around, m = {order}", rear, front)
    first, last = float(path.stroke[0]), float(path.stroke[-1])
    yield Limit("the last state in balance", first if path.rear_stop else None, last if path.front_stop else None)


def plug_met(path: StrokePath) -> float | None:
    """The stroke in m at which the face meets its plug, None where it does not, or where there is none to meet.

    The middle of the bent wall against the plug as a wall without thickness has it (`gap_to_plug`), so the wall's front
    against the plug, along the axis: what a slow coil does, not what a zone does near its own resonance. Of a plug that
    turns back over radii the narrowest gap is what is left. Raises MeshError for a gap that cannot be.
    """
    design = path.shell.model.design
    front = None if design.driver is None else design.driver.front
    if front is None or not (front.gap_width or front.plug):
        return None
    gap = draw_plug(design, front).face
    r, z = gap.plug.T

    def left(lines: list[Array]) -> float:
        points = np.concatenate([line for line, piece in zip(lines, path.shell.model.mesh.pieces, strict=True)
                                 if piece.zone.radiates])  # fmt: skip
        before = points[(points[:, 0] >= r[0]) & (points[:, 0] <= r[-1])]
        return float((np.interp(before[:, 0], r, z) - before[:, 1]).min())

    if np.all(np.diff(r) > 0):
        space = np.array([left(path.shell.lines(state.unknowns)) for state in path.states])
    else:
        space = float(gap.width.min()) - path.stroke
    return path.crossings(-space, 0.0, kink=True)[1]
