"""Plain words for a mode: which zones move and which bend."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.zone import Zone

ENOUGH = 0.7  # of the energy, held by the zones that are named
AT_MOST = 2


def label_mode(zones: Sequence[Zone], strain: NDArray, kinetic: NDArray) -> str:
    """'outer flank beyond step on outer step': what moves, then what bends; one name where they are the same."""
    movers, springs = _leading(zones, kinetic), _leading(zones, strain)
    if set(movers.split(" and ")) == set(springs.split(" and ")):
        return movers
    return f"{movers} on {springs}"


def _leading(zones: Sequence[Zone], share: NDArray) -> str:
    names = [_without_side(zone) for zone in zones]
    together: dict[str, float] = {}
    sides: dict[str, list[tuple[float, Zone]]] = {}
    for zone, name, value in zip(zones, names, share, strict=True):
        together[name] = together.get(name, 0.0) + float(value)
        sides.setdefault(name, []).append((float(value), zone))
    found, total = [], 0.0
    for name in sorted(together, key=lambda key: -together[key])[:AT_MOST]:
        found.append(_with_side(name, sides[name]))
        total += together[name]
        if total > ENOUGH:
            break
    return " and ".join(found)


def _without_side(zone: Zone) -> str:
    return zone.name.removeprefix(zone.side).strip() if zone.side else zone.name


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


def nodal_points(values: NDArray) -> NDArray[np.int64]:
    """Indices after which a sampled shape changes sign."""
    sign = np.sign(values)
    return np.flatnonzero(sign[:-1] * sign[1:] < 0)
