"""Figures of responses that are written down as formulas: bands, near misses and edge cases, exact but for rounding."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from figures_cases import figures_by_formula, responder
from scipy.signal import find_peaks

from diaphragm_fem.analysis.figures.break_up_mode import ModeStrains, find_break_up_mode
from diaphragm_fem.analysis.figures.definitions import apart, difference
from diaphragm_fem.analysis.figures.reading import Reading, _through
from diaphragm_fem.analysis.figures.response_bands import Levels, Shelves
from diaphragm_fem.analysis.figures.stretches import longest_within
from diaphragm_fem.analysis.figures.zones import departure_of
from diaphragm_fem.analysis.modes.label import nodal_points
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.quantiles import quantile, quantiles_over

DOME = (Zone("dome", Role.DRIVEN),)
AREA = 10e-4


def sloped(db_per_octave, about=1000.0):
    """One zone whose area rises by so many dB per octave above a frequency."""
    return lambda f: AREA * 10 ** (db_per_octave * np.maximum(np.log2(f / about), 0)[None] / 20)


def test_even_and_shelf_band_of_a_slope():
    """Flat to 1 kHz, then 2 dB an octave: within 6 dB for three octaves more, within 3 dB of the shelf for 1.5."""
    found = figures_by_formula(DOME, [AREA], sloped(2.0), {3000.0: [1.0]})
    assert found.shelf_1_db == pytest.approx(0.0, abs=1e-9)
    assert found.even_band_from_hz == pytest.approx(20.0) and found.even_band_to_hz == pytest.approx(8000.0, rel=5e-6)
    assert found.even_band_octaves == pytest.approx(np.log2(8000 / 20), rel=1e-6)
    assert found.shelf_band_to_hz == pytest.approx(1000 * 2**1.5, rel=5e-6)
    assert found.even_band.at_least  # it touches the bottom of the range
    # 3 dB from its share at rest: 1.5 octaves above 1 kHz
    assert found.departure_hz == pytest.approx(1000 * 2**1.5, rel=5e-6)
    assert found.break_up_mode_hz == 3000.0


def test_a_band_between_two_slopes_may_begin_and_end_freely():
    """L = a (log2 f/fc)^2: within 6 dB from fc 2^-sqrt(6/a) to fc 2^sqrt(6/a)."""
    found = figures_by_formula(DOME, [AREA], lambda f: AREA * 10 ** (-3 * np.log2(f / 900)[None] ** 2 / 20))
    half = np.sqrt(2.0)
    assert found.even_band_from_hz == pytest.approx(900 / 2**half, rel=2e-4)
    assert found.even_band_to_hz == pytest.approx(900 * 2**half, rel=2e-4)
    assert not found.even_band.at_least


@pytest.mark.parametrize("share", [-0.01, 0.5, 1.01])
def test_a_shelf_band_that_begins_where_its_level_comes_in_is_all_that_follows(share):
    """6 dB above its shelf up to 1 kHz, then on it. Where the band might begin between the middles of the step between
    both points, even over frequency and over its logarithm, what lies inside was told as outside."""
    f = np.geomspace(20.0, 20e3, 400)
    reading = Reading(responder(DOME, [AREA], lambda f: AREA * np.ones((1, len(f))))(f))
    a, b = f[np.searchsorted(f, 1e3) - 1 :][:2]
    begin = float(np.sqrt(a * b) + share * ((a + b) / 2 - np.sqrt(a * b)))
    band = Levels(reading, np.where(f < 1e3, 6.0, 0.0), begin, Shelves(0.0, None, None, False)).shelf_band(None, None)
    assert band.from_hz == pytest.approx(begin, rel=1e-3) and band.to_hz == 20e3


@pytest.mark.parametrize(("db", "found"), [(0.55, True), (0.45, False)])
def test_a_hole_next_to_the_end_of_what_is_searched_stands_out_by_the_level_there(db, found):
    """A hole that the last point before two thirds of the break-up mode leaves by 0.2 dB, the place itself by `db`."""
    f = np.geomspace(20.0, 20e3, 400)
    reading, k = Reading(responder(DOME, [AREA], lambda f: AREA * np.ones((1, len(f))))(f)), 300
    level = np.where(np.arange(400) < k, 0.0, -10.0 + np.maximum(np.arange(400) - k, 0) * 0.2)
    level[k + 2 :] = 2 * (db - 0.2) - 9.8
    end = float(np.sqrt(f[k + 1] * f[k + 2]))
    _, holes = Levels(reading, level, 20.0, Shelves(0.0, None, None, False)).extremes(end)
    assert bool(holes) == found and all(hole.frequency_hz == pytest.approx(f[k], rel=0.02) for hole in holes)


def test_a_band_that_reaches_the_top_is_at_least_as_wide():
    found = figures_by_formula(DOME, [AREA], lambda f: AREA * np.ones((1, len(f))))
    assert found.even_band_to_hz == 20e3 and found.even_band.at_least and found.shelf_band.at_least
    assert found.departure_hz is None and found.break_up_mode_hz is None
    assert found.reasons["break_up_mode_hz"] == "above 80 kHz"
    assert found.highest_peak_db == 0.0 and found.reasons["highest_peak_hz"].startswith("no peak of 0.5 dB")


def bump(height_db, about, width_octaves):
    return lambda f: AREA * 10 ** (height_db * np.exp(-((np.log2(f / about) / width_octaves) ** 2))[None] / 20)


def test_a_break_up_mode_may_lie_just_above_the_fundamental():
    """By its definition: the fundamental itself bends the driven zone, too, and does not count."""
    zones = (Zone("dome", Role.DRIVEN), Zone("surround", Role.SURROUND))
    modes = ModeStrains(np.array([100.0, 100.5, 5e3]), zones, np.array([[0.6, 0.4], [0.7, 0.3], [0.8, 0.2]]))
    assert find_break_up_mode(lambda hz: modes, 20e3, 100.0).frequency_hz == 100.5


def test_a_break_up_mode_is_sought_as_far_as_modes_are_told():
    """Up to the range they must be; 'above 20 kHz' was told where not even those below were found."""
    none = ModeStrains(np.zeros(0), (Zone("dome", Role.DRIVEN),), np.zeros((0, 1)))

    def strains(top):
        def told(hz):
            if hz > top:
                raise AnalysisError("too many modes")
            return none

        return told

    found = find_break_up_mode(strains(45e3), 20e3, 100.0)
    assert found.frequency_hz is None and found.sought_hz == 40e3 and found.reason == "above 40 kHz"
    with pytest.raises(AnalysisError, match="too many modes"):
        find_break_up_mode(strains(15e3), 20e3, 100.0)


def test_excursions_near_the_threshold_are_named():
    near = figures_by_formula(DOME, [AREA], bump(2.7, 3000.0, 0.5)).departures[0]
    assert near.departure_hz is None
    assert [(round(m.frequency_hz, -2), round(m.value, 1)) for m in near.near_misses] == [(3000.0, 2.7)]
    narrow = figures_by_formula(DOME, [AREA], bump(4.0, 3000.0, 0.01)).departures[0]
    assert narrow.departure_hz is None and narrow.near_misses[0].value == pytest.approx(4.0, rel=5e-3)
    wide = figures_by_formula(DOME, [AREA], bump(4.0, 3000.0, 0.5)).departures[0]
    # 4 exp(-(x/0.5)^2) = 3 at x = -0.5 sqrt(ln(4/3))
    assert wide.departure_hz == pytest.approx(3000 * 2 ** (-0.5 * np.sqrt(np.log(4 / 3))), rel=5e-6)


def test_a_departure_that_begins_in_the_last_24th_of_an_octave_counts_as_none():
    late, early = (
        figures_by_formula(DOME, [AREA], sloped(60.0, about=20e3 / 2 ** (0.05 + octaves)))
        for octaves in (1 / 24 - 1e-3, 1 / 24 + 1e-3)
    )
    assert late.departure_hz is None
    assert late.departures[0].near_misses[-1].value > 3
    # 2.8 dB where the range ends, still rising: nearly a departure
    nearly = figures_by_formula(DOME, [AREA], sloped(14.0, about=20e3 / 2**0.2)).departures[0]
    assert [(m.frequency_hz, round(m.value, 6)) for m in nearly.near_misses] == [(20e3, 2.8)]
    assert early.departure_hz == pytest.approx(20e3 / 2 ** (1 / 24 + 1e-3), rel=1e-5)


def test_a_zone_that_hardly_moves_at_rest_is_not_followed():
    zones = (Zone("inner", Role.DRIVEN), Zone("outer", Role.DRIVEN))
    scan = responder(zones, [AREA, AREA], lambda f: AREA * np.ones((2, len(f))))(np.geomspace(20, 20e3, 500))
    still = Reading(replace(scan, low=np.array([0.0499 * AREA, 0.0501 * AREA])))
    assert "static share of the inner is too small to follow" in departure_of(still, 0).reason
    assert departure_of(still, 1).departure_hz == 20.0  # 26 dB from its share at rest all along


def test_a_dip_between_the_points_of_a_scan_parts_a_departure():
    """4 dB from 1 kHz on, but for a notch at 1.015 kHz: 3.3 dB at the points beside it, 2.9 dB where it is deepest.

    The 0.02 octaves before it are less than 1/24: the zone leaves where the notch rises through 3 dB.
    """
    points, wide = 1.015e3 * np.exp(0.005 * (np.arange(-500, 500) + 0.5)), 0.004

    def notched(f):
        depth = 1.1 * np.clip(1 - (np.log(f / 1.015e3) / wide) ** 2, 0, None)
        return AREA * 10 ** (np.where(f < 1e3, 0.0, 4.0 - depth)[None] / 20)

    respond = responder(DOME, [AREA], notched)
    reading = Reading(respond(points))
    assert departure_of(reading, 0).departure_hz < 1.01e3
    found = departure_of(reading.finer(respond), 0).departure_hz
    assert found == pytest.approx(1.015e3 * np.exp(wide * np.sqrt(1 - 1 / 1.1)), rel=1e-3)


def test_without_a_low_area_levels_are_absent_with_that_reason():
    zones = (Zone("inner", Role.DRIVEN), Zone("outer", Role.DRIVEN))
    found = figures_by_formula(zones, [AREA, -AREA], lambda f: AREA * np.array([[1.0], [-1.0]]) * np.ones(len(f)))
    assert found.even_band_octaves is None and "low area is zero" in found.reasons["even_band_octaves"]
    assert found.shelves is None and "low area is zero" in found.reasons["shelf_1_db"]


STEP = (Zone("driven", Role.DRIVEN, "outer"), Zone("step", Role.STEP, "outer", 1),
        Zone("flank", Role.BEYOND, "outer", 1))  # fmt: skip


def stepped(flank, shelf=0.5):
    """Driven zone rides, the flank's share is a formula of frequency, the step sweeps nothing; `shelf`: driven part."""

    def areas(f):
        return AREA * np.array([shelf * np.ones(len(f)), np.zeros(len(f)), (1 - shelf) * flank(f)])

    return figures_by_formula(STEP, [shelf * AREA, 0.0, (1 - shelf) * AREA], areas)


def test_shelf_band_follows_a_clean_hand_over():
    """The flank's share falls straight from 1 at 1 kHz to -0.2 at 2 kHz in log f: 0.3 is passed at 1000 2^(.7/1.2)."""

    def flank(f):
        return np.clip(1 - 1.2 * np.log2(f / 1000), -0.2, 1)

    found = stepped(flank)
    assert found.decoupling_hz == pytest.approx(1000 * 2 ** (1 / 1.2), rel=5e-6)
    assert found.handed_over_hz == pytest.approx(1000 * 2 ** (0.7 / 1.2), rel=5e-6)
    assert found.shelf_2_db == pytest.approx(20 * np.log10(0.4), abs=0.01)
    # shelves 8 dB apart: more than 6 is not credited; the band ends 3 dB down, where .5 + .5 q = 10^-.15
    assert found.shelf_band_to_hz == pytest.approx(1000 * 2 ** ((2 - 2 * 10**-0.15) / 1.2), rel=5e-6)
    near = stepped(flank, shelf=0.65)  # 20 lg .58 = -4.7 dB: credited
    assert near.shelf_2_db == pytest.approx(20 * np.log10(0.65 - 0.35 * 0.2), abs=0.01)
    assert near.shelf_band_octaves == pytest.approx(np.log2(1000), rel=1e-6) and near.shelf_band.at_least


def test_a_step_has_handed_over_when_all_beyond_it_has():
    """Two flanks beyond the first step fall one after the other, at 1 and at 3 kHz: the later one counts."""
    zones = (*STEP, Zone("second flank", Role.BEYOND, "outer", 2))

    def areas(f):
        first, second = (np.clip(1 - 1.2 * np.log2(f / begin), -0.2, 1) for begin in (1000, 3000))
        return AREA * np.array([0.5 + 0 * f, 0 * f, 0.3 * first, 0.2 * second])

    found = figures_by_formula(zones, AREA * np.array([0.5, 0.0, 0.3, 0.2]), areas)
    assert found.handed_over_hz == pytest.approx(3000 * 2 ** (0.7 / 1.2), rel=5e-6)
    assert found.decoupling_hz == pytest.approx(1000 * 2 ** (1 / 1.2), rel=5e-6)


def test_what_is_quiet_all_along_has_nothing_to_hand_over():
    """A second flank that moves by a fifth of the coil's motion, as one near a clamp does, or that sweeps nothing: the
    hand-over of the first was told to fail for it, with the advice to soften the step."""
    zones = (*STEP, Zone("second step", Role.STEP, "outer", 2), Zone("second flank", Role.BEYOND, "outer", 2))
    for second in (AREA * 0.2, 0.0):

        def areas(f, second=second):
            first = np.clip(1 - 1.2 * np.log2(f / 1000), -0.2, 1)
            return np.array([AREA * 0.5 + 0 * f, 0 * f, AREA * 0.3 * first, 0 * f, 0.2 * second + 0 * f])

        found = figures_by_formula(zones, np.array([AREA * 0.5, 0.0, AREA * 0.3, 0.0, second]), areas)
        assert found.handed_over_hz == pytest.approx(1000 * 2 ** (0.7 / 1.2), rel=5e-6)
        assert [step.handed_over_hz for step in found.steps] == [found.handed_over_hz, None]
        why = "nothing beyond the second step moves" if second else "there is no flank beyond the second step"
        assert found.reason("handed_over_hz:second step").startswith(why)
    quiet = stepped(lambda f: np.full_like(f, 0.2))
    assert quiet.handed_over_hz is None and quiet.high_area_m2 is None
    assert quiet.reasons["handed_over_hz"] == "nothing beyond the step moves by 0.3 of the coil's motion"


def test_a_hand_over_that_fails_names_the_zone_its_share_and_where():
    found = stepped(lambda f: np.clip(1 - 0.15 * np.log2(f / 1000), 0.35, 1))
    assert found.handed_over_hz is None
    assert "flank still moves by 0.35 of the coil's motion at 20.0 kHz" in found.reasons["handed_over_hz"]
    loud = stepped(lambda f: np.full_like(f, 27.0))  # a resonance of its own at the end
    assert "flank still moves by 27 times the coil's motion at" in loud.reasons["handed_over_hz"]
    assert found.shelf_2_db is None and found.reasons["shelf_2_db"] == found.reasons["handed_over_hz"]
    assert "never falls through zero" in found.reasons["decoupling_hz"]


def test_a_hand_over_that_fails_beyond_two_steps_names_each_zone_once():
    """What lies beyond the second step lies beyond the first as well."""
    second = (Zone("second step", Role.STEP, "outer", 2), Zone("second flank", Role.BEYOND, "outer", 2))
    areas = AREA * np.array([0.4, 0.1, 0.3, 0.0, 0.2])
    found = figures_by_formula((*STEP, *second), areas, lambda f: areas[:, None] * np.ones_like(f))
    assert found.reasons["handed_over_hz"].count("still moves") == 2
    assert found.reasons["handed_over_hz"].count("second flank still moves") == 1


@pytest.mark.parametrize(("apart_db", "credited"), [(5.9, True), (6.1, False)])
def test_shelves_more_than_six_decibels_apart_end_the_band_where_the_step_lets_go(apart_db, credited):
    """The flank falls from 1 to -0.29, and the level by 2.8 dB where it hands over: within 3 dB of either shelf."""
    found = stepped(lambda f: np.clip(1 - 1.2 * np.log2(f / 1000), -0.29, 1), (10 ** (-apart_db / 20) + 0.29) / 1.29)
    assert found.shelf_2_db == pytest.approx(-apart_db, abs=0.02)
    assert (found.shelf_band_to_hz == 20e3) == credited


def test_the_first_shelf_ends_at_half_the_decoupling_or_without_a_step_at_half_the_break_up_mode():
    """The median of a level of 1 dB an octave above 20 Hz lies in the middle of its stretch, over log f.

    The flank begins to fall at 1 kHz and lets go at 1782 Hz: below half of that only the slope is there. A break-up
    mode at 700 Hz ends the shelf of the part without a step alone.
    """
    lets_go = 1000 * 2 ** (1 / 1.2)

    def tilted(f, flank):
        return AREA * 10 ** (np.log2(f / 20) / 20) * np.array([0.5 + 0 * f, 0 * f, 0.5 * flank])

    low, mode = AREA * np.array([0.5, 0.0, 0.5]), {700.0: [1.0, 0.0, 0.0]}
    step = figures_by_formula(STEP, low, lambda f: tilted(f, np.clip(1 - 1.2 * np.log2(f / 1000), -0.2, 1)), mode)
    assert step.decoupling_hz == pytest.approx(lets_go, rel=5e-6)
    assert step.shelf_1_db == pytest.approx(np.log2(lets_go / 2 / 20) / 2, abs=1e-3)
    plain = figures_by_formula(DOME, [AREA], lambda f: tilted(f, 1.0 + 0 * f).sum(axis=0)[None], {700.0: [1.0]})
    assert plain.shelf_1_db == pytest.approx(np.log2(350 / 20) / 2, abs=1e-3)


@pytest.mark.parametrize(("mode_hz", "peak_db"), [(1510.0, 4.0), (1490.0, 0.0)])
def test_peaks_are_sought_up_to_two_thirds_of_the_break_up_mode(mode_hz, peak_db):
    found = figures_by_formula(DOME, [AREA], bump(4.0, 1e3, 0.003), {mode_hz: [1.0]})
    assert found.highest_peak_db == pytest.approx(peak_db, abs=1e-3)


@pytest.mark.parametrize(("octaves", "there"), [(0.49, False), (0.51, True)])
def test_a_second_shelf_takes_half_an_octave(octaves, there):
    """The flank passes 0.3 that far below the top, where it has no share left to leave."""
    found = stepped(lambda f: np.clip(0.3 - np.log2(f / 20e3) - octaves, 0.05, 1))
    assert found.handed_over_hz == pytest.approx(20e3 / 2**octaves, rel=5e-6)
    assert (found.shelf_2_db is not None) == there


def test_a_second_shelf_of_less_than_half_an_octave_is_none():
    found = stepped(lambda f: np.where(f < 15e3, 1 - 0.71 * np.clip((f / 15e3) ** 8, 0, 1), 0.29))
    assert found.handed_over_hz is not None and found.shelf_2_db is None
    assert "fewer than half an octave" in found.reasons["shelf_2_db"]
    assert found.high_area_m2 is not None


def test_near_misses_of_the_hand_over():
    found = stepped(
        lambda f: np.clip(1 - 0.7 * np.log2(f / 1000), 0, 1) + 0.27 * np.exp(-((np.log2(f / 8000) / 0.2) ** 2))
    )
    step = found.steps[0]
    assert step.largest_after.value == pytest.approx(0.27, rel=1e-3)
    assert step.near_misses[0].frequency_hz == pytest.approx(8000, rel=5e-3)


def test_break_up_mode_and_its_near_misses():
    """The first mode whose driven zones hold half; 0.4 to 0.6 on the way are near misses."""
    zones = (Zone("dome", Role.DRIVEN), Zone("roll", Role.SURROUND), Zone("former", Role.COIL))
    modes = {
        900.0: [0.1, 0.9, 0.0],
        3000.0: [0.39, 0.61, 0.0],
        4000.0: [0.26, 0.59, 0.15],
        7000.0: [0.4, 0.35, 0.25],
        9000.0: [1.0, 0.0, 0.0],
    }
    low = [AREA, 0.3 * AREA, 0.0]
    found = figures_by_formula(zones, low, lambda f: np.array(low)[:, None] * np.ones(len(f)), modes)
    mode = found.break_up_mode
    assert mode.frequency_hz == 7000.0 and mode.bending == pytest.approx(0.65)
    assert list(mode.shares) == ["dome", "roll", "former"]
    assert [(m.zone, m.frequency_hz, m.value) for m in mode.near_misses] == [("dome", 4000.0, pytest.approx(0.41))]
    above = figures_by_formula(zones, low, lambda f: np.array(low)[:, None] * np.ones(len(f)), {33e3: [0.9, 0.1, 0.0]})
    assert above.break_up_mode_hz == 33e3 and above.break_up_peak_db is None
    assert above.reasons["break_up_peak_db"] == "the break-up mode lies above the range"


@pytest.mark.parametrize("db_per_octave", [-30.0, 30.0])
def test_a_response_without_a_top_about_the_break_up_mode_has_the_largest_level_there(db_per_octave):
    """It only falls, or rises, through a sixth of an octave to either side; a parabola laid there once told +300 dB.

    The ends are solved, not the points next to them: a scan of 300 points an octave is up to 0.1 dB short.
    """
    found = figures_by_formula(DOME, [AREA], sloped(db_per_octave), {4000.0: [1.0]})
    highest = db_per_octave * 2 + abs(db_per_octave) / 6 - max(found.shelf_1_db, found.shelf_2_db or -np.inf)
    assert found.break_up_peak_db == pytest.approx(highest, abs=1e-9)


@pytest.mark.parametrize("total", [6.0, 0.5])
def test_the_longest_stretch_within_a_total_is_the_longest(total):
    """Of random walks, straight between points, against every pair of 2,000 places a walk, which are up to two of their
    steps short. Of steps larger than the total the longest may lie on one slope."""
    rng = np.random.default_rng(5)
    for count in (2, 3, 17, 64):
        place, value = np.cumsum(rng.uniform(0.1, 1, count)), np.cumsum(rng.normal(0, 2, count))
        begin, end, low = longest_within(place, value, total)
        fine = np.linspace(place[0], place[-1], 2000)
        level, longest, step = np.interp(fine, place, value), 0.0, fine[1] - fine[0]
        for k in range(len(fine)):
            kept = np.maximum.accumulate(level[k:]) - np.minimum.accumulate(level[k:]) <= total
            longest = max(longest, step * (np.count_nonzero(kept) - 1))
        inside = np.interp([begin, end], place, value), value[(place > begin) & (place < end)]
        assert np.concatenate(inside) == pytest.approx(np.clip(np.concatenate(inside), low, low + total), abs=1e-12)
        assert longest - 1e-12 <= end - begin <= longest + 2 * step


def test_a_band_that_two_slopes_bound_slides_to_where_both_are_alike():
    """L = -(x^3 + x) in dB, x = log2 f/900: widest within 6 dB where it is as steep at both ends, x = -h and h, with
    2 (h^3 + h) = 6. The optimum is flat: how far ends are off counts by its square. (The longest from point to point,
    slid by what that leaves over, was 6.5e-4 octaves short.)"""

    def areas(f):
        x = np.log2(f / 900)[None]
        return AREA * 10 ** (-(x**3 + x) / 20)

    found = figures_by_formula(DOME, [AREA], areas)
    half = float(np.roots([1.0, 0.0, 1.0, -3.0])[-1].real)
    assert found.even_band_octaves == pytest.approx(2 * half, abs=1e-6)
    assert found.even_band_from_hz == pytest.approx(900 / 2**half, rel=5e-3)


@pytest.mark.parametrize(
    ("name", "least"), [("moving_mass_kg", 0.02 * 3.0), ("ripple_db", 0.17), ("even_band_octaves", 0.03)]
)
def test_figures_are_apart_either_way(name, least):
    for way in (-1, 1):
        assert apart(name, 3.0 + way * 1.01 * least, 3.0) and not apart(name, 3.0 + way * 0.99 * least, 3.0)
    assert apart(name, None, 3.0) and apart(name, 3.0, None) and not apart(name, None, None)


def test_differences_are_relative():
    """Of an amplitude, of a frequency at an end of a band: a tenth of a decibel is 1.2 %, of an octave 7.2 %. Decibels
    times octaves are decibels, as in `apart`."""
    assert difference("departure_db_octaves:band, dome", 0.1, 0.0) == pytest.approx(10**0.005 - 1)
    assert difference("ripple_db:band", 0.1, 0.0) == pytest.approx(10**0.005 - 1)
    assert difference("even_band_octaves", 4.1, 4.0) == pytest.approx(2**0.1 - 1)
    assert difference("fundamental_hz", 101.0, 100.0) == pytest.approx(0.01) and difference("efficiency", 0.1, 0.0) == 1


def test_a_node_may_lie_on_a_sample():
    assert nodal_points(np.array([2.0, 1.0, 0.0, -1.0, -2.0, 0.0, -1.0, 1.0])).tolist() == [1, 6]


def test_peaks_of_flat_tops_count_once():
    """Random levels of a few steps, so that neighbours often tie, against SciPy's prominences."""
    rng, respond = np.random.default_rng(3), responder(DOME, [AREA], lambda f: AREA * np.ones((1, len(f))))
    for count in (1, 2, 3, 8, *[20] * 40):
        level = 0.3 * rng.integers(1, 6, count)
        levels = Levels(Reading(respond(100.0 + np.arange(count))), level, 100.0, Shelves(0.0, None, None, False))
        expected = find_peaks(level, prominence=0.5)[0]
        found = sorted(round(peak.frequency_hz - 100.0) for peak in levels.extremes(1e3)[0])
        assert len(found) == len(expected), level
        np.testing.assert_array_equal(level[found], level[expected])


def test_a_polynomial_through_four_points_is_the_cubic_they_lie_on():
    places = [-1.0, 0.4, 2.0, 3.5]
    assert _through(places, [x**3 - 2 * x + 1 for x in places], 1.3) == pytest.approx(1.3**3 - 2 * 1.3 + 1, rel=1e-12)


def test_a_median_halves_the_stretch_of_values_straight_between_uneven_points():
    """A ramp from 0 to 1 with a spike over a fifth of its length: below m lie (m - 0.3)/4.7 and (m - 0.5)/4.5 of its
    flanks and m - 0.2 of the ramp, together half of all for m = 0.6876. Of the points alone the median is 0.5."""
    place, value = np.array([0.0, 0.3, 0.4, 0.5, 1.0]), np.array([0.0, 0.3, 5.0, 0.5, 1.0])
    half = (0.5 + 0.2 + 0.03 / 4.7 + 0.05 / 4.5) / (1 + 0.1 / 4.7 + 0.1 / 4.5)
    assert quantile(place, value, 0.5) == pytest.approx(half, abs=1e-5)  # a millionth of the whole
    assert quantile(place, np.full(5, 2.0), 0.5) == 2.0
    loud = (1 + 0.3 / 4.7 + 0.5 / 4.5) / (1 / 4.7 + 1 / 4.5)  # all of the ramp and half of the spike
    over = quantiles_over(100 * np.exp(place), value, (100.0, 100 * np.e), (0.2, 0.5, 0.9))
    assert over == pytest.approx([0.2, half, loud], abs=1e-4)
    reading = Reading(SimpleNamespace(frequency_hz=100 * np.exp(np.array([-1.0, *place, 2.0]))))
    assert reading.median(np.array([9.0, *value, -9.0]), 100.0, 100 * np.e) == pytest.approx(half, abs=1e-5)
    places = np.log(np.array(reading.places) / 100)  # where it is met, to be solved
    assert np.sort(places) == pytest.approx([0.3 + (half - 0.3) / 47, 0.5 - (half - 0.5) / 45, half], abs=1e-5)
