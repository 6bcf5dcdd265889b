"""Cases that share a meridian: answered on one mesh, the same in any order, and as the full model answers
them.
"""

import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import case_answer as evaluator
from diaphragm_fem.study.run.case_row import EVALUATOR, look_ahead, run_case
from diaphragm_fem.study.run.curve_packing import unpack_curves
from diaphragm_fem.study.run.shared_meridian import Shelf, frame_of, wall_choices


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    """The shipped study with a film, an alloy and half of its thicknesses' range."""
    text = (STUDIES / "film_by_thickness.toml").read_text()
    films = text.partition("list = ")[2].partition("\n")[0]
    for whole, part in ((films, '["PEN film", "aluminium alloy"]'), ("25 um", "40 um"), ("100 um", "80 um")):
        assert text.count(whole) == 1
        text = text.replace(whole, part)
    folder = tmp_path_factory.mktemp("studies")
    (folder / "films.toml").write_text(text)
    shutil.copy(STUDIES / "straight_v.toml", folder)
    return read_study(folder / "films.toml")


def answers(recipe, sampler, numbers):
    evaluator._shelf = None
    return answers_at_hand(recipe, sampler, numbers, {})


def answers_at_hand(recipe, sampler, numbers, ahead):
    rows = {k: run_case(recipe, k, sampler.values(k), EVALUATOR, ahead=ahead.get(k)) for k in numbers}
    return {k: (row.status, row.figures, row.curves) for k, row in rows.items()}


@pytest.fixture(scope="module")
def shared(study):
    """Two cases of a film, and between them one of an alloy."""
    return answers(study.recipe, Sampler(study), [40, 119, 41])


def test_a_case_answers_the_same_to_the_last_bit_in_any_order_and_ahead_of_its_turn(study, shared):
    sampler = Sampler(study)
    found = answers(study.recipe, sampler, [41])
    ahead = look_ahead(study.recipe, [(k, sampler.values(k)) for k in (40, 119)], EVALUATOR)
    assert [one.data for one in evaluator._ahead] == [ahead[40]]  # the alloy's span is not there yet
    found |= answers_at_hand(study.recipe, sampler, [119, 40], ahead)
    assert not evaluator._ahead and shared == found


def test_the_shared_assembly_meets_the_full_model(study, shared):
    numbers = [40, 119]
    single = answers(replace(study.recipe, alike=1), Sampler(study), numbers)  # nothing to share: each by itself
    for k in numbers:
        assert shared[k][0] == single[k][0] == "done"
        figures, expected = json.loads(shared[k][1]), json.loads(single[k][1])
        for name, value in expected.items():  # meshes differ a little: the shared one serves the thinnest wall
            assert figures[name] == (pytest.approx(value, rel=2e-3) if value is not None else None)
        curves, plain = unpack_curves(shared[k][2]), unpack_curves(single[k][2])
        quiet = curves["frequency_hz"] < 0.5 * expected["departure_hz"]
        there = np.interp(curves["frequency_hz"], plain["frequency_hz"], np.abs(plain["area_m2"]))
        assert np.abs(curves["area_m2"])[quiet] == pytest.approx(there[quiet], rel=5e-3)


def test_the_shelf_is_really_used_and_only_where_it_pays(study):
    data = study.recipe.design_of(Sampler(study).values(40))
    design = load_design(
        STUDIES / "straight_v.toml", {"profile.bottom_radius": "0.4 mm", "profile.corner_radius": "0.4 mm"}
    )
    assert Shelf(study.recipe).quick(data, design) is not None
    assert Shelf(replace(study.recipe, alike=1)).quick(data, design) is None


def test_walls_are_told_apart_from_shapes():
    base = load_design(
        STUDIES / "straight_v.toml", {"profile.corner_radius": "0.4 mm", "profile.bottom_radius": "0.4 mm"}
    )
    same = {"profile.corner_radius": "0.4 mm", "profile.bottom_radius": "0.4 mm"}
    thicker = load_design(STUDIES / "straight_v.toml", {**same, "wall.thickness": "60 um"})
    wider = load_design(STUDIES / "straight_v.toml", {**same, "profile.outer.width": "5 mm"})
    assert frame_of(base) == frame_of(thicker) != frame_of(wider)
    walls = wall_choices(base, thicker)
    assert walls["outer driven zone"].scale == pytest.approx(1.2)
    assert walls["outer surround"].scale == 1.0
