"""Joints with glue at the former, kept as they are and not by their proportions, 0.3 to 0.6 s each."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from diaphragm_fem.errors import DesignError, MeshError
from diaphragm_fem.model.joint_kinds import Found, excess_of_all
from diaphragm_fem.model.joint_patch import Excess, joint_excess
from diaphragm_fem.model.joint_section import Kind

KEPT = 1_000  # 2 kB each


def excess_of_joints(kinds: Sequence[Kind]) -> Found:
    """Excess of several kinds of joints, with glue and without."""
    glued = [k for k, kind in enumerate(kinds) if kind.glue]
    if not glued:
        return excess_of_all(kinds)
    plain = [k for k in range(len(kinds)) if k not in glued]
    rest = excess_of_all([kinds[k] for k in plain])
    plane, around, section = (np.zeros((len(kinds), *part.shape[1:])) for part in rest[:3])
    problem = [""] * len(kinds)
    for n, k in enumerate(plain):
        plane[k], around[k], section[k], problem[k] = rest.plane[n], rest.around[n], rest.section[n], rest.problem[n]
    for k in glued:
        solved = _glued(kinds[k])
        if isinstance(solved, str):
            problem[k] = solved
            continue
        (arms, loads, _), turns = solved.plane.shape, solved.around.shape[1]
        plane[k, :arms, :loads, :loads], around[k, :arms, :turns, :turns] = solved.plane, solved.around
        section[k, :arms] = solved.section
    return Found(plane, around, section, tuple(problem))


@lru_cache(maxsize=KEPT)
def _glued(kind: Kind) -> Excess | str:
    """The excess, or in words why it cannot be had."""
    try:
        return joint_excess(kind)
    except (MeshError, DesignError) as problem:
        return str(problem)
