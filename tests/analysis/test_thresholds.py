"""How near a figure stands to its threshold, on responses written as formulas."""

import numpy as np
import pytest
from figures_cases import figures_by_formula

from diaphragm_fem.analysis.figures.thresholds import threshold_of
from diaphragm_fem.design.meridian.zone import Role, Zone

AREA = 10e-4
DOME = (Zone("dome", Role.DRIVEN), Zone("roll", Role.SURROUND))


def test_a_departure_is_owed_to_what_it_clears():
    """A bump of 2.9 dB at 2 kHz before the zone leaves at 9 kHz: cleared by 0.1 dB."""

    def areas(f):
        level = 2.9 * np.exp(-((np.log2(f / 2000) / 0.3) ** 2)) + 20 * np.maximum(np.log2(f / 8e3), 0)
        return AREA * np.array([10 ** (level / 20), 0.1 * np.ones(len(f))])

    found = figures_by_formula(DOME, [AREA, 0.1 * AREA], areas, {5e3: [0.47, 0.53], 9e3: [0.8, 0.2]})
    near = threshold_of(found, "departure_hz")
    assert (near.zone, near.unit) == ("dome", "dB") and near.clears_by == pytest.approx(0.1, abs=1e-3)
    assert near.frequency_hz == pytest.approx(2000, rel=1e-3)
    mode = threshold_of(found, "break_up_mode_hz")
    assert mode.frequency_hz == 5e3 and mode.clears_by == pytest.approx(0.03)
    assert threshold_of(found, "low_area_m2") is None
    assert threshold_of(found, "break_up_mode_hz", harmless=lambda hz: hz > 4e3) is None
    assert threshold_of(found, "break_up_mode_hz", harmless=lambda hz: hz > 6e3) == mode


def test_what_nearly_leaves_after_another_zone_has_left_decides_nothing():
    """The dome comes to 2.9 dB at 8 kHz, when the ring has been gone from 4 kHz on."""
    zones = (Zone("dome", Role.DRIVEN), Zone("ring", Role.DRIVEN))

    def areas(f):
        bump = 2.9 * np.exp(-((np.log2(f / 8000) / 0.3) ** 2))
        left = 20 * np.maximum(np.log2(f / 3.5e3), 0)
        return AREA * np.array([10 ** (bump / 20), 10 ** (left / 20)])

    found = figures_by_formula(zones, [AREA, AREA], areas, {9e3: [0.8, 0.2]})
    assert 3.5e3 < found.departure_hz < 4.5e3 and threshold_of(found, "departure_hz") is None
    assert threshold_of(found, "departure_hz:dome").clears_by == pytest.approx(0.1, abs=1e-3)
    assert found.never == {"departure_hz:dome": found.top_hz}


def test_a_decoupling_is_owed_to_the_dip_that_does_not_reach_zero():
    """The share of a flank dips to 0.04 at 1 kHz and falls through zero at 3 kHz. Beside another that lets go below
    700 Hz that dip moves the headline nowhere, but the flank's own."""
    zones = [Zone("driven", Role.DRIVEN, "outer")]
    for side in ("outer", "inner"):
        zones += [Zone(f"{side} step", Role.STEP, side, 1), Zone(f"{side} flank", Role.BEYOND, side, 1)]

    def areas(f):
        dip = 1 - 0.96 * np.exp(-((np.log2(f / 1000) / 0.2) ** 2))
        late = np.minimum(dip, 20 * np.log2(3000 / f))
        early = 1 - 1.2 * np.exp(-((np.log2(f / 700) / 0.2) ** 2))
        return AREA * np.array([1 + 0 * f, 0 * f, late, 0 * f, early])

    def found(count):
        low = AREA * np.array([1.0, 0, 1, 0, 1])[:count]
        return figures_by_formula(tuple(zones[:count]), low, lambda f: areas(f)[:count])

    alone, both = found(3), found(5)
    assert alone.decoupling_hz == pytest.approx(3000, rel=1e-5) and both.decoupling_hz < 700
    near = threshold_of(alone, "decoupling_hz")
    assert (near.zone, near.threshold) == ("outer flank", 0.0) and near.clears_by == pytest.approx(0.04, abs=1e-4)
    assert near.frequency_hz == pytest.approx(1000, rel=1e-3)
    assert threshold_of(alone, "shelf_1_db").frequency_hz == near.frequency_hz
    assert threshold_of(alone, "decoupling_hz", harmless=lambda hz: hz > 900) is None
    assert threshold_of(both, "decoupling_hz") is None
    assert threshold_of(both, "decoupling_hz:outer step").zone == "outer flank"
    assert threshold_of(both, "decoupling_hz:inner step") is None
