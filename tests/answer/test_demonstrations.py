"""The demonstration designs show what they are there to show."""

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.analysis.figures.definitions import Wanted
from diaphragm_fem.answer.driver.driver import quick_figures
from diaphragm_fem.answer.driver.loaded import load_design_on
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.read.read import load_design

STEPS = 12


@pytest.fixture(scope="module")
def found():
    return {name: quick(load_design(STUDIES / f"{name}.toml")) for name in ("straight_v", "stepped_v", "metal_dome")}


def test_stepped_v_hands_over(found):
    """Full area below the decoupling frequency, about the driven zones' above the hand-over, then they leave."""
    area, figures = found["stepped_v"].solution.scan, found["stepped_v"].figures
    roles = [(zone.role, a) for zone, a in zip(area.zones, area.zone_area, strict=True)]
    share_of = {role: sum(a for found_role, a in roles if found_role is role) for role in Role}
    rigid = sum(area.zone_area)
    # at rest the soft steps let the flanks beyond them lag by a quarter
    assert 0.65 * (rigid - share_of[Role.SURROUND] / 2) < figures.low_area_m2 < rigid
    # the step itself follows the driven zone for about half of its width, and a flexible driven zone for a little more
    assert 0.7 * share_of[Role.DRIVEN] < figures.high_area_m2 < share_of[Role.DRIVEN] + share_of[Role.STEP]
    assert figures.fundamental_hz < figures.decoupling_hz < figures.handed_over_hz < figures.departure_hz


def test_stepped_v_is_good_engineering(found):
    """At least four and a half octaves on its shelves, a second shelf of half an octave, no hole deeper than 4.5 dB."""
    figures = found["stepped_v"].figures
    assert figures.shelf_band_octaves >= 4.5 and figures.shelf_2_octaves >= 0.5
    assert figures.deepest_hole_db >= -4.5 and abs(figures.shelf_1_db - figures.shelf_2_db) < 6


def test_each_driven_zone_departs_for_itself(found):
    """Read off the scan by hand, zone by zone: both flanks pooled would leave the coil at twice that frequency."""
    for name in ("straight_v", "stepped_v"):
        curve, figures = found[name].solution.scan, found[name].figures
        pick = [k for k, zone in enumerate(curve.zones) if zone.role is Role.DRIVEN]
        first = {}
        for k in pick:
            away = np.abs(20 * np.log10(np.abs(curve.zone[k] / curve.low[k]))) > 3
            first[curve.zones[k].name] = curve.frequency_hz[np.flatnonzero(away)[0]]
        assert figures.first_to_leave.zone == "outer driven zone" == min(first, key=first.get)
        # the first point of the scan beyond it is at most a step of the scan above
        assert figures.departure_hz == pytest.approx(min(first.values()), rel=0.02)
    pooled = np.abs(curve.zone[pick].sum(axis=0) / curve.low[pick].sum())
    away = np.abs(20 * np.log10(pooled)) > 3
    assert curve.frequency_hz[np.flatnonzero(away)[0]] > 1.2 * figures.departure_hz


def test_the_step_moves_the_break_up_mode_upward(found):
    assert found["stepped_v"].figures.break_up_mode_hz > 1.3 * found["straight_v"].figures.break_up_mode_hz


def test_designs_without_a_step_hand_nothing_over(found):
    for name in ("straight_v", "metal_dome"):
        assert found[name].figures.handed_over_hz is None and found[name].figures.high_area_m2 is None


def test_metal_dome_rides_as_one_piece_far_up(found):
    """Its break-up mode lies beyond the range, where modes are sought further."""
    figures = found["metal_dome"].figures
    assert figures.departure_hz > 10e3 and figures.break_up_mode_hz > 20e3
    assert figures.break_up_mode.shares["dome"] + figures.break_up_mode.shares["former"] > 0.5


def test_smooth_measures_of_a_design_move_smoothly():
    """Along steps of 1e-4 of a tread's range second differences stay below 1e-3 of each measure, peaks and all.

    Twelve steps of it; `tests/analysis/test_figures_masses.py` has a hundred, of two masses.
    """
    wanted, tracks = Wanted({"use": (150.0, 5000.0)}), {}
    for k in range(STEPS):
        changes = {"profile.outer.steps[0].tread": f"{1.8 + 1.6e-4 * k:.6f} mm"}
        table = quick(load_design(STUDIES / "stepped_v.toml", changes), wanted=wanted).figures.measures
        for name, value in table.items():
            tracks.setdefault(name, []).append(value)
    assert {"mean_level_db:use", "ripple_rms_db:use", "share_rms:use, outer flank beyond step"} <= set(tracks)
    for name, track in tracks.items():
        assert np.abs(np.diff(track, 2)).max() <= 1e-3 * np.abs(track).max(), name


def test_a_flange_evens_the_baffled_metal_dome():
    """What a study of its flange_depth finds: some 4 mm before the dome even its level."""
    flush, deep = (
        quick_figures(load_design_on(load_design(STUDIES / "baffled_metal_dome.toml", {"front.flange_depth": depth})))
        for depth in ("0 mm", "4 mm")
    )
    assert flush.level_spread_db == pytest.approx(3.71, abs=0.2) and deep.level_spread_db < 1.6
    assert deep.baffled["beam_narrows_hz"] < flush.baffled["beam_narrows_hz"]
