"""Patches of joints that come with the package, so that a fresh process need not solve those of common parts.

`python -m diaphragm_fem.model.joint_table DESIGN...` solves the patches of the joints of design files, as drawn and
with walls of the usual gauges, and writes the table anew; a test compares some of it with patches solved again. The
file holds, for kinds of A arms, their proportions by `joint_kinds` (5 numbers an arm), Poisson ratios, and what the
patch yields.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.model.joint_patch import Excess

TABLE = Path(__file__).with_name("joint_table.npz")
GAUGES = ("25 um", "38 um", "50 um", "60 um", "75 um", "100 um", "125 um")  # that films are sold in: common practice

Poisson = tuple[float, ...]
Key = tuple[tuple[int, ...], Poisson]  # proportions in steps and the Poisson ratios of the arms


@cache
def shipped() -> Mapping[Key, Excess]:
    """The table of the package: empty where its file is missing."""
    if not TABLE.exists():
        return {}
    found = {}
    with np.load(TABLE, allow_pickle=False) as file:
        for arms in range(1, 4):
            points, poisson, *yields = (file[f"{name}_{arms}"] for name in ("proportions", "poisson", *Excess._fields))
            for point, nu, *own in zip(points.tolist(), poisson.tolist(), *yields, strict=True):
                found[tuple(point), tuple(nu)] = Excess(*(x.astype(float) for x in own))
    return found


def write(known: Mapping[Key, Excess]) -> None:
    """Write the table: in single precision, 1e-7 of a value."""
    arrays: dict[str, Any] = {}
    for arms in range(1, 4):
        keys = sorted(key for key in known if len(key[1]) == arms)
        arrays[f"proportions_{arms}"] = np.array([key[0] for key in keys], np.int64).reshape(len(keys), 5 * arms)
        arrays[f"poisson_{arms}"] = np.array([key[1] for key in keys]).reshape(len(keys), arms)
        for place, name in enumerate(Excess._fields):
            values = [known[key][place] for key in keys]
            arrays[f"{name}_{arms}"] = np.array(values, np.float32) if keys else np.zeros((0, arms, 1))
    np.savez_compressed(TABLE, **arrays)


def main(paths: list[str]) -> None:
    """Solve the patches of the joints of design files and write them."""
    from diaphragm_fem.design.read import read_design_file
    from diaphragm_fem.errors import DiaphragmError
    from diaphragm_fem.mesh.meridian import mesh_meridian
    from diaphragm_fem.model.joint_kinds import excess_of, known
    from diaphragm_fem.model.joints import joints_of

    TABLE.unlink(missing_ok=True)  # so that every patch is solved
    for path in paths:
        for change in ({}, *({"wall.thickness": gauge} for gauge in GAUGES)):
            try:
                for joint in joints_of(mesh_meridian(read_design_file(path, change, allow_unusual=True).design)):
                    if not any(arm.layers for arm in joint.kind.arms):  # laminates are kept as they are
                        excess_of(joint.kind)
            except DiaphragmError as problem:
                sys.stdout.write(f"left out, {change}: {problem}\n")
    write(known())
    sys.stdout.write(f"{len(known())} patches in {TABLE}, {TABLE.stat().st_size / 1e3:.0f} kB\n")


if __name__ == "__main__":
    main(sys.argv[1:])
