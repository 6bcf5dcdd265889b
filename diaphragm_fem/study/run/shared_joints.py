"""Ranges of joints for the cases of a study whose parts scatter, so that few cases need patches of their own.

They are made from the study alone, as spans of walls are: from parts spread over all ranges (`spreads_parts` of the
recipe says of which studies), never from the cases met so far, so that a case answers the same whoever solves it and in
whatever order. They are held against parts of the study that did not make them: as long as a frequency of m = 0 differs
by more than MISREAD from that with all joints solved, the worst range is left out.
"""

from collections.abc import Iterator, Sequence
from itertools import islice
from math import inf

import numpy as np

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.joint.joints import joints_of
from diaphragm_fem.model.joint.kinds import keys_of, meet, patch_of_key, read_over
from diaphragm_fem.model.joint.range import LEAST, JointRange, Sort, joint_range, sort_of
from diaphragm_fem.model.joint.table import Key
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.study.plan.sampling import evenly_spread, values_at, wide_share
from diaphragm_fem.study.plan.study import Recipe, Variable

PARTS, HELD, TRIED = 48, 6, 80
DEVIATIONS = 3.0  # of a distribution to either side that parts are spread over
MISREAD = 1e-5  # of a frequency


def read_joints_over(recipe: Recipe) -> int:
    """Have the joints of a study's cases read over ranges where that pays and holds; how many ranges there are: none
    where one of the parts that they are held against cannot be solved."""
    read_over(())
    if not recipe.spreads_parts:
        return 0
    fixed = [v for v in recipe.variables if v.is_one_value]
    free = [v for v in recipe.variables if v not in fixed]
    made = _ranges(list(islice(_parts(recipe, fixed, free, widely=True), PARTS)))
    held = list(islice(_parts(recipe, fixed, free, widely=False), HELD)) if made else []
    try:
        kept = _holding(made, [mesh.design for mesh in held], recipe.up_to_hz)
    except DiaphragmError:  # a case that is like it will tell
        kept = []
    read_over(kept)
    return len(kept)


def _parts(recipe: Recipe, fixed: Sequence[Variable], free: Sequence[Variable], widely: bool) -> Iterator[MeridianMesh]:
    """Parts spread evenly over all ranges and distributions, or widely over these, those that can be built."""
    held = {v.name: v.numbers[0] for v in fixed}
    for shares in evenly_spread(TRIED, len(free)).tolist():
        at = [wide_share(v, x, DEVIATIONS) if widely else x for v, x in zip(free, shares, strict=True)]
        values = {v.name: values_at(v, np.array([x]))[0] for v, x in zip(free, at, strict=True)}
        try:
            data = recipe.changed(recipe.base, {**held, **values})
            yield mesh_meridian(recipe.drawn(data))
        except DiaphragmError:  # a case that is like it will tell
            continue


def _ranges(parts: Sequence[MeridianMesh]) -> list[JointRange]:
    """The ranges of all joints that differ from part to part, but for laminates and glue, whose patches take long."""
    groups: dict[tuple[int, Sort], dict[Key, None]] = {}
    for mesh in parts:
        for place, key in enumerate(keys_of([joint.kind for joint in joints_of(mesh)])):
            sort = sort_of(key)
            if sort and len(key.poisson) == len(key.layers):
                groups.setdefault((place, sort), {})[key] = None
    many = {(place, sort): keys for (place, sort), keys in groups.items() if len(keys) >= LEAST}
    meet(key for keys in many.values() for key in keys)
    found = []
    for (_, sort), keys in many.items():
        patches = [(key, patch) for key in keys if (patch := patch_of_key(key))]
        if one := joint_range(sort, patches):
            found.append(one)
    return found


def _holding(ranges: Sequence[JointRange], held: Sequence[Design], up_to_hz: float) -> list[JointRange]:
    """Those ranges with which all of some designs are met, the worst left out one by one."""
    kept = list(ranges)
    own = [_frequencies(design, (), up_to_hz) for design in held]

    def misread(some: Sequence[JointRange]) -> float:
        return max(_off(_frequencies(d, some, up_to_hz), there) for d, there in zip(held, own, strict=True))

    while kept and held and misread(kept) > MISREAD:
        del kept[int(np.argmax([misread([one]) for one in kept]))]
    return kept if held else []


def _frequencies(design: Design, ranges: Sequence[JointRange], up_to_hz: float) -> Array:
    read_over(ranges)
    structure = build_shell(design, up_to_hz=up_to_hz, corrected=True).structure(0)
    return np.asarray(solve_modes(structure, up_to_hz).frequency_hz)


def _off(found: Array, there: Array) -> float:
    return float(np.abs(found / there - 1).max(initial=0.0)) if len(found) == len(there) else inf
