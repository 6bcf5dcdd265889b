"""Patches of joints that come with the package, so that a fresh process need not solve those of common parts.

`python -m diaphragm_fem.model.joint.table DESIGN...` solves the patches of the joints of design files, as drawn and
with walls of the usual gauges, and writes the table anew; a test compares some of it with patches solved again. The
file holds, for kinds of as many layers and fillets ("1-2-1+0/..." where the second of three arms has two layers and
there is no glue), their proportions, Poisson ratios, and what the patch yields.
"""

import sys
from collections import defaultdict
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from diaphragm_fem.model.joint.patch import Excess

TABLE = Path(__file__).with_name("table.npz")
NUMBERS = ("proportions", "poisson")
GAUGES = ("25 um", "38 um", "50 um", "60 um", "75 um", "100 um", "125 um")  # that films are sold in: common practice
MM = 1e-3  # m that the first arm of a kind by its proportions is thick
STEP = 1e-7  # of what `joint.kinds` calls proportions: nearer kinds are one


class Key(NamedTuple):
    """A kind by its proportions: how many layers each arm has, `joint.kinds._key` in steps, the Poisson ratios
    of layers and glue."""

    layers: tuple[int, ...]
    points: tuple[int, ...]
    poisson: tuple[float, ...]


def most_bends(layers: int) -> int:
    """Of an arm of so many layers: a stack that rises from its line has a bend of its own as well."""
    return min(layers, 2)


def beside_plies(layers: int) -> int:
    """How many proportions of an arm follow those of its layers: turn, bends and, of several layers, lift."""
    return 1 + 2 * most_bends(layers) + (layers > 1)


@cache
def shipped() -> Mapping[Key, Excess]:
    """The table of the package: empty where its file is missing."""
    if not TABLE.exists():
        return {}
    found = {}
    with np.load(TABLE, allow_pickle=False) as file:
        for sort in {name.split("/")[0] for name in file.files}:
            layers = tuple(map(int, sort.split("+")[0].split("-")))
            points, poisson, *yields = (file[f"{sort}/{name}"] for name in (*NUMBERS, *Excess._fields))
            for point, nu, *own in zip(points.tolist(), poisson.tolist(), *yields, strict=True):
                found[Key(layers, tuple(point), tuple(nu))] = Excess(*(x.astype(float) for x in own))
    return found


def write(known: Mapping[Key, Excess]) -> None:
    """Write the table: in single precision, 1e-7 of a value."""
    sorts: defaultdict[str, list[Key]] = defaultdict(list)
    for key in sorted(known):
        sorts["-".join(map(str, key.layers)) + f"+{len(key.poisson) - sum(key.layers)}"].append(key)
    arrays: dict[str, Any] = {}
    for sort, keys in sorts.items():
        for name, numbers in zip(NUMBERS, zip(*(key[1:] for key in keys), strict=True), strict=True):
            arrays[f"{sort}/{name}"] = np.array(numbers)
        for name, values in zip(Excess._fields, zip(*(known[key] for key in keys), strict=True), strict=True):
            arrays[f"{sort}/{name}"] = np.array(values, np.float32)
    np.savez_compressed(TABLE, **arrays)


def main(paths: list[str]) -> None:
    """Solve the patches of the joints of design files and write them."""
    from diaphragm_fem.design.read.read import read_design_file
    from diaphragm_fem.errors import DiaphragmError
    from diaphragm_fem.mesh.meridian import mesh_meridian
    from diaphragm_fem.model.joint.correction import known_joints
    from diaphragm_fem.model.joint.joints import joints_of
    from diaphragm_fem.model.joint.kinds import known

    TABLE.unlink(missing_ok=True)  # so that every patch is solved
    for path in paths:
        for change in ({}, *({"wall.thickness": gauge} for gauge in GAUGES)):
            try:
                mesh = mesh_meridian(read_design_file(path, change, allow_unusual=True).design)
                problems = known_joints(mesh, joints_of(mesh)).remarks
            except DiaphragmError as problem:
                problems = (str(problem),)
            sys.stdout.writelines(f"left out of {path}, {change}: {x}\n" for x in problems)
    write(known())
    sys.stdout.write(f"{len(known())} patches in {TABLE}, {TABLE.stat().st_size / 1e3:.0f} kB\n")


if __name__ == "__main__":
    main(sys.argv[1:])
