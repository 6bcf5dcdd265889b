"""Plain words for a mode: which zones move and which bend."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.arrays import Index
from diaphragm_fem.design.meridian.zone import Zone

_ENOUGH = 0.7  # of the energy, held by the zones that are named
_MOVERS, _SPRINGS = 2, 1  # how many are named at most


def label_mode(zones: Sequence[Zone], strain: NDArray, kinetic: NDArray) -> str:
    """'outer flank and surround on the outer step': what moves, then what bends; one name where they are the same,
    none where nothing has a name."""
    if not zones:
        return ""
    movers, springs = _leading(zones, kinetic, _MOVERS), _leading(zones, strain, _SPRINGS)
    moves = _joined(movers)
    if any(_alike(springs[0], mover) for mover in movers):
        return moves
    spring = short_name(springs[0])
    return f"{moves} on {'' if spring.startswith('both ') else 'the '}{spring}"


def _alike(one: str, other: str) -> bool:
    """Whether two names are one, or one is both sides of the other: "both driven zones on the inner driven zone"."""
    of_both = {f"both {_plural(name.removeprefix('inner ').removeprefix('outer '))}" for name in (one, other)}
    return one == other or not of_both.isdisjoint((one, other))


def _leading(zones: Sequence[Zone], share: NDArray, at_most: int) -> list[str]:
    together: dict[str, float] = {}
    sides: dict[str, list[tuple[float, Zone]]] = {}
    for zone, value in zip(zones, share, strict=True):
        name = zone.name.removeprefix(zone.side).strip() if zone.side else zone.name
        together[name] = together.get(name, 0.0) + float(value)
        sides.setdefault(name, []).append((float(value), zone))
    found, total = [], 0.0
    for name in sorted(together, key=lambda key: -together[key])[:at_most]:
        found.append(_with_side(name, sides[name]))
        total += together[name]
        if total > _ENOUGH:
            break
    return found


def _joined(names: list[str]) -> str:
    """ "outer flank and surround": a side that both share is said once."""
    short = [short_name(name) for name in names]
    side = short[0].split(" ")[0]
    rest = [name.removeprefix(f"{side} ") if side in ("inner", "outer", "both") else name for name in short[1:]]
    return " and ".join((short[0], *rest))


def short_name(name: str) -> str:
    """A flank without the words that tell which step it lies beyond, where it is the only one."""
    return name.removesuffix(" beyond step")


def _with_side(name: str, members: list[tuple[float, Zone]]) -> str:
    """Name one side where it holds nearly all, else the plural of both."""
    best = max(members, key=lambda member: member[0])
    if len(members) == 1 or best[0] > 0.8 * sum(value for value, _ in members):
        return best[1].name
    return f"both {_plural(name)}"


def _plural(name: str) -> str:
    """ "flanks beyond step 2", "steps 2", "driven zones": the noun takes the s, not what follows it."""
    head, joint, tail = name.partition(" beyond ")
    if not joint and name[-1:].isdigit():
        head, joint, tail = name.rpartition(" ")
    return (head if head.endswith("s") else f"{head}s") + joint + tail


def nodal_points(values: NDArray) -> Index:
    """Indices after which a sampled shape changes sign, the last before a sample that is zero."""
    told = np.flatnonzero(values)
    return told[:-1][np.diff(np.sign(values[told])) != 0]
