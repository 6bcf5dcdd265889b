"""The verdict says what the figures of merit say, in every case that a design can be."""

from dataclasses import replace
from types import MappingProxyType

import pytest
from report_cases import stepped_v, undriven_disc

from diaphragm_fem.analysis.merit import StepFigures
from diaphragm_fem.design.material import Evidence, Kind, LossFactor, Material
from diaphragm_fem.report import summary
from diaphragm_fem.report.words import show_area, show_hz


def with_merit(**changes):
    evaluation = stepped_v()
    return replace(evaluation, merit=replace(evaluation.merit, **changes))


def test_verdict_gives_the_figures_of_merit() -> None:
    evaluation = stepped_v()
    merit, words = evaluation.merit, summary.verdict(evaluation)
    for shown in (
        show_hz(merit.fundamental_hz), show_area(merit.low_area_m2), show_hz(merit.handed_over_hz),
        show_area(merit.high_area_m2), show_hz(merit.break_up_hz), "usable octaves",
    ):  # fmt: skip
        assert shown in words
    for step in merit.steps:
        assert f"the {step.name} at {show_hz(step.decoupling_hz)}" in words.replace("The ", "the ")


def test_verdict_counts_octaves_against_common_practice() -> None:
    assert "at least the four" in summary.verdict(with_merit(usable_octaves=4.0))
    assert "fewer than the four" in summary.verdict(with_merit(usable_octaves=3.9))


def test_verdict_of_a_design_without_a_step() -> None:
    assert "no decoupling step" in summary.verdict(with_merit(steps=()))


def test_verdict_of_a_step_that_never_lets_go() -> None:
    steps = (StepFigures("inner step", 1400.0, 2000.0), StepFigures("outer step", None, None))
    reasons = MappingProxyType({"handed_over_hz": "a zone beyond a step still moves"})
    words = summary.verdict(with_merit(steps=steps, handed_over_hz=None, high_area_m2=None, reasons=reasons))
    assert "The inner step at 1.40 kHz lets go, the outer step does not let go in the range." in words
    assert "The hand-over fails: a zone beyond a step still moves." in words


def test_verdict_of_a_hand_over_right_at_break_up() -> None:
    assert "handed over above 2.00 kHz, right where it breaks up" in summary.verdict(
        with_merit(handed_over_hz=2000.0, high_area_m2=None)
    )


def test_verdict_without_break_up_gives_the_reason() -> None:
    reasons = MappingProxyType({"break_up_hz": "the driven zone rides with the coil up to 20000 Hz"})
    words = summary.verdict(with_merit(break_up_hz=None, usable_octaves=None, reasons=reasons))
    assert "No break-up in the range: the driven zone rides with the coil up to 20000 Hz." in words


def test_verdict_without_a_resonance_gives_the_reason() -> None:
    reasons = MappingProxyType({"fundamental_hz": "nothing holds the diaphragm"})
    words = summary.verdict(with_merit(fundamental_hz=None, reasons=reasons))
    assert words.startswith("There is no fundamental resonance: nothing holds the diaphragm.")


def test_verdict_warns_of_rocking_below_break_up_alone() -> None:
    lowest = min(stepped_v().modes[m].frequency_hz[0] for m in (1, 2))
    assert f"begins at {show_hz(lowest)}, below break-up" in summary.verdict(stepped_v())
    assert "below break-up" not in summary.verdict(with_merit(break_up_hz=lowest / 2))


def test_verdict_without_a_drive_counts_modes() -> None:
    evaluation = undriven_disc()
    words = summary.verdict(evaluation)
    assert words.startswith("There is no coil to drive it, so only modes are given")
    assert f"{len(evaluation.modes[0])} of order m = 0" in words
    assert show_hz(evaluation.modes[0].frequency_hz[0]) in words


def test_verdict_without_order_0_does_not_blame_the_design() -> None:
    evaluation = stepped_v()
    rocking = replace(evaluation, modes={1: evaluation.modes[1]}, merit=None, area=None)
    assert summary.verdict(rocking).startswith("Order m = 0 was not asked for, so only modes are given")


def test_trust_gives_errors_second_opinion_and_doubtful_numbers() -> None:
    words = summary.trust(stepped_v())
    assert "agrees within 0.10 % on 3 modes" in words
    assert "no published source" in words
    assert "count of eigenvalues" in words


def test_trust_says_when_models_differ_or_none_was_asked() -> None:
    evaluation = stepped_v()
    rows = tuple(replace(row, solid_hz=row.shell_hz / 1.05) for row in evaluation.second_opinion.rows)
    apart = replace(evaluation, second_opinion=replace(evaluation.second_opinion, rows=rows))
    assert "differs by up to 5.0 % on 3 modes" in summary.trust(apart)
    assert "No second opinion was given." in summary.trust(replace(evaluation, second_opinion=None))


def test_spread_of_a_modulus_moves_frequencies_by_its_root() -> None:
    """f goes with sqrt(E): a modulus met from E/4 to 4 E halves or doubles a frequency."""
    evidence = {"youngs_modulus": Evidence(Kind.PAPER, "a paper", (1e9, 16e9))}
    film = Material("film", 1300.0, 4e9, 0.3, LossFactor((0.01,)), evidence)
    assert summary._modulus_moves(film) == "film (1 GPa to 16 GPa) by −50 to +100 %"


def test_caution_of_a_material_is_shown_once() -> None:
    evaluation = stepped_v()
    assert summary.cautions(evaluation) == []
    piece = evaluation.design.meridian[0]
    layer = piece.wall.layers[0]
    dusty = replace(layer.material, caution="its dust is toxic.")
    wall = replace(piece.wall, layers=(replace(layer, material=dusty),))
    meridian = (replace(piece, wall=wall), *evaluation.design.meridian[1:])
    shown = replace(evaluation, design=replace(evaluation.design, meridian=meridian))
    assert summary.cautions(shown) == [f"{dusty.name}: its dust is toxic. Local rules go first."]
    assert summary.caution("dust", "Follow the local rules.") == "dust: Follow the local rules."
    assert "**Caution**" in summary.markdown(shown)


def test_markdown_page_has_every_mode_warning_and_source() -> None:
    evaluation = stepped_v()
    page = summary.markdown(evaluation)
    assert page.startswith("# north hall, stepped V\n")
    assert "- **Warning**: a warning with its number 7" in page
    rows = [line for line in page.splitlines() if line.startswith(("| 0 | ", "| 1 | ", "| 2 | "))]
    assert len(rows) == sum(len(modes) for modes in evaluation.modes.values()) + len(evaluation.second_opinion.rows)
    assert all(line.count("|") == rows[0].count("|") for line in rows[: -len(evaluation.second_opinion.rows)])


@pytest.mark.parametrize("key", ["handed_over_hz", "high_area_m2", "break_up_hz", "usable_octaves"])
def test_a_figure_that_does_not_exist_is_none_with_its_reason(key: str) -> None:
    merit = replace(stepped_v().merit, **{key: None}, reasons={key: "because"})
    line = next(line for line in summary.figure_lines(merit) if line[2])
    assert line[1:] == ("none", "because")


def test_the_solids_break_up_stands_beside_the_shells_where_they_differ() -> None:
    evaluation = stepped_v()
    opinion, merit = evaluation.second_opinion, evaluation.merit
    near = replace(opinion, merit=replace(merit, break_up_hz=1.01 * merit.break_up_hz))
    assert "by the solid model" not in summary.verdict(replace(evaluation, second_opinion=near))
    far = replace(opinion, merit=replace(merit, break_up_hz=6e3))
    assert "by the solid model, to be believed rather, at 6.00 kHz" in summary.verdict(
        replace(evaluation, second_opinion=far)
    )
    none = replace(opinion, merit=replace(merit, break_up_hz=None))
    assert "nowhere in the range" in summary.verdict(replace(evaluation, second_opinion=none))


def test_a_mode_without_one_like_it_is_said() -> None:
    evaluation = stepped_v()
    rows = evaluation.second_opinion.rows
    lost = replace(rows[1], solid_index=None, solid_hz=None, likeness=None)
    swapped = replace(rows[2], solid_index=5)
    opinion = replace(evaluation.second_opinion, rows=(rows[0], lost, swapped))
    assert "on 2 modes, and 1 had none like it" in summary.trust(replace(evaluation, second_opinion=opinion))
    lines = summary.opinion_lines(opinion)
    assert lines[1][3:] == ("none alike", "") and lines[2][3].endswith("(mode 5)")


def test_a_modulus_of_unknown_spread_is_named() -> None:
    words = summary.trust(stepped_v())
    assert "How far the modulus of firm elastomer (0.1 GPa at 35 Hz, assumed) may be off is not known" in words
