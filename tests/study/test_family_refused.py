"""A span of walls that does not meet the design's own answers is not used: its cases are solved one by one."""

from dataclasses import replace

import pytest
from forgotten_joints import forget
from places import STUDIES

from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.model.joint import cut as joint_cut
from diaphragm_fem.model.joint import kinds as joint_kinds
from diaphragm_fem.study.plan.study import Variable
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import shared_meridian
from diaphragm_fem.study.run.shared_meridian import Shelf


@pytest.fixture(scope="module")
def recipe():
    return replace(read_study(STUDIES / "film_by_thickness.toml").recipe, alike=1000)


@pytest.fixture(scope="module")
def shelf(recipe):
    return Shelf(recipe)


def test_cases_of_a_poor_span_are_solved_one_by_one(recipe, shelf, monkeypatch):
    """The shelf makes spans that hold; here it is handed one made of a single wall, and no more walls may join it."""
    data = recipe.changed(recipe.base, {"thickness": "40 um"})
    design = design_from(data, recipe.origin, folder=STUDIES)
    assert shelf.quick(data, design) is not None
    made = shared_meridian.wall_span
    monkeypatch.setattr(shared_meridian, "wall_span", lambda family, a, b, **_: made(family, a[:1], b[:2]))
    assert Shelf(recipe).quick(data, design) is None


def test_each_material_has_a_span_of_its_own(recipe, shelf):
    for film in ("PET film", "PEN film"):
        data = recipe.changed(recipe.base, {"film": film, "thickness": "40 um"})
        assert shelf.quick(data, design_from(data, recipe.origin, folder=STUDIES)) is not None
    assert len(shelf._spans) == 2


def test_a_wall_tied_to_another_follows_it_in_every_sample(recipe):
    """A surround of a fixed ratio to the film's thickness: one range to sample, not two, and the tie holds there."""
    ratio = Variable("surround", ("profile.outer.surround.thickness",), "list", (2.0,), of="thickness")
    shelf = Shelf(replace(recipe, variables=(*recipe.variables, ratio)))
    data = shelf.recipe.changed(recipe.base, {"film": "PEN film", "thickness": "40 um", "surround": 2.0})
    thick = {
        piece.zone.name: 1e6 * piece.wall.layers[0].begin_thickness for piece in shelf._design(data, (1.0,)).meridian
    }
    assert thick["outer driven zone"] == pytest.approx(100) and thick["outer surround"] == pytest.approx(200)
    assert shelf.quick(data, design_from(data, recipe.origin, folder=STUDIES)) is not None


def test_the_joints_of_all_films_are_solved_at_once_and_before_the_first_case(recipe, monkeypatch):
    """... and none is left for the spans; those of a second film share the cuts of the first."""
    film, thickness = recipe.variables
    few = (replace(film, numbers=("PET film", "PEEK film")), replace(thickness, numbers=(50.0, 55.0)))
    shelf, solved, cut = Shelf(replace(recipe, variables=few)), [], []
    patch, drawn = joint_kinds._patch, joint_cut.plan_section
    monkeypatch.setattr(joint_kinds, "_patch", lambda key: solved.append(key) or patch(key))
    monkeypatch.setattr(joint_cut, "plan_section", lambda *kind: cut.append(kind) or drawn(*kind))
    forget()
    shelf.meet()
    assert len(solved) > 2 and len(cut) < len(solved)
    ahead = len(solved)
    for name in few[0].numbers:
        data = recipe.changed(recipe.base, {"film": name, "thickness": "52 um"})
        assert shelf.quick(data, design_from(data, recipe.origin, folder=STUDIES)) is not None
    assert len(solved) == ahead
