"""A wall family that misses the full model is not used: its cases are solved one by one."""

from dataclasses import replace
from pathlib import Path

import pytest

from diaphragm_fem.answer.wall_family import wall_family
from diaphragm_fem.design.read import load_design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import shared_meridian
from diaphragm_fem.study.run.shared_meridian import Shelf, wall_choices

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture(scope="module")
def poor():
    """A family made from one wall, and a design whose flank is a fifth as thick on the same meridian."""
    base = load_design(
        STUDIES / "straight_v.toml", {"profile.corner_radius": "0.4 mm", "profile.bottom_radius": "0.4 mm"}
    )
    alone = wall_choices(base, base)
    flank = next(name for name in alone if "driven" in name)
    far = with_walls(base, {**alone, flank: WallChoice(alone[flank].material, 0.2)})
    return wall_family(base, [alone]), base, far


@pytest.fixture(scope="module")
def recipe():
    return replace(read_study(STUDIES / "film_by_thickness.toml").recipe, alike=1000)


def test_a_family_holds_at_its_own_wall_and_nowhere_far_from_it(poor, recipe):
    family, base, far = poor
    shelf = Shelf(recipe)
    assert shelf._holds(family, base, 20e3)
    assert not shelf._holds(family, far, 20e3)


def test_cases_of_a_poor_family_are_solved_one_by_one(recipe, monkeypatch):
    """The shelf makes families that hold; here it is handed one that was made from a single wall."""
    data = {**recipe.base}
    design = shared_meridian.design_from(recipe.changed(data, {}), recipe.origin, folder=STUDIES)
    assert Shelf(recipe).quick(data, design) is not None
    made = shared_meridian.wall_family
    monkeypatch.setattr(
        shared_meridian, "wall_family", lambda middle, samples, **more: made(middle, samples[:1], **more)
    )
    assert Shelf(recipe).quick(data, design) is None
