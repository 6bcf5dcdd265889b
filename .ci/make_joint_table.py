"""Writes the table of patches that comes with the package anew, from the joints of design files as drawn and with walls
of the usual gauges: `.venv/bin/python .ci/make_joint_table.py studies/DESIGN.toml ...`."""

import sys
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import numpy as np

from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.model.joint.correction import known_joints
from diaphragm_fem.model.joint.joints import joints_of
from diaphragm_fem.model.joint.kinds import known
from diaphragm_fem.model.joint.patch import Excess
from diaphragm_fem.model.joint.table import NUMBERS, TABLE, Key

GAUGES = ("25 um", "38 um", "50 um", "60 um", "75 um", "100 um", "125 um")  # that films are sold in: common practice


def write(patches: Mapping[Key, Excess]) -> None:
    """Write the table: in single precision, 1e-7 of a value."""
    sorts: defaultdict[str, list[Key]] = defaultdict(list)
    for key in sorted(patches):
        sorts["-".join(map(str, key.layers)) + f"+{len(key.poisson) - sum(key.layers)}"].append(key)
    arrays: dict[str, Any] = {}
    for sort, keys in sorts.items():
        for name, numbers in zip(NUMBERS, zip(*(key[1:] for key in keys), strict=True), strict=True):
            arrays[f"{sort}/{name}"] = np.array(numbers)
        for name, values in zip(Excess._fields, zip(*(patches[key] for key in keys), strict=True), strict=True):
            arrays[f"{sort}/{name}"] = np.array(values, np.float32)
    np.savez_compressed(TABLE, **arrays)


def main(paths: list[str]) -> None:
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
