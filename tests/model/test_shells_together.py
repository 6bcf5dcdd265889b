"""Walls of several thicknesses assembled at once are those assembled one by one."""

from itertools import chain
from pathlib import Path

import numpy as np
import pytest

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read import load_design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.model.shell.shell import ShellModel, build_shell
from diaphragm_fem.model.shell.together import wall_terms_of

STUDIES = Path(__file__).parents[2] / "studies"


def thicker(design: Design, zone: str, *scales: float) -> list[Design]:
    """The design with the wall of a zone so many times as thick."""
    (material,) = {p.wall.own.layers[0].material for p in design.meridian if p.zone.name == zone}
    return [with_walls(design, {zone: WallChoice(material, scale)}) for scale in scales]


@pytest.mark.parametrize(
    ("name", "zone", "corrected"),
    [("metal_dome", "dome", True), ("metal_dome", "dome", False), ("soft_dome", "dome", True)],
)
def test_walls_assembled_at_once_are_those_assembled_one_by_one(name: str, zone: str, corrected: bool) -> None:
    """To the last bit, laminates, a former and joints that reach farther in a thicker wall among them."""
    design = load_design(STUDIES / f"{name}.toml")
    base = build_shell(design, up_to_hz=10e3, corrected=corrected)
    shells: list[ShellModel] = [base.with_walls(other) for other in thicker(base.design, zone, 0.6, 1.0, 1.9)]
    order = base.frame(0)[1]
    alone = [list(shell.wall_terms(order)) for shell in shells]
    together = wall_terms_of(shells, order)
    assert [len(terms) for terms in together] == [len(terms) for terms in alone]
    for found, own in zip(chain(*together), chain(*alone), strict=True):
        assert (found.law, found.derivatives, found.zone, found.made_of) == (
            own.law, own.derivatives, own.zone, own.made_of,
        )  # fmt: skip
        np.testing.assert_array_equal(found.matrix.toarray(), own.matrix.toarray())
    changed = [abs(one.matrix - other.matrix).max() for one, other in zip(alone[0], alone[-1], strict=True)]
    assert max(changed) > 0
