"""Patches of joints that come with the package, so that a fresh process need not solve those of common parts.

`.ci/make_joint_table.py` writes the table; a test compares some of it with patches solved again. The file holds, for
kinds of as many layers and fillets ("1-2-1+0/..." where the second of three arms has two layers and there is no glue),
their proportions, Poisson ratios, and what the patch yields.
"""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

from diaphragm_fem.model.joint.patch import Excess

TABLE = Path(__file__).with_name("table.npz")
NUMBERS = ("proportions", "poisson")
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
