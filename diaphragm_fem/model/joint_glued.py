"""Joints with glue at the former and joints of laminates, kept as they are and not by their proportions."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from diaphragm_fem.errors import DesignError, MeshError
from diaphragm_fem.model.joint_kinds import MOST_ARMS, Found, excess_of_all
from diaphragm_fem.model.joint_patch import Excess, joint_excess
from diaphragm_fem.model.joint_section import Kind

KEPT = 1_000  # 2 kB each


def excess_of_joints(kinds: Sequence[Kind]) -> Found:
    """Excess of several kinds of joints, with glue or laminates and without, by layer of each arm."""
    own = [k for k, kind in enumerate(kinds) if kind.glue or any(arm.layers for arm in kind.arms)]
    if not own:
        return excess_of_all(kinds)
    plain = [k for k in range(len(kinds)) if k not in own]
    rest = excess_of_all([kinds[k] for k in plain])
    most = max(MOST_ARMS, *(len(kind.parts) for kind in kinds))
    plane, around, section = (np.zeros((len(kinds), most, *part.shape[2:])) for part in rest[:3])
    problem = [""] * len(kinds)
    for n, k in enumerate(plain):
        plane[k, :MOST_ARMS], around[k, :MOST_ARMS] = rest.plane[n], rest.around[n]
        section[k, :MOST_ARMS], problem[k] = rest.section[n], rest.problem[n]
    for k in own:
        solved = _solved(kinds[k])
        if isinstance(solved, str):
            problem[k] = solved
            continue
        (parts, loads, _), turns = solved.plane.shape, solved.around.shape[1]
        plane[k, :parts, :loads, :loads], around[k, :parts, :turns, :turns] = solved.plane, solved.around
        section[k, : len(solved.section)] = solved.section
    return Found(plane, around, section, tuple(problem))


@lru_cache(maxsize=KEPT)
def _solved(kind: Kind) -> Excess | str:
    """The excess, or in words why it cannot be had."""
    try:
        return joint_excess(kind)
    except (MeshError, DesignError) as problem:
        return str(problem)
