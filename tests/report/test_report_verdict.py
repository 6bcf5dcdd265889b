"""The verdict says what the figures say, in every case that a design can be."""

import re
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from places import STUDIES
from report_cases import metal_dome, stepped_v, undriven_disc

from diaphragm_fem.analysis.figures.break_up_mode import BreakUpMode
from diaphragm_fem.analysis.figures.response_bands import Band
from diaphragm_fem.analysis.figures.zones import NearMiss
from diaphragm_fem.answer.change.levers import Lever
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.trust.second_opinion import SecondOpinion
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.report.contents.tables import changes_table, changes_title
from diaphragm_fem.report.words.figures import ONE_BY_ONE, change_lines, figure_lines, figure_text, near_words
from diaphragm_fem.report.words.glance import glance, part_words
from diaphragm_fem.report.words.sentences import break_up
from diaphragm_fem.report.words.verdict import limit, verdict
from diaphragm_fem.report.words.words import show_area, show_band, show_hz


def changed(values=None, reasons=None, **parts):
    """The stepped V with some figures set by hand."""
    found = stepped_v()
    figures = found.figures
    figures = replace(
        figures, values={**figures.values, **(values or {})}, reasons={**figures.reasons, **(reasons or {})}, **parts
    )
    return replace(found, figures=figures)


def test_verdict_gives_the_figures():
    found = stepped_v()
    figures, words = found.figures, verdict(found)
    for shown in (
        show_hz(figures.fundamental_hz), show_area(figures.low_area_m2), show_hz(figures.handed_over_hz),
        show_area(figures.high_area_m2), show_hz(figures.departure_hz), show_hz(figures.break_up_mode_hz),
        show_band(figures.even_band), show_band(figures.shelf_band), show_hz(figures.peaks[0].frequency_hz),
        show_hz(figures.holes[0].frequency_hz),
    ):  # fmt: skip
        assert shown in words
    for step in figures.steps:
        assert f"the {step.name} at {show_hz(step.decoupling_hz)}" in words.replace("The ", "the ")
    assert "the outer leaves first" in words
    assert "usable" not in words and "ocking" not in words  # rocking here is well damped: nothing to say


def test_verdict_counts_octaves_against_common_practice():
    wide = Band(100.0, 1600.0, False)
    assert "4.0 octaves; at least the four octaves of common practice" in verdict(changed(shelf_band=wide))
    assert "4.0 octaves; just short of the four octaves" in verdict(changed(shelf_band=Band(100.0, 1590.0, False)))
    assert "fewer than the four octaves" in verdict(changed(shelf_band=Band(100.0, 1500.0, False)))
    assert "≥ 4.0 octaves" in verdict(changed(shelf_band=replace(wide, at_least=True)))
    cut = verdict(changed(shelf_band=Band(100.0, 1500.0, True)))  # what lies beyond the range may well be even
    assert "≥ 3.9 octaves; the range is too narrow to tell of the four octaves" in cut


def test_verdict_of_a_design_without_a_step_judges_the_even_band():
    words = verdict(metal_dome())
    assert "hand" not in words and "shelves" not in words and "The dome follows the coil within 3 dB up to" in words


def test_verdict_of_a_step_that_never_lets_go_says_what_would_help():
    steps = stepped_v().figures.steps
    never = (steps[0], replace(steps[1], decoupling_hz=None, handed_over_hz=None))
    why = "the outer flank beyond step still moves by 0.42 of the coil's motion at 4900 Hz, above 0.3"
    words = verdict(changed({"handed_over_hz": None, "high_area_m2": None}, {"handed_over_hz": why}, steps=never))
    told = "lets go, the outer step does not let go in the range; the hand-over fails: "
    assert told + why.replace(" beyond step", "") in words
    assert "A softer or wider step, or more loss in it, would help." in words


def test_verdict_of_steps_with_nothing_to_hand_over_asks_for_no_softer_one():
    idle = tuple(replace(step, handed_over_hz=None, idle=True) for step in stepped_v().figures.steps)
    why = {"handed_over_hz": "nothing beyond the inner step moves by 0.3 of the coil's motion"}
    words = verdict(changed({"handed_over_hz": None, "high_area_m2": None}, why, steps=idle))
    assert f"let go; {why['handed_over_hz']}: there is nothing to hand over." in words
    assert "the hand-over fails" not in words and "softer or wider step" not in words


def test_verdict_of_a_hand_over_that_fails_in_two_zones_says_where_once():
    clauses = [
        f"the {zone} beyond step still moves by {size} times the coil's motion at 5.54 kHz, above 0.3"
        for zone, size in (("inner flank", "3.76"), ("outer flank", "2.11"))
    ]
    words = verdict(changed({"handed_over_hz": None, "high_area_m2": None}, {"handed_over_hz": "; ".join(clauses)}))
    told = (
        "the inner flank still moves by 3.76 and the outer flank by 2.11 times the coil's motion at 5.54 kHz, above 0.3"
    )
    assert told in words


def test_verdict_of_a_hand_over_right_where_it_leaves():
    assert "the motion is handed over, right where it leaves the coil." in verdict(changed({"high_area_m2": None}))


def test_verdict_without_departure_or_resonance_gives_the_reason():
    stays = tuple(
        replace(one, departure_hz=None, reason=f"the {one.zone} follows the coil up to 20000 Hz", follows=True)
        for one in stepped_v().figures.departures
    )
    words = verdict(changed({"departure_hz": None, "fundamental_hz": None}, {"fundamental_hz": "nothing holds it"},
                            departures=stays))  # fmt: skip
    assert words.startswith("No fundamental resonance: nothing holds it; ")
    assert "Both driven zones follow the coil within 3 dB up to the end of the range, 20.0 kHz." in words


def test_verdict_of_a_break_up_mode_out_of_reach():
    words = verdict(changed(break_up_mode=BreakUpMode(None, {}, None, (), "above 80 kHz")))
    assert "First break-up mode above 80 kHz." in words


def test_verdict_tells_of_poorly_damped_rocking_alone():
    found = stepped_v()
    modes = found.modes[1]
    loss = np.array([0.004, *modes.loss_factor[1:]])
    words = verdict(replace(found, modes={**found.modes, 1: replace(modes, told_losses=lambda: loss)}))
    assert f"Rocking (m = 1) at {show_hz(modes.frequency_hz[0])} is poorly damped (loss factor 0.0040; " in words
    zone = modes.zones[int(modes.strain_share[0].argmax())].name
    assert f"% of its strain in the {zone}" in words and "where more loss would help): keep the drive even" in words


def test_verdict_without_a_drive_counts_modes():
    found = undriven_disc()
    words = verdict(found)
    assert words.startswith("There is no coil to drive it, so only modes are given")
    assert f"{len(found.modes[0])} of order m = 0" in words
    every = list(found.modes)
    assert len(every) > 1 and f" and {len(found.modes[every[-1]])} of order m = {every[-1]} up to " in words
    assert show_hz(found.modes[0].frequency_hz[0]) in words


def test_verdict_without_order_0_does_not_blame_the_design():
    found = stepped_v()
    rocking = replace(found, modes={1: found.modes[1]}, figures=None, area=None)
    assert verdict(rocking).startswith("Order m = 0 was not asked for, so only modes are given")


def test_verdict_of_a_coil_that_the_edge_holds():
    found = stepped_v()
    assert verdict(replace(found, figures=None, area=None)).startswith("The edge holds the circle where the coil would")


def test_verdict_says_where_the_solids_numbers_stand():
    opinion = SecondOpinion((), stepped_v().figures, {"departure_hz": (4900.0, 5400.0), "even_band_to_hz": (1.0, 2.0)})
    words = verdict(replace(stepped_v(), second_opinion=opinion))
    assert words.endswith("These are the solid model's numbers; the shell's are: 3 dB departure 4.90 kHz.")
    more = replace(opinion, differing={**opinion.differing, "break_up_mode_hz": (9e3, 8e3)})
    two = verdict(replace(stepped_v(), second_opinion=more))
    assert two.endswith("the shell's are: 3 dB departure 4.90 kHz and break-up mode 9.00 kHz.")
    ends = replace(opinion, differing={"even_band_to_hz": (4900.0, 5400.0)})  # of a band as long as the shell's
    words = verdict(replace(stepped_v(), second_opinion=ends))
    assert words.endswith("the shell's are: even band to 4.90 kHz.")


@pytest.mark.parametrize("what", ["peak", "hole"])
def test_verdict_names_the_mode_that_ends_the_band(what):
    """Behind a peak stands the nearest mode, behind a hole the last one below it; the zone that holds most of it."""
    found = stepped_v()
    figures, modes = found.figures, found.modes[0]
    extreme = figures.peaks[0] if what == "peak" else figures.holes[0]
    words = verdict(changed(shelf_band=replace(figures.shelf_band, to_hz=300.0, ended_by=extreme)))
    away = np.abs(np.log(modes.frequency_hz / extreme.frequency_hz))
    index = (
        int(np.argmin(away)) if what == "peak" else int(np.flatnonzero(modes.frequency_hz < extreme.frequency_hz)[-1])
    )
    zone = modes.zones[int(np.argmax(modes.strain_share[index]))].name
    ends = f"The shelf band ends at 300 Hz, in the {what} at {show_hz(extreme.frequency_hz)} that the mode at "
    assert f"{ends}{show_hz(modes.frequency_hz[index])} makes (" in words and f"of its strain in the {zone});" in words


def test_verdict_names_no_mode_of_the_shell_beside_the_solids_figures():
    """Of a dome about a soft core the solid's break-up mode is 20 % above the shell's, whose surround was blamed."""
    figures = stepped_v().figures
    band = replace(figures.shelf_band, ended_by=replace(figures.peaks[0], frequency_hz=3e3, level_db=9.0))
    opinion = SecondOpinion((), figures, {"departure_hz": (4900.0, 5400.0)})
    told = verdict(replace(changed(shelf_band=band), second_opinion=opinion))
    assert f"The shelf band ends at {show_hz(band.to_hz)}, in the peak at 3.00 kHz." in told and "makes (" not in told
    broken = replace(figures.break_up_mode, frequency_hz=3.01e3)
    told = verdict(replace(changed(shelf_band=band, break_up_mode=broken), second_opinion=opinion))
    assert f"It ends the shelf band at {show_hz(band.to_hz)}, in the peak at 3.00 kHz" in told


@pytest.mark.parametrize("what", ["peak", "hole"])
def test_verdict_does_not_name_a_mode_that_sweeps_nothing(what):
    """What a mode sweeps is its modal area over its modal mass times how far it is from resonance (Ewins, Modal
    Testing (2000), receptance of one mode, from memory); one that sweeps nothing makes neither a peak nor a hole."""
    found = stepped_v()
    figures, modes = found.figures, found.modes[0]
    extreme = figures.peaks[0] if what == "peak" else figures.holes[0]
    below = int(np.flatnonzero(modes.frequency_hz < extreme.frequency_hz)[-1])
    named = int(np.argmin(np.abs(np.log(modes.frequency_hz / extreme.frequency_hz)))) if what == "peak" else below
    still = np.where(np.arange(len(modes)) == named, 0.0, modes.modal_area)
    band = replace(figures.shelf_band, to_hz=300.0, ended_by=extreme)
    shown = changed(shelf_band=band)
    words = verdict(replace(shown, modes={**shown.modes, 0: replace(modes, modal_area=still)}))
    assert f" that the mode at {show_hz(modes.frequency_hz[named])} makes (" in verdict(shown)
    assert f" that the mode at {show_hz(modes.frequency_hz[named])} makes (" not in words


@pytest.mark.parametrize(("share", "words"), [(0.51, "mostly from"), (0.49, "led by")])
def test_a_peak_comes_mostly_from_a_zone_that_gives_more_than_half(share, words):
    """The stepped V's first peak was told to come mostly from a zone that gives 22 % of it."""
    peak = stepped_v().figures.peaks[0]
    zones = stepped_v().area.zone[:, np.argmin(np.abs(stepped_v().area.frequency_hz - peak.frequency_hz))]
    assert peak.with_share == pytest.approx((zones / zones.sum()).real.max(), abs=0.01) and peak.with_share < 0.25
    told = verdict(changed(peaks=(replace(peak, with_share=share),)))
    assert f"at {show_hz(peak.frequency_hz)}, {words} the inner driven zone" in told


def test_verdict_does_not_blame_the_fundamental_for_a_hole():
    """Where no other mode lies below the hole it is the first above it that takes the response away."""
    figures, modes = stepped_v().figures, stepped_v().modes[0]
    ended = replace(figures.holes[0], frequency_hz=1.6 * figures.fundamental_hz)
    words = verdict(changed(shelf_band=replace(figures.shelf_band, to_hz=300.0, ended_by=ended)))
    assert modes.frequency_hz[0] < ended.frequency_hz < modes.frequency_hz[1]
    assert f" that the mode at {show_hz(modes.frequency_hz[1])} makes (" in words


def test_verdict_names_a_mode_that_breaks_up_and_ends_the_band_once():
    figures = stepped_v().figures
    mode = figures.break_up_mode
    ended = replace(figures.peaks[0], frequency_hz=0.99 * mode.frequency_hz, level_db=9.0)
    words = verdict(changed(shelf_band=replace(figures.shelf_band, ended_by=ended)))
    end = show_hz(figures.shelf_band.to_hz)
    assert f" It ends the shelf band at {end}, in the peak at {show_hz(ended.frequency_hz)}; a thicker wall" in words
    assert words.count(show_hz(mode.frequency_hz)) == 1


def test_what_moves_a_break_up_mode_is_told_as_measured():
    """The rule for the zone would send one to the former's length, which does nothing where its top alone bends."""
    changes = {"coil.former_height": -33.0, "profile.height": 1300.0, "coil.former.thickness": 940.0, "wall.width": 9e9}
    rows = [Sensitivity(Lever(key, 1e-3, "length"), {"break_up_mode_hz": x}, 0.1) for key, x in changes.items()]
    found = metal_dome()
    words = verdict(replace(found, sensitivities=Sensitivities({"break_up_mode_hz": 26e3}, tuple(rows))))
    assert (
        "It moves by +1300 Hz with +10 % of profile height and +940 Hz with +10 % of coil former thickness."
    ) in words  # and hardly with coil.former_height
    assert "Strongest" not in words and words.count("profile.height") == 1 and "wall.width" not in words  # another mode
    assert "A thicker former" in verdict(replace(found, sensitivities=None))


def test_where_the_break_up_mode_ends_the_band_that_end_is_moved():
    """Of a V +354 Hz of the mode were told where the end gained 140 Hz, another mode's then."""
    figures = stepped_v().figures
    ended = replace(figures.peaks[0], frequency_hz=0.99 * figures.break_up_mode.frequency_hz, level_db=9.0)
    shown = changed(shelf_band=replace(figures.shelf_band, ended_by=ended))
    base = {"break_up_mode_hz": 4725.0, "shelf_band_to_hz": 3475.0, "decoupling_hz:outer step": 757.0}
    row = Sensitivity(
        Lever("wall.thickness", 1e-3, "length"), {"break_up_mode_hz": 354.0, "shelf_band_to_hz": 140.0}, 0.1
    )
    words = verdict(replace(shown, sensitivities=Sensitivities(base, (row,))))
    assert "; that end moves by +140 Hz with +10 % of wall thickness." in words
    assert "kept: +10 % of wall thickness on the break-up mode (+350 Hz)" in words


def test_what_moves_the_end_of_a_band_is_told_as_measured():
    """And that a lever makes it jump for the better; one that throws it down is no advice, unless less of it helps."""
    figures = stepped_v().figures
    end, octaves = figures.shelf_band.to_hz, figures.shelf_band.octaves
    changes = {"wall.thickness": (0.25 * end, 0.52), "profile.inner.width": (-298.0, -0.05)}
    rows = [
        Sensitivity(
            Lever(key, 1e-3, "length"), {"shelf_band_to_hz": hz, "shelf_band_octaves": band, "decoupling_hz": 9.0}, 0.1
        )
        for key, (hz, band) in changes.items()
    ]
    base = {"shelf_band_to_hz": end, "shelf_band_octaves": octaves, "decoupling_hz": 757.0}
    words = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, tuple(rows))))
    assert "; that end moves by −300 Hz with +10 % of inner flank width." in words
    assert "+10 % of wall thickness on the shelf band (+0.52 octaves; a jump to another end)" in words
    thrown = replace(rows[0], change={"shelf_band_to_hz": -0.25 * end, "shelf_band_octaves": -0.52})
    down = verdict(replace(stepped_v(), sensitivities=Sensitivities(base, (thrown, rows[1]))))
    assert "wall.thickness" not in down and "+10 % of inner flank width on the shelf band (−0.050 octaves)" in down
    found = replace(stepped_v(), sensitivities=Sensitivities(base, tuple(rows)))
    assert [row[1:] for row in change_lines(found)[1]] == [("+9.0", "+0.52*"), ("+9.0", "−0.050")]
    assert "a tenth less does not do the opposite. A small step" in changes_table(found).note
    steady = replace(found, sensitivities=Sensitivities(base, tuple(rows[1:])))
    assert (
        changes_title(steady) == "What to change: shell figures per +10 %"
        and changes_table(steady).note == f"{ONE_BY_ONE}."
    )


def test_what_to_change_names_the_strongest_levers():
    rows = (
        Sensitivity(
            Lever("wall.thickness", 5e-5, "length"), {"shelf_band_octaves": -0.2, "break_up_mode_hz": 90.0}, 0.1
        ),
        Sensitivity(
            Lever("coil.height", 5e-3, "length"), {"shelf_band_octaves": 0.1, "break_up_mode_hz": -410.0}, -0.1
        ),
        Sensitivity(Lever("profile.width", 5e-3, "length"), {}, None, "it does not fit"),
        Sensitivity(Lever("profile.coil_diameter", 44e-3, "length"), {"break_up_mode_hz": -1000.0}, 0.1),
    )
    base = {"shelf_band_octaves": 2.4, "break_up_mode_hz": 13e3, "decoupling_hz": None}
    found = replace(stepped_v(), sensitivities=Sensitivities(base, rows))
    words = verdict(found)
    assert (
        "Strongest changes of a tenth, given diameters and winding kept: "
        "+10 % of wall thickness on the shelf band (−0.20 octaves) and "
        "−10 % of coil height on the break-up mode (+410 Hz). Keys: wall.thickness and coil.height."
    ) in words
    jump = Sensitivity(Lever("wall.thickness", 5e-5, "length"), {"break_up_mode_hz": 22e3}, 0.1)
    assert "wall.thickness" not in verdict(replace(found, sensitivities=Sensitivities(base, (jump,))))  # another mode
    other = replace(rows[0], change={"break_up_mode_hz": 1600.0}, jumped=frozenset(["break_up_mode_hz"]))
    steady = Sensitivities(base, (other, rows[1]))  # what moves the mode itself goes before what names another
    words = "−10 % of coil height on the shelf band (−0.10 octaves) and on the break-up mode (+410 Hz)"
    assert words in verdict(replace(found, sensitivities=steady))
    head, lines = change_lines(found)
    assert head == ("per +10 % of", "break-up mode, Hz")  # no decoupling: no shelves in the table
    assert [change for _, change in lines] == ["+90", "−410", "–", "−1000"]  # a diameter is in the table, not in words
    assert lines[3][0] == "profile.coil_diameter"


def test_a_figure_that_does_not_exist_is_none_with_its_reason():
    figures = changed({"handed_over_hz": None}, {"handed_over_hz": "because"}).figures
    line = next(line for line in figure_lines(figures) if line[0] == "handed over above")
    assert line == ("handed over above", "none", "because")
    assert figure_text(changed({"deepest_hole_db": 0.0}).figures, "deepest_hole_db") == "none"


def test_near_misses_stand_beside_their_figure():
    figures = stepped_v().figures
    near = replace(figures.departures[0], near_misses=(NearMiss("inner driven zone", 4100.0, -2.8),))
    step = replace(figures.steps[0], near_misses=(NearMiss("inner flank", 3100.0, 0.27),))
    mode = replace(figures.break_up_mode, near_misses=(NearMiss("former", 9000.0, 0.46),))
    figures = replace(figures, departures=(near, figures.departures[1]), steps=(step, figures.steps[1]),
                      break_up_mode=mode)  # fmt: skip
    assert near_words(figures, f"departure_hz:{near.zone}") == "nearly at 4.10 kHz (−2.8 dB)"
    assert near_words(figures, f"handed_over_hz:{step.name}") == "nearly at 3.10 kHz (share 0.27)"
    assert near_words(figures, "break_up_mode_hz") == "nearly at 9.00 kHz (46 % of its strain there)"
    assert near_words(figures, "departure_hz") == f"the {figures.first_to_leave.zone}"


def test_what_the_file_left_open_is_said_at_the_end() -> None:
    """A dome without [coil] and without [edges]: the drive is a bare circle, and the surround's rim is held."""
    data = tomllib.loads((STUDIES / "metal_dome.toml").read_text(encoding="utf-8"))
    given = design_from(data)
    open_ended = design_from({key: value for key, value in data.items() if key not in ("coil", "edges")})
    assert open_ended.notes == (
        "the file says nothing of the outer edge: taken as clamped, as a surround is glued down",
    )
    found = metal_dome()
    mode = replace(found.figures.break_up_mode, shares={"dome": 1.0})  # the former is not there to hold any
    words = verdict(replace(found, design=open_ended, figures=replace(found.figures, break_up_mode=mode)))
    assert words.endswith(
        "The file says nothing of the outer edge: taken as clamped, as a surround is glued down. "
        "No coil is given: a bare force drives the circle where one would sit, and its mass is missing."
    )
    motor = {"force_factor": "3 T m", "coil_resistance": "6 ohm"}
    driven = design_from({"motor": motor} | {key: data[key] for key in data if key not in ("coil", "edges")})
    assert driven.joint is not None and driven.notes == open_ended.notes  # of a driver a note told it a second time
    assert given.notes == () and "is given" not in verdict(metal_dome()) and "says nothing" not in verdict(metal_dome())
    bare = {key: value for key, value in data["profile"].items() if key != "surround"}
    free = design_from({**{k: v for k, v in data.items() if k != "edges"}, "profile": bare})
    assert free.notes == ("the file says nothing of the outer edge: taken as free",)


def test_the_limit_stands_alone() -> None:
    """It heads a page, so it says of what it speaks where no band ends."""
    ends, change = limit(stepped_v())
    assert ends.startswith("The shelf band ends at ") and ends.removesuffix(".") in verdict(stepped_v())
    assert change and f"{change[0].lower()}{change[1:]}" in verdict(stepped_v())
    open_ended = changed(shelf_band=None, even_band=None)
    assert limit(open_ended)[0].startswith("First break-up mode ")
    assert limit(undriven_disc()) == ("", "")


def test_at_a_glance_four_questions_are_answered() -> None:
    """What a page begins with was one paragraph, of drivers seven lines, and of the part nothing but its name."""
    found = stepped_v()
    told = dict(glance(found))
    assert list(told) == ["what it is", "how good", "what limits it", "what to change"]
    assert told["how good"] in verdict(found) and (told["what limits it"], told["what to change"]) == limit(found)
    walls = "PEN film of 50 µm, firm elastomer of 75 to 100 µm and damping elastomer of 55 to 60 µm"
    assert told["what it is"] == f"58.6 mm across, driven on 44 mm; {walls}; in vacuum."
    assert list(dict(glance(undriven_disc()))) == ["what it is"]


def test_at_a_glance_a_hand_over_that_fails_is_told_with_what_brings_it() -> None:
    """It was left out of a page's opening, though the step then does nothing that it is there for."""
    why = "the outer flank beyond step still moves by 0.70 of the coil's motion at 4.05 kHz, above 0.3"
    told = dict(glance(changed({"handed_over_hz": None, "high_area_m2": None}, {"handed_over_hz": why})))
    assert told["what limits it"].startswith("The hand-over fails: the outer flank still moves by 0.70 of ")
    assert told["what to change"].startswith("A softer or wider step, or more loss in it, would help. ")


def test_what_a_part_is_tells_stacks_as_one_and_what_is_around_it() -> None:
    stack = {"layers": [{"material": name, "thickness": "20 um"} for name in ("PEN film", "aluminium alloy")]}
    dome = {"kind": "dome", "rim_diameter": "30 mm", "height": "6 mm"}
    data = {"name": "d", "wall": stack, "profile": dome, "edges": {"outer": "clamped"}}
    assert part_words(design_from(data)).endswith(
        " across, driven on 30 mm; PEN film + aluminium alloy of 40 µm; in vacuum."
    )
    motor = {"force_factor": "3 T m", "coil_resistance": "6 ohm"}
    front = {
        "kind": "thin chamber",
        "gap": "0.5 mm",
        "slots": [{"radius": "8 mm", "width": "1 mm", "channel": {"length": "9 mm"}}],
    }
    driven = part_words(design_from(data | {"motor": motor, "front": front, "exit": {"diameter": "25 mm"}}))
    assert driven.endswith("; behind a plug with 1 slot, exit of 25 mm.")
    assert part_words(design_from(data | {"motor": motor, "front": {"kind": "baffle"}})).endswith("; in a baffle.")
    assert part_words(design_from(data | {"motor": motor})).endswith("; in its driver.")


def test_the_mode_that_ends_a_band_is_told_with_its_share_of_strain():
    found = stepped_v()
    told = re.search(r"the mode at ([\d.]+) kHz makes \((\d+) % of its strain in the ([^)]+)\)", limit(found)[0])
    modes = found.modes[0]
    k = int(np.argmin(np.abs(modes.frequency_hz - 1e3 * float(told[1]))))
    zone = int(np.argmax(modes.strain_share[k]))
    assert told[3] == modes.zones[zone].name and told[2] == f"{modes.strain_share[k, zone] * 100:.0f}"


def test_a_key_at_the_head_of_a_note_is_told_as_it_is_written():
    found = stepped_v()
    notes = ("profile.outer.surround.overlap.fillet: the shell has it", "corners have a radius of 0.3 mm at most")
    words = verdict(replace(found, design=replace(found.design, notes=notes)))
    assert " profile.outer.surround.overlap.fillet: the shell has it. Corners have a radius of 0.3 mm at most." in words


def test_a_break_up_mode_of_many_zones_is_told_with_up_to_three():
    """Of a ring V the former held 24 %, both driven zones 19 and 18 %: told alone, the former seemed to break up."""
    for shares, words in (
        ({"former": 0.24, "outer": 0.19, "inner": 0.18, "step": 0.17}, "24 % of its strain in the former, 19 % in the "
         "outer and 18 % in the inner."),
        ({"dome": 0.82, "former": 0.1}, "82 % of its strain in the dome."),
        ({"dome": 0.6, "former": 0.35, "roll": 0.05}, "60 % of its strain in the dome and 35 % in the former."),
    ):  # fmt: skip
        mode = replace(stepped_v().figures.break_up_mode, shares=shares)
        assert break_up(replace(stepped_v().figures, break_up_mode=mode)).endswith(words)
