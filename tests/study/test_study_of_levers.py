"""The study that an examination leaves ready: what it varies, what its best may not cost, and that it can be read."""

import tomllib
from dataclasses import replace
from itertools import product
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from places import STUDIES
from report_cases import stepped_v

from diaphragm_fem.answer.change.levers import BY_ZONES, Lever
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.errors import MeshError
from diaphragm_fem.load.plug import draw_plug
from diaphragm_fem.report.results.folder import is_own
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.plan.study_of_levers import VALUES, study_of_levers

STEPPED = (STUDIES / "stepped_v.toml").read_text(encoding="utf-8")
BASE = {"fundamental_hz": 80.0, "area_per_mass_m2_per_kg": 0.6, "shelf_band_octaves": 6.0, "shelf_band_to_hz": 8e3,
        "decoupling_hz:inner step": 700.0}  # fmt: skip


def moved(key: str, octaves: float, kind: str = "length") -> Sensitivity:
    return Sensitivity(Lever(key, 1e-3, kind), {"shelf_band_octaves": octaves}, 0.1)


ROWS = (
    moved("modulus of PEN film", 3.0, "modulus"), moved("profile.coil_diameter", 2.0),
    moved("profile.inner.width", -1.0), moved("wall.thickness", 0.5), moved("profile.outer.rise", 0.2),
    moved("profile.inner.steps[0].tread", 0.0), moved("profile.outer.steps[0].tread", 0.01),
)  # fmt: skip


def text_of(rows, text: str = STEPPED, **parts) -> str | None:
    told = replace(stepped_v(), sensitivities=Sensitivities(BASE, tuple(rows)), **parts)
    return study_of_levers(told, text, "results/v/study_of_v.toml", Path())


def of_driver(
    departure_hz: float | None = 5e3, sections=None, level_db: float | None = 120.0, excursion_m: float = 0.5e-3
):
    """A driver with the figures that the study asks for."""
    loaded, played = SimpleNamespace(departure_hz=departure_hz), {"heard_octaves": 6.0}
    heard = {"median_level_db": level_db, "excursion_m": excursion_m, "played": played}
    figures = SimpleNamespace(band_hz=(100.0, 5e3), loaded=loaded, **heard)
    return SimpleNamespace(figures=figures, sections=sections)


def test_treads_and_what_moves_the_band_most_are_varied_and_nothing_that_is_not_the_parts(tmp_path):
    text = text_of(ROWS)
    (tmp_path / "design.toml").write_text(STEPPED, encoding="utf-8")
    path = tmp_path / "study_of_v.toml"
    path.write_text(text, encoding="utf-8")
    study = read_study(path)
    assert [variable.keys[0] for variable in study.recipe.variables] == [
        "profile.inner.steps[0].tread", "profile.outer.steps[0].tread", "profile.inner.width", "wall.thickness"
    ]  # fmt: skip
    data = tomllib.loads(text)
    assert data["vary"]["inner_step_tread"]["range"] == ["0.48 mm", "1.28 mm"]  # 0.6 and 1.6 times 0.8 mm
    assert study.limits == {"fundamental_hz": (None, 100.0), "area_per_mass_m2_per_kg": (pytest.approx(0.48), None)}
    assert "diaphragm-fem sweep results/v/study_of_v.toml" in text and data["vary"]["wall_thickness"]["count"] == VALUES
    assert is_own(path.name)


def test_the_best_may_not_pay_with_a_peak_or_a_hole(tmp_path):
    """Of a ring V a case with 11.1 in place of 3.8 dB won, its break-up mode hidden by a threshold."""
    base = {**BASE, "highest_peak_db": 3.8, "deepest_hole_db": -7.2}
    told = replace(stepped_v(), sensitivities=Sensitivities(base, ROWS))
    (tmp_path / "design.toml").write_text(STEPPED, encoding="utf-8")
    path = tmp_path / "study_of_v.toml"
    path.write_text(study_of_levers(told, STEPPED, "x.toml", Path()) or "", encoding="utf-8")
    limits = read_study(path).limits
    assert limits["highest_peak_db"] == (None, pytest.approx(5.8))
    assert limits["deepest_hole_db"] == (pytest.approx(-9.2), None)
    told = replace(told, sensitivities=Sensitivities({**base, "highest_peak_db": 0.0, "deepest_hole_db": -0.5}, ROWS))
    path.write_text(study_of_levers(told, STEPPED, "x.toml", Path()) or "", encoding="utf-8")
    limits = read_study(path).limits  # a shelf band holds 3 dB
    assert (limits["highest_peak_db"][1], limits["deepest_hole_db"][0]) == (3.0, -3.0)


def test_where_a_hand_over_fails_the_study_varies_what_all_steps_are(tmp_path):
    """Of a V with two firm steps the study of its surround and its width found no case that handed over."""
    base = {**BASE, "handed_over_hz": None}
    told = replace(stepped_v(), sensitivities=Sensitivities(base, ROWS))
    (tmp_path / "design.toml").write_text(STEPPED, encoding="utf-8")
    path = tmp_path / "study_of_v.toml"
    path.write_text(study_of_levers(told, STEPPED, "x.toml", Path()) or "", encoding="utf-8")
    both = [f"profile.{side}.steps[0]" for side in ("inner", "outer")]
    varied = {one.name: one for one in read_study(path).recipe.variables}
    for last in ("material", "thickness", "tread"):
        assert varied.pop(f"step_{last}").keys == tuple(f"{step}.{last}" for step in both)
    assert list(varied) == ["inner_flank_width"]  # and what moves the band most
    vary = tomllib.loads(path.read_text(encoding="utf-8"))["vary"]
    assert vary["step_material"]["list"][0] == "damping elastomer" and "butyl rubber" in vary["step_material"]["list"]
    assert vary["step_thickness"]["range"] == ["20.0 um", "60.0 um"]  # to a third, softer alone
    assert len(read_study(path).recipe.variables) == 4 and text_of(ROWS).count("step_material") == 0


def test_a_key_that_a_file_may_be_given_is_not_varied():
    """Of two drawn faces no factor stands in the file: an examination ended with a traceback."""
    factor = Sensitivity(Lever("profile.thickness_factor.cone", 1.0, BY_ZONES), {"shelf_band_octaves": 3.0}, 0.1)
    assert text_of([factor, *ROWS]) == text_of(ROWS) is not None


def test_a_range_ends_where_what_it_leads_to_can_no_longer_be_built():
    """Nor is a list of two thicknesses one number; one lever alone is no study."""
    thin = STEPPED.replace('thickness = "50 um"', 'thickness = "8 um"')
    ends = tomllib.loads(text_of(ROWS, thin))["vary"]["wall_thickness"]["range"]
    assert ends == ["6.2 um", "12.8 um"]  # half as far as 0.6, in logarithms, for 4.8 um are thinner than any film
    assert text_of(ROWS[3:4]) is None and text_of(ROWS[:2]) is None
    assert study_of_levers(replace(stepped_v(), sensitivities=None), STEPPED, "x.toml", Path()) is None


def test_a_slot_is_varied_as_far_as_it_stays_on_its_side_of_the_face_and_clear_of_bends():
    design = (STUDIES / "driver_straight_v.toml").read_text(encoding="utf-8")
    rows = [moved("front.slots[0].radius", 3.0), moved("front.gap", 2.0), moved("front.slots[0].width", 1.0)]
    drawn = load_design(STUDIES / "driver_straight_v.toml")
    text = text_of(rows, design, design=drawn, driver=of_driver())
    vary = tomllib.loads(text)["vary"]
    assert vary["front_gap"]["range"] == ["0.6 mm", "0.96 mm"]  # narrower the slots are more than twice as wide
    for one in vary.values():
        (low, unit), (high, _) = (end.split() for end in one["range"])
        for value in np.linspace(float(low), float(high), one["count"]):
            driven = load_design(STUDIES / "driver_straight_v.toml", {one["key"]: f"{value} {unit}"})
            assert len(draw_plug(driven, driven.driver.front).mouths) == 2
    with pytest.raises(MeshError, match="does not lie within the face"):
        driven = load_design(STUDIES / "driver_straight_v.toml", {"front.slots[0].radius": "30.7 mm"})
        draw_plug(driven, driven.driver.front)


@pytest.mark.parametrize(("name", "key", "end", "alone"), [
    ("stepped_v", "profile.inner.width", 0, "5.03 mm"), ("driver_stepped_v", "profile.inner.rise", 1, "12.5 mm"),
])  # fmt: skip
def test_ranges_end_where_their_ends_together_can_no_longer_be_built(name, key, end, alone):
    """A step that no longer fits on its flank, a gap wider than the hollow of a steep one (24 and 20 of 256 cases)."""
    design = (STUDIES / f"{name}.toml").read_text(encoding="utf-8")
    first = "profile.inner.steps[0].distance" if name == "stepped_v" else "profile.inner.width"
    rows = [*ROWS[-2:], moved(first, 3.0), moved(key, 2.0)]
    drawn = load_design(STUDIES / f"{name}.toml")
    told = replace(stepped_v(), design=drawn, sensitivities=Sensitivities(BASE, rows))
    told = replace(told, driver=of_driver() if drawn.driver else None)
    vary = tomllib.loads(study_of_levers(told, design, "x.toml", STUDIES) or "")["vary"].values()
    assert [one["range"][end] != alone for one in vary if one["key"] == key] == [True]
    for ends in product(*(one["range"] for one in vary)):
        changes = dict(zip((one["key"] for one in vary), ends, strict=True))
        if (driven := load_design(STUDIES / f"{name}.toml", changes)).driver:
            draw_plug(driven, driven.driver.front)


def test_a_driver_that_was_judged_in_vacuum_is_varied_in_vacuum():
    for loaded in (False, True):
        assert ready_of_driver(loaded)["want"].get("in_vacuum", False) is not loaded


def test_of_a_driver_whose_slots_cannot_be_drawn_the_part_is_varied_alone():
    """No range could be built with its slots, so no study was left; of a second section one that failed whole."""
    keys = {"front.slots[0].radius": "30.7 mm"}
    drawn = load_design(STUDIES / "driver_straight_v.toml", keys)
    with pytest.raises(MeshError, match="does not lie within the face"):
        draw_plug(drawn, drawn.driver.front)
    design = (STUDIES / "driver_straight_v.toml").read_text(encoding="utf-8").replace("19.2 mm", "30.7 mm")
    data = tomllib.loads(text_of(ROWS[2:5], design, design=drawn))
    assert data["want"]["in_vacuum"] is True
    assert list(data["vary"]) == ["inner_flank_width", "wall_thickness", "outer_flank_rise"]


POINTS = """
name = "drawn by points"
coil = { kind = "ring", diameter = "25 mm", mass = "0.8 g" }
edges = { outer = "clamped" }
[profile]
kind = "free"
r = ["0 mm", "12.5 mm", "28 mm", "32 mm"]
z = ["4 mm", "0 mm", "9 mm", "9 mm"]
thickness = ["200 um", "180 um", "300 um", "300 um"]
zone = ["cap", "cone", "surround", "surround"]
role = ["driven", "driven", "surround", "surround"]
material = ["paper", "paper", "nitrile rubber", "nitrile rubber"]
"""


def varied_in(text: str | None, design: str, folder: Path) -> dict[str, dict]:
    """What a study varies, which can be read beside the design."""
    (folder / "design.toml").write_text(design, encoding="utf-8")
    (folder / "study.toml").write_text(text, encoding="utf-8")
    variables = read_study(folder / "study.toml").recipe.variables
    assert all(variable.count == VALUES for variable in variables)
    return tomllib.loads(text)["vary"]


def test_of_a_part_by_points_the_thickness_of_each_zone_is_varied(tmp_path):
    """None was left ready, and the table of changes said that one was."""
    (tmp_path / "drawn.toml").write_text(POINTS, encoding="utf-8")
    rows, drawn = [moved("profile.thickness", -1.0)], load_design(tmp_path / "drawn.toml")
    vary = varied_in(text_of(rows, POINTS, design=drawn), POINTS, tmp_path)
    keys = [one["key"] for one in vary.values()]
    assert keys == ["profile.thickness[0]", "profile.thickness[1]", ["profile.thickness[2]", "profile.thickness[3]"]]
    assert vary["thickness_2"]["range"] == ["108.0 um", "288.0 um"]
    uneven = POINTS.replace('"300 um"]', '"250 um"]')  # a zone that tapers keeps its taper
    assert len(varied_in(text_of(rows, uneven, design=drawn), uneven, tmp_path)) == 2


def test_a_zone_called_wall_is_varied_beside_the_wall_of_all_others(tmp_path):
    """Both bore one name, by which the second took the place of the first."""
    parts = [
        'wall = { material = "paper", thickness = "0.2 mm" }', 'edges = { outer = "clamped" }',
        'coil = { kind = "ring", diameter = "25 mm", mass = "1 g" }', 'zones.wall = { thickness = "0.3 mm" }',
        '[profile]', 'kind = "free"', 'r = ["0 mm", "12.5 mm", "28 mm", "32 mm"]',
        'z = ["4 mm", "0 mm", "9 mm", "9 mm"]', 'zone = ["dome", "wall", "surround", "surround"]',
    ]  # fmt: skip
    drawn = "\n".join(['name = "cone"', *parts])
    (tmp_path / "drawn.toml").write_text(drawn, encoding="utf-8")
    rows, design = [moved(f"{table}.thickness", -1.0) for table in ("zones.wall", "wall")], tmp_path / "drawn.toml"
    vary = varied_in(text_of(rows, drawn, design=load_design(design)), drawn, tmp_path)
    named = {"wall_zone_thickness": "zones.wall.thickness", "wall_thickness": "wall.thickness"}
    assert {name: one["key"] for name, one in vary.items()} == named


def test_of_two_drawn_faces_factors_are_varied_that_the_file_need_not_have(tmp_path):
    drawn = (STUDIES / "drawn_v.toml").read_text(encoding="utf-8")
    assert "thickness_factor" not in drawn
    (tmp_path / "drawn_v.dxf").write_bytes((STUDIES / "drawn_v.dxf").read_bytes())
    steps = [f'profile.thickness_factor."{side} step"' for side in ("inner", "outer")]
    told = replace(stepped_v(), design=load_design(STUDIES / "drawn_v.toml"))
    told = replace(told, sensitivities=Sensitivities(BASE, tuple(moved(key, 1.0, BY_ZONES) for key in steps)))
    vary = varied_in(study_of_levers(told, drawn, "x.toml", tmp_path), drawn, tmp_path)
    ends = {one["key"]: tuple(map(float, one["range"])) for one in vary.values()}
    assert ends == dict.fromkeys(steps, (0.6, 1.6))
    assert list(vary) == ["inner_step_thickness_factor", "outer_step_thickness_factor"]


def test_a_study_of_two_sections_says_whose_levels_it_ranks():
    """A verdict told 117 dB about a crossover of 3.5 kHz; the study of its levels knows of no second section."""
    drawn = load_design(STUDIES / "driver_stepped_v.toml")
    design = (STUDIES / "driver_stepped_v.toml").read_text(encoding="utf-8")
    for sections, loaded in ((None, True), (SimpleNamespace(), True), (SimpleNamespace(), False)):
        found = Sensitivities(BASE, ROWS, loaded)  # in vacuum there is no level of either
        told = replace(stepped_v(), design=drawn, driver=of_driver(sections=sections), sensitivities=found)
        text = study_of_levers(told, design, "x.toml", STUDIES)
        assert ("# Figures that begin with 'sum_' are of what both" in text) is (sections is not None and loaded)
        assert tomllib.loads(text)["vary"]


def test_a_study_of_two_sections_wishes_for_what_both_send_about_their_crossover():
    """The first section's level alone was wished for, unfiltered."""
    both = {"sum_level_spread_db": 5.4, "sum_median_level_db": 120.0, "sum_heard_octaves": 8.0}
    data = ready_of_driver(loaded=True, base=both)
    assert [one["figure"] for one in data["morning"]["wish"]] == ["sum_level_spread_db", "sum_median_level_db"]
    assert data["morning"]["limits"]["sum_heard_octaves"] == {"above": "7.76 octaves"}
    assert "bands" not in data["want"]  # the octaves beside the crossover, whatever moves


def test_the_best_of_a_driver_may_not_pay_with_the_end_of_its_band():
    """A winner of two sections had its levels evener over the old band, and left its coil 0.6 octaves lower."""
    heard = {"heard_octaves:use": {"above": "5.82 octaves"}}
    departure = {"loaded_departure_hz": {"above": "4500 Hz"}}
    clear = {"excursion_m": {"below": "0.6 mm"}}  # of its plug
    assert ready_of_driver(loaded=True)["morning"]["limits"] == departure | heard | clear
    assert ready_of_driver(loaded=True, departure_hz=None)["morning"]["limits"] == heard | clear
    touching = ready_of_driver(loaded=True, excursion_m=0.61e-3)
    assert touching["morning"]["limits"] == departure | heard
    moves = Sensitivity(Lever("front.gap", 8e-4, "length"), {"level_spread_db": -1.0}, 0.1)
    wide = ready_of_driver(loaded=True, rows=(*ROWS, moves), gap="0.8 mm")
    narrowest = wide["vary"]["front_gap"]["range"][0]
    assert narrowest != "0.8 mm" and wide["morning"]["limits"]["excursion_m"] == {"below": narrowest}
    assert "loaded_departure_hz" not in ready_of_driver(loaded=False)["morning"]["limits"]


def test_no_study_of_levels_is_left_of_a_driver_without_a_level():
    """One with a motor and no exit was ranked by figures that none of its cases had: each score was 0."""
    assert ready_of_driver(loaded=True, level_db=None) == {}
    assert ready_of_driver(loaded=False, level_db=None)["morning"]["wish"]


def ready_of_driver(loaded: bool, rows=ROWS, gap: str = "0.6 mm", base=BASE, **figures) -> dict:
    drawn = load_design(STUDIES / "driver_stepped_v.toml", {"front.gap": gap})
    found = Sensitivities({**BASE, **base}, rows, loaded)
    driven = replace(stepped_v(), design=drawn, driver=of_driver(**figures), sensitivities=found)
    design = (STUDIES / "driver_stepped_v.toml").read_text(encoding="utf-8").replace('"0.6 mm"', f'"{gap}"')
    return tomllib.loads(study_of_levers(driven, design, "x.toml", STUDIES) or "")
