"""The demonstration designs show what they are there to show."""

from pathlib import Path

import pytest

from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.read import load_design
from diaphragm_fem.design.zone import Role

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture(scope="module")
def found():
    return {name: quick(load_design(STUDIES / f"{name}.toml")) for name in ("straight_v", "stepped_v", "metal_dome")}


def test_stepped_v_hands_over(found):
    """Full area below the decoupling frequency, about the driven zone's above the hand-over, then break-up."""
    area, merit = found["stepped_v"].solution.scan, found["stepped_v"].merit
    roles = [(zone.role, a) for zone, a in zip(area.zones, area.zone_area, strict=True)]
    share_of = {role: sum(a for found_role, a in roles if found_role is role) for role in Role}
    rigid = sum(area.zone_area)
    assert 0.75 * (rigid - share_of[Role.SURROUND] / 2) < merit.low_area_m2 < rigid
    # the step itself follows the driven zone for about half of its width, and a flexible driven zone for a little more
    assert 0.7 * share_of[Role.DRIVEN] < merit.high_area_m2 < share_of[Role.DRIVEN] + share_of[Role.STEP]
    assert merit.fundamental_hz < merit.decoupling_hz < merit.handed_over_hz < 0.5 * merit.break_up_hz


def test_the_step_moves_the_break_up_upward(found):
    assert found["stepped_v"].merit.break_up_hz > 1.3 * found["straight_v"].merit.break_up_hz


def test_designs_without_a_step_hand_nothing_over(found):
    for name in ("straight_v", "metal_dome"):
        assert found[name].merit.handed_over_hz is None and found[name].merit.high_area_m2 is None


def test_metal_dome_rides_as_one_piece_far_up(found):
    assert found["metal_dome"].merit.break_up_hz > 10e3
