"""Numbers and names as printed."""

import pytest

from diaphragm_fem.analysis.figures.response_bands import Band
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.wall import Layer, Wall, plain_wall
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.report.words import words
from diaphragm_fem.report.words.figures import bound_text
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.terms import terms_of_page

FOIL = Material("foil", 2700.0, 70e9, 0.33, LossFactor((0.001,)))


@pytest.mark.parametrize(
    ("value", "count", "text"),
    [
        (0.012345, 3, "0.0123"),
        (4.5678, 3, "4.57"),
        (1234.5, 3, "1230"),
        (9.996, 3, "10.0"),
        (-103.2, 3, "−103"),
        (0.0, 3, "0"),
        (float("inf"), 3, "unbounded"),
        (float("nan"), 3, "undefined"),
        (5.04, 2, "5.0"),
    ],
)
def test_significant_digits_without_powers_of_ten(value: float, count: int, text: str) -> None:
    assert words.digits(value, count) == text


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (words.show_hz(364.26), "364 Hz"),
        (words.show_hz(999.4), "999 Hz"),
        (words.show_hz(999.6), "1.00 kHz"),
        (words.show_hz(None), "none"),
        (words.show_area(45.6134e-4), "45.6 cm²"),
        (words.show_mass(1.1309e-3), "1.13 g"),
        (words.show_mass(0.292e-3), "0.292 g"),
        (words.show_mass(0.0292e-3), "29.2 mg"),
        (words.show_mass(17.7), "17.7 kg"),
        (words.show_mass(1.88e-3, [6.24e-6, 1.88e-3, 0.0]), "1880 mg"),
        (words.show_mass(0.0), "0 mg"),
        (words.show_mass(12e-3, [1.2e-9, 6.24e-6]), "12.0 g"),  # "12000 mg" stood beside micrograms
        (words.show_mass(6.24e-6, [1.2e-9, 12e-3]), "0.00624 g"),
        (words.show_mass(1.2e-9, [6.24e-6, 12e-3]), "< 0.001 g"),
        (words.show_share(0.00123), "0.12 %"),
        (words.show_share(1e-7), "< 0.001 %"),
        (words.show_bound(1e-7), "0.001 %"),
        (words.show_db(-6.78), "−6.8 dB"),
        (words.show_db(None), "none"),
        (words.show_db(-0.04), "±0.0 dB"),
        (words.show_level(-24.84), "−24.8 dB"),
        (words.show_level(-0.04), "0.0 dB"),
        (words.show_band(Band(100.0, 3600.0, True)), "100 Hz to 3.60 kHz, ≥ 5.2 octaves"),
        (words.join_words(["a", "b", "c"]), "a, b and c"),
        (words.join_words(["a", "b"]), "a and b"),
        (words.join_words(["a"]), "a"),
        (words.join_words([]), ""),
        (words.one(1, "mode"), "1 mode"),
        (words.one(3, "frequency", "frequencies"), "3 frequencies"),
    ],
)
def test_units_of_the_trade(shown: str, text: str) -> None:
    assert shown == text


@pytest.mark.parametrize(
    ("written", "shown"),
    [("rise -8 mm, wall 30 um", "rise −8 mm, wall 30 µm"), ("a-1 of 1e-6", "a-1 of 1e-6"), ("-10", "−10")],
)
def test_amounts_of_a_file_have_a_minus_and_a_micro(written: str, shown: str) -> None:
    """In a table of a study stood -10 beside −10.00."""
    assert words.printed(written) == shown


def test_thickness_of_a_zone_is_one_value_or_its_span() -> None:
    line = Line((0.0, 0.0), (0.01, 0.0))
    even = Piece(line, Zone("a"), plain_wall(FOIL, 30e-6))
    tapered = Piece(line, Zone("a"), plain_wall(FOIL, 30e-6, 20e-6))
    assert words.show_thickness([even]) == "30 µm"
    assert words.show_thickness([even, tapered]) == "20 to 30 µm"


def test_what_is_glued_on_a_wall_is_told_apart_from_it() -> None:
    wall = Wall((Layer(FOIL, 30e-6, 30e-6), Layer(FOIL, 120e-6, 120e-6, Zone("surround"))))
    bare, glued = (Piece(Line((0.0, 0.0), (0.01, 0.0)), Zone("a"), x) for x in (wall.own, wall))
    assert words.show_thickness([bare, glued, glued]) == "30 µm, + 120 µm over 20 mm"


def test_a_material_without_published_numbers_bears_its_mark() -> None:
    piece = Piece(Line((0.0, 0.0), (0.01, 0.0)), Zone("a"), plain_wall(FOIL, 30e-6))
    assert words.name_materials([piece]) == "foil*"


def test_a_level_keeps_its_tenths():
    assert naming("median_level_db").text(133.26, 3) == "133.3 dB"
    assert naming("highest_peak_db").text(2.134, 3) == "2.13 dB"


def test_a_value_that_somebody_gave_keeps_its_digits():
    assert naming("break_up_mode_hz").given(12345.6) == "12.3456 kHz"
    assert naming("fundamental_hz").given(123.456) == "123.456 Hz"
    assert naming("moving_mass_kg").given(1.23456e-3) == "1.23456 g"
    assert naming("deepest_hole_db").given(-2.5) == "−2.5 dB"


def test_a_level_is_within_decibels_and_all_else_within_percent():
    """An amplitude 0.1 % off is 0.0087 dB off: "0.1 %" of a level would be taken for 0.1 dB of 100."""
    assert bound_text("median_level_db", 1e-3) == "0.0087 dB" and bound_text("median_level_db", 0.0) == "0.0010 dB"
    assert bound_text("break_up_mode_hz", 1e-3) == "0.10 %" and bound_text("low_area_m2", 0.0) == "0.001 %"


def test_a_page_explains_the_words_that_it_uses_and_no_others() -> None:
    """Letters of formulas are no words of a term; of two terms in one line each counts."""
    told = dict(terms_of_page("The even band ends there. Fingerprint, shelf 2."))
    assert {"even band", "fingerprint", "shelf 1, shelf 2", "zone share q", "mode"} <= set(told)
    assert "snap, wrinkle" not in told and "score" not in told and "loss factor" not in told
