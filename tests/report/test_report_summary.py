"""How far to trust the numbers, and the page made of one design."""

from dataclasses import replace

import numpy as np
import pytest
from report_cases import stepped_v

from diaphragm_fem.design.files.plain_text import markdown_text
from diaphragm_fem.design.material.material import Evidence, Kind, LossFactor, Material
from diaphragm_fem.report.contents import summary
from diaphragm_fem.report.contents.tables import opinion_table
from diaphragm_fem.report.sheets.area import draw_response
from diaphragm_fem.report.sheets.sheet import blank_sheet
from diaphragm_fem.report.sheets.style import SMALL
from diaphragm_fem.report.words import trust


def test_trust_gives_errors_second_opinion_and_doubtful_numbers() -> None:
    words = trust.trust(stepped_v())
    assert "agrees within 0.10 % on 3 modes" in words
    assert "no published source" in words
    assert "count of eigenvalues" in words


@pytest.mark.parametrize("tall", [18.0, 60.0])
def test_bands_below_the_response_never_lie_on_one_another(tall) -> None:
    """Below a verdict of sixteen lines the curves are low, and two bars with their words lay on one another."""
    answer, axes = stepped_v(), blank_sheet().axes(24, 97, 176, tall)
    draw_response(axes, answer.area, answer.figures)
    rows = [text.get_position()[1] for text in axes.texts if "octaves" in text.get_text()]
    places = axes.transData.transform([(100.0, y) for y in (*rows, axes.get_ylim()[0])])[:, 1]
    apart = -np.diff(places) / axes.figure.dpi * 72  # points
    assert len(rows) == 2 and apart[0] > SMALL and apart[1] > SMALL / 2


def test_trust_says_when_models_differ_or_none_was_asked() -> None:
    evaluation = stepped_v()
    rows = tuple(replace(row, solid_hz=row.shell_hz / 1.05) for row in evaluation.second_opinion.rows)
    apart = replace(evaluation, second_opinion=replace(evaluation.second_opinion, rows=rows))
    assert "differs by up to 5.0 % on 3 modes" in trust.trust(apart)
    assert "no second opinion was given." in trust.trust(replace(evaluation, second_opinion=None))
    alone = trust.trust(replace(evaluation, second_opinion=None, bare_joints=2))
    assert "joints, 2 of them left to the bare theory, alone" in alone


def test_spread_of_a_modulus_moves_frequencies_by_its_root() -> None:
    """f goes with sqrt(E): a modulus met from E/4 to 4 E halves or doubles a frequency."""
    evidence = {"youngs_modulus": Evidence(Kind.PAPER, "a paper", (1e9, 16e9))}
    film = Material("film", 1300.0, 4e9, 0.3, LossFactor((0.01,)), evidence)
    assert trust._modulus_moves(film) == "film (1 GPa to 16 GPa) by −50 to +100 %"
    near = replace(film, evidence={"youngs_modulus": Evidence(Kind.PAPER, "a paper", (3.98e9, 4e9 * 1.21))})
    assert trust._modulus_moves(near).endswith(" by 0 to +10 %")  # less than half a percent has no sign


def test_caution_of_a_material_is_shown_once() -> None:
    evaluation = stepped_v()
    assert trust.cautions(evaluation) == []
    piece = evaluation.design.meridian[0]
    layer = piece.wall.layers[0]
    dusty = replace(layer.material, caution="its dust is toxic.")
    wall = replace(piece.wall, layers=(replace(layer, material=dusty),))
    meridian = (replace(piece, wall=wall), *evaluation.design.meridian[1:])
    shown = replace(evaluation, design=replace(evaluation.design, meridian=meridian))
    assert trust.cautions(shown) == [f"{dusty.name}: its dust is toxic. Local rules go first."]
    assert trust.caution("dust", "Follow the local rules.") == "dust: Follow the local rules."
    assert "**Caution**" in summary.markdown(shown)


def test_markdown_page_has_every_mode_warning_and_source() -> None:
    evaluation = stepped_v()
    page = summary.markdown(evaluation)
    assert page.startswith("# north hall, stepped V\n")
    assert "- **Warning**: a warning with its number 7" in page
    rows = [line for line in page.splitlines() if line.startswith(("| 0 | ", "| 1 | ", "| 2 | "))]
    assert len(rows) == sum(len(modes) for modes in evaluation.modes.values()) + len(evaluation.second_opinion.rows)
    assert all(line.count("|") == rows[0].count("|") for line in rows[: -len(evaluation.second_opinion.rows)])


def test_a_mode_without_one_like_it_is_said() -> None:
    evaluation = stepped_v()
    rows = evaluation.second_opinion.rows
    lost = replace(rows[1], solid_index=None, solid_hz=None, likeness=None)
    swapped = replace(rows[2], solid_index=5)
    opinion = replace(evaluation.second_opinion, rows=(rows[0], lost, swapped))
    assert "on 2 modes, and 1 had none like it" in trust.trust(replace(evaluation, second_opinion=opinion))
    lines = opinion_table(opinion).rows
    assert lines[1][3:] == ("none alike", "") and lines[2][3].endswith("(mode 5)")


def test_a_modulus_of_unknown_spread_is_named() -> None:
    words = trust.trust(stepped_v())
    assert "firm elastomer (100 MPa" in words and "may be off is not known" in words


def test_the_error_of_the_curve_is_told_in_db_below_the_break_up_mode() -> None:
    """Where |S| is the low area, an error of 1 % of it is 20 log10(1.01) dB; at a tenth of it, ten times as much."""
    evaluation = stepped_v()
    figures, area = evaluation.figures, evaluation.area
    flat = replace(area, zone=np.full_like(area.zone, figures.low_area_m2 / len(area.zone)))
    told = trust.curve_error_db(replace(evaluation, area=flat, area_error=0.01))
    assert told == pytest.approx(20 * np.log10(1.01), rel=1e-6)
    dip = flat.zone.copy()
    below = area.frequency_hz <= figures.break_up_mode_hz
    dip[:, np.flatnonzero(below)[-1]] /= 10
    told = trust.curve_error_db(replace(evaluation, area=replace(flat, zone=dip), area_error=0.01))
    assert told == pytest.approx(20 * np.log10(1.1), rel=1e-6)
    dip = flat.zone.copy()
    dip[:, ~below] /= 1e3  # above the break-up mode nobody reads a level
    told = trust.curve_error_db(replace(evaluation, area=replace(flat, zone=dip), area_error=0.01))
    assert told == pytest.approx(20 * np.log10(1.01), rel=1e-6)
    assert " dB below the break-up mode" in trust.trust(evaluation)


def test_trust_is_three_points_and_the_page_lists_them() -> None:
    points = trust.trust_points(stepped_v())
    assert [point.partition(":")[0] for point in points] == ["Mesh", "Model", "Materials"]
    page = summary.markdown(stepped_v())
    assert all(f"\n- {markdown_text(point)}\n" in page for point in points)
