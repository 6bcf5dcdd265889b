"""What to change: each figure's change per tenth more of a number, against what is known of it beforehand."""

import sys
from pathlib import Path

import pytest

from diaphragm_fem.analysis.figure_definitions import apart
from diaphragm_fem.answer import cores
from diaphragm_fem.answer import sensitivities as table_of_changes
from diaphragm_fem.answer.doubts import doubtful_figures
from diaphragm_fem.answer.driver import quick_figures
from diaphragm_fem.answer.driver_curve import driver_scan
from diaphragm_fem.answer.driver_figures import level_over
from diaphragm_fem.answer.evaluate import evaluate
from diaphragm_fem.answer.loaded import load_design_on
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.answer.sensitivities import (
    Lever,
    Sensitivities,
    Sensitivity,
    Tried,
    levers,
    sensitivities,
    trials_of_levers,
)  # fmt: skip
from diaphragm_fem.design.read import load_design, read_design_file

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture(scope="module")
def dome():
    return read_design_file(STUDIES / "metal_dome.toml")


@pytest.fixture(scope="module")
def found(dome):
    return sensitivities(dome)


def test_every_length_and_modulus_is_a_lever(dome):
    keys = [lever.key for lever in levers(dome)]
    assert {"wall.thickness", "profile.rim_diameter", "profile.surround.width", "coil.former.thickness"} <= set(keys)
    assert keys[-2:] == ["modulus of aluminium alloy", "modulus of treated silk"]
    assert not any("mass" in key or "kind" in key or "conductor" in key for key in keys)


def test_a_tenth_more_of_a_key_is_that_design(dome, found):
    """The row is the difference to the design with the key written by hand."""
    row = next(row for row in found.rows if row.lever.key == "profile.height")
    higher = quick(load_design(STUDIES / "metal_dome.toml", {"profile.height": "6.6 mm"})).figures.table()
    assert row.taken_at == 0.1
    for name in ("break_up_mode_hz", "departure_hz", "low_area_m2"):
        assert row.change[name] == pytest.approx(higher[name] - found.base[name], rel=1e-9), name


def test_ten_percent_of_every_modulus_is_five_of_a_frequency(found):
    """All moduli together by 1.1 move every frequency by sqrt(1.1); the moduli are those of the former and the dome,
    the silk and the coil's wire, which keeps its own: the fundamental follows its two parts."""
    change = (
        sum(row.change["fundamental_hz"] for row in found.rows if row.lever.key.startswith("modulus of"))
        / found.base["fundamental_hz"]
    )
    # the two changes apart, not together; and the silk's own modulus rises with the frequency: 4 % of the change
    assert change == pytest.approx(1.1**0.5 - 1, rel=0.05)


def test_the_strongest_lever(found):
    strongest = [abs(row.change["break_up_mode_hz"]) for row in found.strongest("break_up_mode_hz")]
    sizes = [abs(row.change["break_up_mode_hz"]) for row in found.rows if "diameter" not in row.lever.key]
    assert strongest == sorted(filter(None, sizes), reverse=True) and strongest
    assert found.strongest("decoupling_hz") == []  # a dome has no step


def test_a_diameter_is_no_lever_of_the_verdict_and_stays_in_the_table(found):
    base = {"break_up_mode_hz": 20e3}
    rows = tuple(
        Sensitivity(Lever(key, 1.0, "length"), {"break_up_mode_hz": change}, 0.1)
        for key, change in (("profile.coil_diameter", -900.0), ("rim_diameter", 800.0), ("wall.thickness", 300.0))
    )
    (strongest,) = Sensitivities(base, rows).strongest("break_up_mode_hz")
    assert strongest.lever.key == "wall.thickness"
    assert "profile.rim_diameter" in [row.lever.key for row in found.rows]


def test_what_the_design_refuses_is_taken_the_other_way(tmp_path, monkeypatch):
    """A step that fills its flank to the last tenth cannot grow; it is made smaller and the change turned about."""
    text = (STUDIES / "stepped_v.toml").read_text(encoding="utf-8")
    text = text.replace('distance = "1.9 mm"', 'distance = "3.3 mm"')
    path = tmp_path / "tight.toml"
    path.write_text(text, encoding="utf-8")
    file, key = read_design_file(path), "profile.outer.steps[0].distance"
    monkeypatch.setattr(table_of_changes, "levers", lambda file: [one for one in levers(file) if one.key == key])
    (row,) = sensitivities(file, up_to_hz=3e3).rows
    assert row.taken_at == -0.1 and row.change["decoupling_hz"] != 0


def near(monkeypatch, file, *tables):
    """What to change is asked of some tables of the file alone."""
    chosen = [lever for lever in levers(file) if lever.key.startswith(tables)]
    monkeypatch.setattr(table_of_changes, "levers", lambda file: chosen)
    return chosen


def test_keys_that_only_loaded_figures_feel_stay_out_of_a_table_in_vacuum(monkeypatch):
    """A baffle's air is not solved for every shape: the table has no row of it, the explorer's knobs do."""
    file = read_design_file(STUDIES / "baffled_straight_v.toml")
    asked = near(monkeypatch, file, "front", "wall", "motor")
    found, knobs = sensitivities(file, up_to_hz=3e3), {lever.key for lever in asked}
    assert not found.loaded and "median_level_db" not in found.base
    keys = {row.lever.key for row in found.rows}
    assert knobs - keys == {"front.flange_depth", "front.mounting_ring"}


def test_a_driver_tells_the_change_of_its_loaded_figures(monkeypatch):
    """Each row is the difference to the driver with that key written by hand; without a second section's or a stroke's
    keys, which no figure of the table feels."""
    path = STUDIES / "two_sections.toml"
    file = read_design_file(path)
    asked = near(monkeypatch, file, "front", "wall", "second_section", "stroke")
    found = sensitivities(file, up_to_hz=5e3)
    rows = {row.lever.key: row for row in found.rows}
    assert found.loaded and not any(key.startswith(("second_section", "stroke")) for key in rows)
    assert list(rows) == [lever.key for lever in asked if lever.key in rows]  # in the order of the file
    band = quick_figures(load_design_on(file.design, up_to_hz=5e3)).band_hz
    for key, value in (("front.gap", 1.1), ("wall.thickness", 1.1)):
        wider = load_design_on(load_design(path, {key: f"{value * rows[key].lever.value} m"}), up_to_hz=5e3)
        by_hand, change = quick_figures(wider), rows[key].change
        fundamental = by_hand.figures()["loaded_fundamental_hz"]
        assert change["loaded_fundamental_hz"] == pytest.approx(fundamental - found.base["loaded_fundamental_hz"])
        # over the band of the design as it is: one of its own would flatter a part that leaves its coil earlier
        curve = driver_scan(wider)
        median, spread = level_over(curve.frequency_hz, curve.level_db, band)
        assert change["median_level_db"] == pytest.approx(median - found.base["median_level_db"], rel=1e-9)
        assert change["level_spread_db"] == pytest.approx(spread - found.base["level_spread_db"], rel=1e-9)
        assert by_hand.band_hz != band
    assert rows["front.gap"].change["median_level_db"] != 0


def test_what_exists_with_a_lever_moved_alone_is_gained_and_without_that_alone_lost(dome, monkeypatch):
    (lever,) = near(monkeypatch, dome, "wall")
    trials = trials_of_levers(dome, up_to_hz=20e3, from_hz=20.0, corrected=True)
    base = {"handed_over_hz": 2e3, "departure_hz": None, "decoupling_hz": None, "fundamental_hz": 80.0}
    moved = {"handed_over_hz": None, "departure_hz": 9e3, "decoupling_hz": None, "fundamental_hz": 88.0}
    (row,) = trials.table([Tried(base, 0.0), Tried(moved, 0.1)]).rows
    assert row.gained == {"departure_hz"} and row.lost == {"handed_over_hz"} and row.lever == lever
    assert row.change == dict.fromkeys(base) | {"fundamental_hz": 8.0}


def test_a_star_needs_a_number_that_moves_the_figure():
    """The elastomers' moduli are assumed, and the stepped V's decoupling hangs on them; its mass hardly does."""
    found = doubtful_figures(load_design(STUDIES / "stepped_v.toml"), up_to_hz=4e3)
    assert {"fundamental_hz", "stiffness_n_per_m", "decoupling_hz"} <= found
    assert "moving_mass_kg" not in found


def test_figures_are_told_apart():
    assert apart("decoupling_hz", 100.0, 102.1) and not apart("decoupling_hz", 100.0, 101.9)
    assert apart("deepest_hole_db", -1.0, -1.2) and not apart("deepest_hole_db", -10.0, -10.1)
    assert apart("even_band_octaves", 3.0, 3.04) and not apart("even_band_octaves", 3.0, 3.02)
    assert apart("handed_over_hz", None, 100.0) and not apart("handed_over_hz", None, None)


@pytest.mark.skipif(sys.platform != "linux", reason="work is shared by forking on Linux alone")
def test_an_evaluation_is_the_same_whoever_solves_its_parts(dome, found, monkeypatch, one_lever):
    """By the same code on the same numbers, in one process or in three: to the last digit."""
    answers = []
    for forks in (False, True):
        monkeypatch.setattr(cores, "may_fork", lambda forks=forks: forks)
        monkeypatch.setattr(cores, "cores", lambda: 2)
        answers.append(evaluate(dome.design, orders=[0], file=dome))
    here, shared = answers
    assert shared.second_opinion.rows == here.second_opinion.rows
    assert shared.second_opinion.figures.table() == here.second_opinion.figures.table()
    assert shared.sensitivities == here.sensitivities
    (row,) = here.sensitivities.rows
    assert row in found.rows and here.sensitivities.base == found.base
    assert (shared.area_error, shared.warnings) == (here.area_error, here.warnings)
