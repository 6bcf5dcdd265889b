"""What a tenth more of a lever does, in words: what is a jump, what is lost, and where the verdict sends one."""

import re
from dataclasses import replace

import pytest
from report_cases import metal_dome, stepped_v

from diaphragm_fem.answer.change.levers import Lever
from diaphragm_fem.answer.change.named_levers import jumps
from diaphragm_fem.answer.change.sensitivities import of_steps
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.report.words.advice import plays_on
from diaphragm_fem.report.words.figures import (
    ONE_BY_ONE,
    THEN_NONE,
    bare_change,
    change_lines,
    change_notes,
    largest_change,
)  # fmt: skip
from diaphragm_fem.report.words.verdict import told_steps, verdict

STEP = Lever("profile.outer.steps[0].thickness", 6e-5, "length")
FLANK = Lever("profile.outer.rise", 6e-3, "length")


@pytest.mark.parametrize(
    ("key", "kind", "figure", "change", "taken_at", "jump"),
    [
        ("profile.width", "length", "break_up_mode_hz", 1.1**-2 - 1, 0.1, False),
        ("profile.width", "length", "break_up_mode_hz", 1 - 0.9**-2, -0.1, False),  # turned about
        ("profile.width", "length", "break_up_mode_hz", -0.25, 0.1, True),
        ("wall.thickness", "length", "break_up_mode_hz", 1.1**1.5 - 1, 0.1, False),
        ("wall.thickness", "length", "break_up_mode_hz", -0.099, 0.1, True),
        ("wall.thickness", "length", "departure_hz", -0.099, 0.1, False),
        ("profile.height", "length", "departure_hz", 1.1**1.5 - 1, 0.1, False),
        ("profile.steps[0].tread", "length", "departure_hz", 1.1**1.8 - 1, 0.1, True),
        ("modulus of PEN film", "modulus", "loaded_fundamental_hz", 1.1**0.9 - 1, 0.1, True),
        ("modulus of PEN film", "modulus", "fundamental_hz", 1.1**0.5 - 1, 0.1, False),
        ("modulus of PEN film", "modulus", "break_up_mode_hz", -0.11, 0.1, True),  # more stiffness lowers no mode
        ("modulus of PEN film", "modulus", "break_up_mode_hz", None, 0.1, False),
        ("coil.winding_mass", "mass", "fundamental_hz", 1.1**-0.5 - 1, 0.1, False),
        ("coil.winding_mass", "mass", "break_up_mode_hz", 1.1**0.7 - 1, 0.1, True),
        ("rear_chamber.volume", "volume", "loaded_fundamental_hz", 1.1**-0.5 - 1, 0.1, False),
        ("rear_chamber.volume", "volume", "loaded_break_up_mode_hz", 1.1**0.2 - 1, 0.1, True),
    ],
)
def test_a_jump_is_more_than_one_mode_can_move(key, kind, figure, change, taken_at, jump):
    row = Sensitivity(Lever(key, 1e-3, kind), {figure: None if change is None else 6e3 * change}, taken_at)
    assert jumps(Sensitivities({figure: 6e3}, (row,)), row, figure) == jump


@pytest.mark.parametrize("prefix", ["", "loaded_"])
@pytest.mark.parametrize("figure", ["highest_peak", "deepest_hole"])
def test_a_level_jumps_where_its_peak_or_hole_is_another(figure, prefix):
    """Another lies elsewhere, farther than a tenth moves one; or there was none, or is none any more."""
    db, hz = f"{prefix}{figure}_db", f"{prefix}{figure}_hz"
    for place, expected in ((-90.0, False), (400.0, True)):
        row = Sensitivity(STEP, {db: 1.2, hz: place}, 0.1)
        assert jumps(Sensitivities({db: 2.0, hz: 900.0}, (row,)), row, db) == expected
        assert bare_change(Sensitivities({db: 2.0, hz: 900.0}, (row,)), row, db, 1.2) == "+1.2" + "*" * expected
    appeared = Sensitivity(STEP, {db: 1.2, hz: None}, 0.1, gained=frozenset([hz]))
    gone = replace(appeared, gained=frozenset(), lost=frozenset([hz]))
    for row, at in ((appeared, None), (gone, 900.0)):
        assert jumps(Sensitivities({db: 0.0, hz: at}, (row,)), row, db)


def test_the_null_of_a_driver_jumps_too():
    row = Sensitivity(STEP, {"worst_null_db": 35.0, "worst_null_hz": 3860.0}, 0.1)
    assert jumps(Sensitivities({"worst_null_db": 54.0, "worst_null_hz": 15528.0}, (row,)), row, "worst_null_db")


def test_a_null_that_is_told_to_be_another_has_the_mark_however_near_it_lies():
    row = Sensitivity(STEP, {"worst_null_db": 5.7, "worst_null_hz": -100.0}, 0.1, jumped=frozenset(["worst_null_db"]))
    base = {"worst_null_db": 44.0, "worst_null_hz": 14e3}
    for one, words in ((row, "+5.7*"), (replace(row, jumped=frozenset()), "+5.7")):
        assert bare_change(Sensitivities(base, (one,)), one, "worst_null_db", 5.7) == words


def two_levers(**first):
    """The stepped V whose band ends move with a step and a flank."""
    end = stepped_v().figures.shelf_band.to_hz
    base = {"shelf_band_to_hz": end, "shelf_band_octaves": 5.0, "handed_over_hz": 2700.0, "decoupling_hz": 757.0}
    changes = {"shelf_band_to_hz": 300.0, "shelf_band_octaves": 0.1, "handed_over_hz": None, "decoupling_hz": 5.0}
    other = {"shelf_band_to_hz": -200.0, "shelf_band_octaves": -0.1, "handed_over_hz": 40.0, "decoupling_hz": 5.0}
    rows = (Sensitivity(STEP, changes, 0.1, **first), Sensitivity(FLANK, other, 0.1))
    return Sensitivities(base, rows)


def test_a_lever_that_costs_the_hand_over_says_so():
    """And the table says that the figure is gone, where a dash would say that it stays as it is."""
    found = two_levers(lost=frozenset(["handed_over_hz"]))
    told = replace(stepped_v(), sensitivities=found)
    words = verdict(told)
    fails = f"+300 Hz with +10 % of {STEP.words} (the hand-over then fails)"
    assert f"{fails} and −200 Hz with +10 % of {FLANK.words}." in words
    head, lines = change_lines(told)
    assert [line[head.index("handed over above, Hz")] for line in lines] == [THEN_NONE, "+40"]
    worse = {"shelf_band_to_hz": -300.0, "shelf_band_octaves": -0.1}
    lowers = replace(found.rows[0], change={**found.rows[0].change, **worse})
    assert "hand-over then fails" not in verdict(replace(told, sensitivities=replace(found, rows=(lowers,))))


def test_a_step_that_keeps_the_hand_over_is_told_before_stronger_ones_that_cost_it():
    """Who takes the strongest is told next to take it back, since that brings the hand-over about."""
    base = {
        "shelf_band_octaves": 2.0,
        "shelf_band_to_hz": 8e3,
        "handed_over_hz": 2e3,
        "decoupling_hz:outer step": 757.0,
    }
    costly = Sensitivity(STEP, {"shelf_band_octaves": 0.2, "shelf_band_to_hz": 300.0}, 0.1)
    costly = replace(costly, lost=frozenset(["handed_over_hz"]))
    weak = Sensitivity(FLANK, {"shelf_band_octaves": 0.015, "shelf_band_to_hz": 90.0}, 0.1)  # too weak to be named

    def told(*rows):
        return verdict(replace(stepped_v(), sensitivities=Sensitivities(base, rows)))

    words = told(costly, weak)
    assert f"winding and hand-over kept: +10 % of {FLANK.words} on the shelf band (+0.015 octaves upward)." in words
    fails = f"+300 Hz with +10 % of {STEP.words} (the hand-over then fails)"
    assert f"moves by +90 Hz with +10 % of {FLANK.words} and {fails}." in words
    faint = replace(weak, change={"shelf_band_octaves": 0.013, "shelf_band_to_hz": 60.0})  # 0.9 and 0.75 % of either
    words = told(costly, faint)
    assert f"; that end moves by {fails}." in words and f"kept: +10 % of {STEP.words} on the shelf band" in words
    words = told(costly, replace(weak, lost=costly.lost))
    fails = "on the shelf band (+0.20 octaves; the hand-over then fails)"
    assert f"diameters and winding kept: +10 % of {STEP.words} {fails}." in words


def test_the_strongest_of_a_tenth_may_be_a_tenth_less_of_what_a_tenth_more_hardly_moves():
    """In a driver -10 % of a tread brought the spread of the level 3.7 dB, more than any lever named for it."""
    base = {"shelf_band_octaves": 2.0, "shelf_band_to_hz": 8e3, "decoupling_hz:outer step": 757.0}
    named = Sensitivity(FLANK, {"shelf_band_octaves": 0.2, "shelf_band_to_hz": 200.0}, 0.1)
    less = Sensitivity(STEP, {"shelf_band_octaves": -0.3, "shelf_band_to_hz": -300.0}, -0.1)
    hardly = Sensitivity(STEP, {"shelf_band_octaves": -0.01, "shelf_band_to_hz": -10.0}, 0.1, back=less)
    words = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (named, hardly))))
    assert f"kept: −10 % of {STEP.words} on the shelf band (+0.30 octaves)." in words
    flank = replace(FLANK, key="profile.inner.width")  # one named for a throw hid it: 210 Hz were told, 1300 known
    thrown = Sensitivity(flank, {"shelf_band_octaves": 0.5, "shelf_band_to_hz": 4e3}, 0.1)
    words = verdict(
        replace(stepped_v(), sensitivities=Sensitivities(base, (named, replace(hardly, back=less), thrown)))
    )
    assert f"kept: −10 % of {STEP.words} on the shelf band (+0.30 octaves)." in words


def test_a_band_that_grows_by_a_lower_fundamental_is_told_as_that():
    """Four tenths off the surround of a textile dome, each the strongest on its band, took 230 Hz off its fundamental;
    half the growth at either end is where the word changes."""
    base = {"shelf_band_octaves": 2.0, "shelf_band_from_hz": 1000.0, "decoupling_hz:outer step": 757.0}
    less = {"shelf_band_octaves": -0.2, "shelf_band_to_hz": 40.0, "fundamental_hz": 67.0}
    for begin, words in ((1000 * (1 - 2**-0.11), " downward: fundamental −67 Hz"), (1000 * (1 - 2**-0.09), "")):
        row = Sensitivity(STEP, {**less, "shelf_band_from_hz": begin}, -0.1)  # of a tenth less, turned about
        told = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (row,))))
        assert f"−10 % of {STEP.words} on the shelf band (+0.20 octaves{words})." in told
    both = {**base, "shelf_band_to_hz": 8000.0}
    down = Sensitivity(STEP, {**less, "shelf_band_from_hz": 1000 * (1 - 2**-0.17)}, -0.1)
    for end, at in ((8000 * (2**0.11 - 1), "; upward +0.15 octaves with +10 % of"), (8000 * (2**0.07 - 1), ").")):
        up = Sensitivity(FLANK, {"shelf_band_octaves": 0.15, "shelf_band_to_hz": end}, 0.1)
        told = verdict(replace(stepped_v(), sensitivities=Sensitivities(both, (down, up))))
        assert f"on the shelf band (+0.20 octaves downward: fundamental −67 Hz{at}" in told
    costs = {"shelf_band_octaves": 0.15, "shelf_band_to_hz": 8000 * (2**0.11 - 1), "deepest_hole_db": -0.8}
    firm, wide = replace(down, change={**down.change, "highest_peak_db": -0.7}), Sensitivity(FLANK, costs, 0.1)
    told = verdict(replace(stepped_v(), sensitivities=Sensitivities(both, (firm, wide))))
    each = f"highest peak +0.70 dB; upward +0.15 octaves with +10 % of {FLANK.words}"  # the costs of each behind it
    assert f"fundamental −67 Hz; {each})" in told and f"with +10 % of {FLANK.words} (deepest hole −0.80 dB)" in told
    narrow = Sensitivity(FLANK, {"shelf_band_octaves": 0.012, "shelf_band_to_hz": 70.0}, 0.1)  # 0.9 % of that end
    for no in (replace(wide, lost=frozenset({"handed_over_hz"})), narrow):
        told = verdict(replace(stepped_v(), sensitivities=Sensitivities(both, (down, no))))
        assert "on the shelf band (+0.20 octaves downward: fundamental −67 Hz)." in told
    up = replace(up, change={"shelf_band_octaves": 0.25, "shelf_band_to_hz": 8000 * (2**0.2 - 1)})
    told = verdict(replace(stepped_v(), sensitivities=Sensitivities(both, (down, up))))
    assert f"+10 % of {FLANK.words} on the shelf band (+0.25 octaves upward)" in told
    thrown = Sensitivity(STEP, {**less, "shelf_band_octaves": -0.7, "shelf_band_from_hz": 390.0}, -0.1)
    told = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (thrown,))))  # a hole there is just let in
    assert f"−10 % of {STEP.words} on the shelf band (+0.70 octaves; a jump to another end)." in told


def test_steps_that_a_verdict_tells_are_handed_on_in_its_order():
    """They were read off its words; what it does not tell, and what gains nothing, are not among them."""
    base = {"shelf_band_octaves": 2.0, "shelf_band_to_hz": 8e3, "decoupling_hz:outer step": 757.0}
    pulp, paper = (Lever(f"modulus of {name}", 3e9, "modulus") for name in ("paper pulp", "paper"))
    moved = Sensitivity(pulp, {"shelf_band_octaves": 0.3, "shelf_band_to_hz": 200.0}, 0.1)
    first, idle = replace(moved, lever=FLANK, change={"shelf_band_to_hz": 300.0}), Sensitivity(paper, {}, 0.1)
    found = replace(stepped_v(), sensitivities=Sensitivities(base, (idle, moved, first)))
    assert told_steps(found) == (first, moved)
    assert verdict(found).count("Keys: profile.outer.rise.") == 1  # a modulus has none
    useless = replace(first, change={"shelf_band_to_hz": -300.0}, back=Sensitivity(FLANK, {}, -0.1))
    told = replace(found, sensitivities=Sensitivities(base, (useless,)))
    assert "gains nothing with −10 % of outer flank rise" in verdict(told) and told_steps(told) == ()
    assert "Keys" not in verdict(told)
    assert told_steps(replace(found, sensitivities=Sensitivities(base, ()))) == told_steps(stepped_v()) == ()


def test_a_width_that_moves_the_outer_diameter_says_so():
    """The first advice on a ring V of 61 mm, taken four times, made it 56 mm, under the words "diameters kept"."""
    base = {"shelf_band_octaves": 2.0, "shelf_band_to_hz": 8e3, "decoupling_hz:outer step": 757.0}
    for key, words in (("profile.outer.width", "; outside −1.5 mm"), ("profile.inner.width", "")):
        row = Sensitivity(Lever(key, 7.5e-3, "length"), {"shelf_band_octaves": -0.2}, -0.1)
        told = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (row,))))
        on = f"−10 % of {row.lever.words} on the shelf band (+0.20 octaves{words})."
        assert f"given diameters and winding kept: {on}" in told


def test_a_lever_is_told_the_way_that_helps_as_far_as_that_was_solved():
    """Half as far as a straight line would have it, what it costs; that it gains nothing where nothing else does."""
    end = stepped_v().figures.shelf_band.to_hz
    base = {"shelf_band_to_hz": end, "decoupling_hz:outer step": 757.0, "deepest_hole_db": -2.0}
    up = Sensitivity(STEP, {"shelf_band_to_hz": -300.0}, 0.1)

    def told(back):
        rows = (replace(up, back=back), Sensitivity(FLANK, {"shelf_band_to_hz": 200.0}, 0.1))
        return verdict(replace(stepped_v(), sensitivities=Sensitivities(base, rows)))

    turned = {"shelf_band_to_hz": -150.0, "deepest_hole_db": 0.7}  # turned about, as it was taken at a tenth less
    first = f"that end moves by +200 Hz with +10 % of {FLANK.words}"
    less = f"+150 Hz with −10 % of {STEP.words} (deepest hole −0.70 dB)"
    assert f"{first} and {less}." in told(Sensitivity(STEP, turned, -0.1))
    nothing = Sensitivity(STEP, {"shelf_band_to_hz": 20.0}, -0.1)
    refused = Sensitivity(STEP, {}, None, "it does not fit")
    assert f"{first}." in told(nothing) and f"{first}." in told(refused)  # beside what helps it is no advice
    alone = Sensitivities(base, (replace(up, back=nothing),))
    words = verdict(replace(stepped_v(), sensitivities=alone))
    assert f"that end gains nothing with −10 % of {STEP.words}." in words
    alone = Sensitivities(base, (replace(up, back=refused),))
    words = verdict(replace(stepped_v(), sensitivities=alone))
    assert f"that end gains nothing with less of {STEP.words} (refused)." in words
    little = Sensitivity(FLANK, {"shelf_band_to_hz": 20.0}, 0.1)  # less than a tenth of what a wider step throws away
    words = verdict(replace(stepped_v(), sensitivities=replace(alone, rows=(*alone.rows, little))))
    assert f"{STEP.words} (refused), and at most +20 Hz with +10 % of {FLANK.words}." in words


def test_what_cannot_be_had_a_tenth_more_of_is_told_below_the_table():
    """Its row stands under "per +10 %", and that tenth is refused; where a tenth less is too, its dashes would say
    that it moves nothing."""
    base, change = {"fundamental_hz": 80.0}, {"fundamental_hz": -2.0}
    wall = Lever("wall.thickness", 5e-5, "length")
    rows = Sensitivity(STEP, change, -0.1), Sensitivity(FLANK, change, 0.1), Sensitivity(wall, {}, None, "why")
    told = change_notes(replace(stepped_v(), sensitivities=Sensitivities(base, rows)))
    less = f"More of {STEP.key} is refused: a tenth less was solved, its changes turned about"
    assert told == [
        less,
        "Neither more nor less of wall.thickness alone is accepted: no numbers",
        ONE_BY_ONE,
    ]


def test_a_jump_hides_none_of_what_moves_a_figure_itself():
    """Beside a break-up mode that jumped by 1 kHz all that moved it by less than 10 Hz was told as nothing."""
    base = {"break_up_mode_hz": 957.0}
    jump = Sensitivity(STEP, {"break_up_mode_hz": 1e3}, 0.1)
    near = Sensitivity(FLANK, {"break_up_mode_hz": 8.0}, 0.1)
    for rows, largest in (((jump, near), 8.0), ((jump,), 1e3), ((), 0.0)):
        assert largest_change(Sensitivities(base, rows), "break_up_mode_hz") == largest
    found = Sensitivities(base, (jump, near))
    assert [bare_change(found, row, "break_up_mode_hz", 8.0) for row in found.rows] == ["+1000*", "+8.0"]


def test_what_is_a_jump_is_no_first_advice_where_something_else_helps():
    """A wider step moved an end by 3 kHz, another mode's then; it stood before what moves the mode itself."""
    base = {"shelf_band_octaves": 5.0, "shelf_band_to_hz": 8e3, "decoupling_hz:outer step": 757.0}
    far = Sensitivity(STEP, {"shelf_band_to_hz": -300.0, "shelf_band_octaves": 0.5}, 0.1)
    far = replace(far, back=Sensitivity(STEP, {"shelf_band_to_hz": -3e3, "shelf_band_octaves": -0.5}, -0.1))
    near = Sensitivity(FLANK, {"shelf_band_to_hz": 200.0, "shelf_band_octaves": 0.1}, 0.1)
    words = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (far, near))))
    jump = f"+3000 Hz with −10 % of {STEP.words} (another mode or zone decides then)"
    assert f"moves by +200 Hz with +10 % of {FLANK.words} and {jump}." in words
    jump = replace(far, change={"shelf_band_to_hz": 3e3, "shelf_band_octaves": 0.5}, back=None)
    words = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (jump, near))))
    assert f"kept: +10 % of {FLANK.words} on the shelf band (+0.10 octaves)" in words
    words = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (jump,))))
    assert f"{STEP.words} on the shelf band (+0.50 octaves; a jump to another end)" in words  # it alone helps


def test_a_jump_that_holds_is_told_beside_what_moves_an_end():
    """-10 % of a flank's width took a driver past a hole to 4.69 kHz, and stood behind two levers of 180 and 140 Hz."""
    base = {"plays_to_hz": 3270.0, "level_band_to_hz": 3270.0, "loaded_departure_hz": 1561.0}
    keys = ("front.slots[1].radius", "profile.outer.rise")
    near = [
        Sensitivity(Lever(key, 1e-3, "length"), {"plays_to_hz": hz}, 0.1)
        for key, hz in zip(keys, (180.0, 140.0), strict=True)
    ]
    far = Sensitivity(FLANK, {"plays_to_hz": -1420.0}, -0.1)

    def told(jump):
        found = Sensitivities(base, (*near, Sensitivity(FLANK, {"plays_to_hz": -250.0}, 0.1, back=jump)), loaded=True)
        return plays_on(replace(stepped_v(), sensitivities=found)).words

    moves = f"the upper end moves by +180 Hz with +10 % of {near[0].lever.words} and"
    assert told(replace(far, held=frozenset(["plays_to_hz"]))) == (
        f"{moves} jumps to 4.69 kHz with −10 % of {FLANK.words} (past a hole)"
    )
    assert told(far) == f"{moves} +140 Hz with +10 % of {near[1].lever.words}"
    farther = replace(far, change={"plays_to_hz": -16730.0}, held=frozenset(["plays_to_hz"]))
    assert f"jumps to 20.0 kHz, the end of the range, with −10 % of {FLANK.words}" in told(farther)  # maybe beyond


def test_what_raises_an_end_and_shortens_the_band_stands_behind_what_does_not():
    """The same verdict told the opposite of it to be the strongest on that band."""
    base = {"shelf_band_octaves": 5.0, "shelf_band_to_hz": 8e3, "decoupling_hz:outer step": 757.0}
    longer = Sensitivity(FLANK, {"shelf_band_to_hz": 280.0, "shelf_band_octaves": 0.05}, 0.1)
    shorter = f"+330 Hz with +10 % of {STEP.words} (shelf band −0.016 octaves)"
    for octaves, first in ((-0.16, FLANK), (-0.016, FLANK), (-0.013, STEP)):  # of a frequency 1 % and less
        costly = Sensitivity(STEP, {"shelf_band_to_hz": 330.0, "shelf_band_octaves": octaves}, 0.1)
        words = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (costly, longer))))
        assert re.search(r"that end moves by \+\d+ Hz with \+10 % of ([a-z ]+)", words)[1].startswith(first.words)
        assert (shorter in words) is (octaves == -0.016)


def test_no_break_up_mode_is_worth_half_an_octave_of_the_band():
    """Of a V with soft steps +170 Hz cost 2.9 octaves of shelf, where +160 Hz were to be had for nothing."""
    base = {"break_up_mode_hz": 6740.0, "shelf_band_octaves": 5.4, "shelf_band_to_hz": 4150.0}
    free = Sensitivity(FLANK, {"break_up_mode_hz": 160.0}, 0.1)
    for octaves, first in ((-2.9, FLANK), (-0.51, FLANK), (-0.49, STEP)):
        dear = Sensitivity(STEP, {"break_up_mode_hz": 170.0, "shelf_band_octaves": octaves}, 0.1)
        found = Sensitivities({**base, "decoupling_hz:outer step": 757.0}, (dear, free))
        words = verdict(replace(stepped_v(), sensitivities=found))
        assert re.search(r"% of ([a-z ]+) on [^%]*the break-up mode", words)[1] == first.words


def test_a_band_is_not_told_to_grow_by_what_its_study_would_not_allow():
    """Of a V with two firm steps 0.12 octaves came with a hole of 12 dB; a hole may grow by 2 dB, or to 3."""
    base = {"shelf_band_octaves": 3.4, "shelf_band_to_hz": 1800.0, "decoupling_hz:outer step": 2360.0}
    free = Sensitivity(FLANK, {"shelf_band_octaves": 0.084, "deepest_hole_db": 0.0}, 0.1)
    for before, change, first in ((0.0, -12.0, FLANK), (0.0, -2.9, STEP), (-6.0, -2.1, FLANK), (-6.0, -1.9, STEP)):
        dear = Sensitivity(STEP, {"shelf_band_octaves": 0.12, "deepest_hole_db": change}, 0.1)
        found = Sensitivities({**base, "deepest_hole_db": before}, (dear, free))
        words = verdict(replace(stepped_v(), sensitivities=found))
        assert f"kept: +10 % of {first.words} on the shelf band" in words


def test_what_no_tenth_moves_by_a_percent_is_told_so():
    """A dome's mode of 20.2 kHz was told to move by +5.8 Hz with more of the coil, for a tenth of the area per mass."""
    base = {"shelf_band_to_hz": 8e3, "shelf_band_octaves": 5.0, "decoupling_hz:outer step": 757.0}
    for hz, words in (
        (79.0, "that end moves by less than 1 % with any tenth, given diameters and winding kept."),
        (81.0, f"that end moves by +81 Hz with +10 % of {STEP.words}."),
    ):
        row = Sensitivity(STEP, {"shelf_band_to_hz": hz}, 0.1)
        assert words in verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (row,))))


def test_steps_left_out_since_the_diaphragm_would_touch_are_told_below_the_table():
    base, change = {"fundamental_hz": 80.0}, {"fundamental_hz": -2.0}
    row = Sensitivity(FLANK, change, 0.1, back=Sensitivity(FLANK, change, -0.1, touches=True))
    notes = change_notes(replace(stepped_v(), sensitivities=Sensitivities(base, (row,))))
    assert f"Left out of advice, since the diaphragm would touch its plug: −10 % of {FLANK.words}" in notes


def test_what_a_softer_step_costs_is_told_where_it_does_not_do_alone():
    found = stepped_v()
    figures = replace(found.figures, values={**found.figures.values, "handed_over_hz": None})
    (material,) = (key.removeprefix("modulus of ") for key in of_steps(found.design))
    base = {"handed_over_hz": None, "shelf_band_octaves": 3.9, "shelf_band_to_hz": 5e3, "deepest_hole_db": -10.2,
            "decoupling_hz:outer step": 757.0}  # fmt: skip
    worse = {"shelf_band_octaves": 0.4, "deepest_hole_db": 0.9}
    modulus = Lever(f"modulus of {material}", 1e7, "modulus")
    row = Sensitivity(modulus, {}, 0.1, back=Sensitivity(modulus, worse, -0.1))
    words = verdict(replace(found, figures=figures, sensitivities=Sensitivities(base, (row,))))
    costs = f"−10 % of {modulus.words} (shelf band −0.40 octaves; deepest hole −0.90 dB)."
    far = "One number alone is too little, up to three times or a third of it as far as that can be built"
    assert f"{far}; mind what a tenth costs: {costs}" in words
    tread = Lever("profile.outer.steps[0].tread", 1e-3, "length")
    lower = {"shelf_band_octaves": -1.1, "break_up_mode_hz": -3900.0}
    wider = Sensitivity(tread, lower, 1.0, gained=frozenset(["handed_over_hz"]))
    far = Sensitivities({**base, "break_up_mode_hz": 9.6e3}, (row,), hands_over=(wider,))
    words = verdict(replace(found, figures=figures, sensitivities=far))
    assert f"comes about with +100 % of {tread.words} (shelf band −1.1 octaves; break-up mode −3900 Hz)." in words
    assert "too little" not in words and "would help" not in words and "opposite" not in words
    shorter = Sensitivity(tread, {"shelf_band_octaves": -0.2}, 0.1)
    shorter = replace(shorter, back=Sensitivity(tread, {"shelf_band_octaves": -0.09}, -0.1))
    words = verdict(replace(found, figures=figures, sensitivities=replace(far, rows=(row, shorter))))
    asked = f"; a longer shelf band asks for the opposite, −10 % of {tread.words} (+0.090 octaves)."
    assert f"break-up mode −3900 Hz){asked}" in words
    comes = replace(row, back=replace(row.back, gained=frozenset(["handed_over_hz"])))
    words = verdict(replace(found, figures=figures, sensitivities=Sensitivities(base, (comes,))))
    assert f"It comes about with {costs}" in words and "too little" not in words


def test_a_hand_over_that_fails_is_told_with_what_it_comes_about():
    """A rule for every step stands there only where no lever does it."""
    found = stepped_v()
    figures = replace(found.figures, values={**found.figures.values, "handed_over_hz": None})
    failing = replace(found, figures=figures, sensitivities=two_levers(gained=frozenset(["handed_over_hz"])))
    words = verdict(failing)
    assert f"It comes about with +10 % of {STEP.words}." in words and "A softer or wider step" not in words
    assert "A softer or wider step" in verdict(replace(failing, sensitivities=two_levers()))


def test_the_verdict_needs_no_lever():
    assert "10 %" not in verdict(replace(metal_dome(), sensitivities=None))


def test_a_longer_band_is_told_with_what_it_takes_from_the_break_up_mode():
    """Of its frequency a tenth: on a V with a step, a narrower flank for the shelf band took a third of it untold."""
    found = two_levers()
    for lost, told in ((-3200.0, True), (-900.0, False)):
        costly = replace(found.rows[0], change={**found.rows[0].change, "break_up_mode_hz": lost})
        base = {**found.base, "break_up_mode_hz": 9600.0}
        words = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (costly, *found.rows[1:]))))
        assert (f"+300 Hz with +10 % of {STEP.words} (break-up mode −3200 Hz, a jump)" in words) is told


def test_a_price_that_is_a_jump_is_told_as_one():
    """ "deepest hole −64 dB" was told of a modulus: another hole came into the range, and the table had its mark."""
    found = two_levers()
    base = {**found.base, "deepest_hole_db": -2.0, "deepest_hole_hz": 1.9e3}
    for place, told in ((9e3, "(deepest hole −30 dB, a jump)"), (50.0, "(deepest hole −30 dB)")):
        hole = {"deepest_hole_db": -30.0, "deepest_hole_hz": place}
        costly = replace(found.rows[0], change={**found.rows[0].change, **hole})
        words = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (costly, *found.rows[1:]))))
        assert f"+300 Hz with +10 % of {STEP.words} {told}" in words
