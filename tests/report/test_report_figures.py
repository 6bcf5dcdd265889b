"""The figures hold what the numbers say: axes with units, one legend, marks at the figures, no overlap."""

from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
from unittest.mock import patch

import numpy as np
import pytest
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_hex
from matplotlib.lines import Line2D
from report_cases import metal_dome, sheet, stepped_v, undriven_disc, with_levers
from scipy.sparse import csr_matrix, identity

from diaphragm_fem.analysis.modes.label import short_name
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.zone_sizes import zone_sizes
from diaphragm_fem.model.structure import Surface
from diaphragm_fem.report.sheets import area as area_sheets
from diaphragm_fem.report.sheets import modes as mode_sheets
from diaphragm_fem.report.sheets import style
from diaphragm_fem.report.sheets.listing import OF_A_DESIGN, OF_A_PROFILE, DrawnProfile, of_an_order
from diaphragm_fem.report.sheets.sheet import blank_sheet, draw_sheet, save_sheet
from diaphragm_fem.report.sheets.summary import _columns
from diaphragm_fem.report.words.words import show_area, show_hz, show_mass


def texts(figure) -> list[str]:
    """Every text of a figure, axes and legends included, that is not empty."""
    from matplotlib.text import Text

    return [text.get_text() for text in figure.findobj(Text) if text.get_text().strip()]


def boxes(figure) -> list:
    """Bounding boxes in pixels of texts set on the page itself."""
    renderer = figure.canvas.get_renderer()
    return [(text.get_text(), text.get_window_extent(renderer)) for text in figure.texts if text.get_text().strip()]


def many_levers():
    """As many rows and notes as a driver with two slots has: the first note stood on the last row."""
    answer = with_levers(stepped_v())
    found = answer.sensitivities
    first = found.rows[0]
    more = [replace(first, lever=replace(first.lever, key=f"front.slots[{k}].width")) for k in range(22)]
    answer = replace(answer, sensitivities=replace(found, rows=(*found.rows, *more)))
    notes = ["over which band", "* a jump", "more of this is refused", "one by one"]
    with patch("diaphragm_fem.report.sheets.changes.change_notes", lambda _: notes):
        return sheet(OF_A_DESIGN, "what_to_change", answer)


SHEETS = {
    "summary": lambda: sheet(OF_A_DESIGN, "summary", stepped_v()),
    "summary of a dome": lambda: sheet(OF_A_DESIGN, "summary", metal_dome()),
    "summary without drive": lambda: sheet(OF_A_DESIGN, "summary", undriven_disc()),
    "profile": lambda: sheet(OF_A_DESIGN, "profile", stepped_v()),
    "profile of a dome": lambda: sheet(OF_A_DESIGN, "profile", metal_dome()),
    "profile without coil": lambda: sheet(OF_A_DESIGN, "profile", undriven_disc()),
    "area": lambda: sheet(OF_A_DESIGN, "area", stepped_v()),
    "area of a dome": lambda: sheet(OF_A_DESIGN, "area", metal_dome()),
    "shapes": lambda: sheet(OF_A_DESIGN, "modes_m0", stepped_v()),
    "rocking": lambda: draw_sheet(of_an_order(1), stepped_v()),
    "spectrum": lambda: sheet(OF_A_DESIGN, "modes_by_order", stepped_v()),
    "levers": lambda: sheet(OF_A_DESIGN, "what_to_change", with_levers(stepped_v())),
    "many levers": many_levers,
    "shapes without drive": lambda: draw_sheet(of_an_order(1), undriven_disc()),
}


@cache
def drawn(name: str):
    """The figure of a sheet, drawn once, so that everything on it knows its place."""
    figure = SHEETS[name]().figure
    figure.draw_without_rendering()
    return figure


@pytest.mark.parametrize("name", SHEETS)
def test_text_stays_on_the_page_and_apart(name: str) -> None:
    figure = drawn(name)
    page = figure.bbox
    found = boxes(figure)
    for words, box in found:
        assert box.x0 >= 0 and box.x1 <= page.width and box.y0 >= 0 and box.y1 <= page.height, words
    for (first, a), (second, b) in combinations(found, 2):
        wide, high = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        assert wide <= 1 or high <= 1, f"'{first}' meets '{second}'"


@pytest.mark.parametrize("name", SHEETS)
def test_one_legend_at_most_clear_of_the_curves(name: str) -> None:
    figure = drawn(name)
    assert len(figure.legends) + sum(axes.get_legend() is not None for axes in figure.axes) <= 1
    for legend in figure.legends:
        box = legend.get_window_extent()
        assert not any(box.overlaps(axes.get_window_extent()) for axes in figure.axes if axes.axison)


@pytest.mark.parametrize("name", SHEETS)
def test_letters_are_of_8_points(name: str) -> None:
    """What is smaller is hard to read on paper (common practice, no source); they were of 6.8, of many levers
    less."""
    from matplotlib.text import Text

    assert min(text.get_fontsize() for text in drawn(name).findobj(Text) if text.get_text().strip()) >= 8.0


def test_a_name_is_rather_small_than_cut() -> None:
    evaluation = metal_dome()
    name = "north hall, a dome of 25 millimetres"
    named = replace(evaluation, design=replace(evaluation.design, name=name))
    assert name in texts(sheet(OF_A_DESIGN, "summary", named).figure)


@pytest.mark.parametrize("kind", ["summary", "profile"])
@pytest.mark.parametrize(
    "name", ["north hall, " + "a dome on a half-roll, " * 3 + "25 mm", "dome_" * 12], ids=["words", "one"]
)
def test_a_long_name_stands_on_two_lines(kind: str, name: str) -> None:
    """Upright sheets cut names of more than forty letters."""
    evaluation = metal_dome()
    named = replace(evaluation, design=replace(evaluation.design, name=name))
    figure = sheet(OF_A_DESIGN, kind, named).figure
    figure.draw_without_rendering()
    low = [(words, box) for words, box in boxes(figure) if box.y1 < 16 / 25.4 * figure.dpi]
    assert name.replace(" ", "") in "".join(words for words, _ in low).replace("\xa0", "").replace(" ", "")
    assert min(box.y0 for _, box in low) > 0
    assert not any(one.overlaps(other) for (_, one), (_, other) in combinations(low, 2))


def test_a_remark_on_a_cut_curve_lies_on_no_curve() -> None:
    """On a low panel it lay on the peak of the resonance, and the curve went on below where it was told to be cut."""
    answer = stepped_v()
    area = answer.area
    deep = replace(area, zone=area.zone * np.where(area.frequency_hz > 9e3, 1e-3, 1.0))
    with style.drawing_style():
        page = blank_sheet()
        axes = page.axes(24, 100, 176, 26)
        area_sheets.draw_response(axes, deep, answer.figures)
        style.frequency_axis(axes, area_sheets.first_shown(area, answer.figures), area.frequency_hz[-1], label=True)
        page.figure.draw_without_rendering()
    (remark,) = [text for text in axes.texts if text.get_text().startswith("cut ")]
    box = remark.get_window_extent()
    curve = max(axes.lines, key=lambda line: len(line.get_xdata()))
    points = axes.transData.transform(np.column_stack(curve.get_data()))
    assert not any(box.contains(*point) for point in points[np.isfinite(points).all(axis=1)])
    assert np.nanmin(curve.get_ydata()) >= -30 and min(axes.get_yticks()) >= -30
    numbers = [text.get_window_extent() for text in axes.get_yticklabels()]
    assert len(numbers) >= 2 and not any(one.overlaps(other) for one, other in combinations(numbers, 2))


def test_the_key_of_many_zones_stays_between_the_margins() -> None:
    names = ["surround", *(f"{one} {k}" for k in (3, 2, 1) for one in ("flank beyond step", "step")), "driven zone"]
    labels = [*names, "former", "winding", "effective area |S|", "swept in total", "low area", "no normal motion"]
    look = {"columnspacing": 1.4, "borderpad": 0.2, "handlelength": 1.8, "handletextpad": 0.8}
    with style.drawing_style():
        page = blank_sheet(portrait=True)
        handles = [Line2D([], [], label=label) for label in labels]
        page.legend(9.0, 150.0, handles, loc="center left", ncols=_columns(labels), **look)
        page.figure.draw_without_rendering()
    assert page.figure.legends[0].get_window_extent().x1 * 25.4 / page.figure.dpi < 201.0
    assert _columns(labels[:5]) == 5


def test_of_many_levers_those_that_change_least_are_left_out() -> None:
    answer = with_levers(stepped_v())
    found = answer.sensitivities
    first, *rest = found.rows
    idle = [
        replace(first, lever=replace(first.lever, key=f"idle.{k}"), change=dict.fromkeys(first.change, 0.0))
        for k in range(50)
    ]
    told = texts(
        sheet(
            OF_A_DESIGN, "what_to_change", replace(answer, sensitivities=replace(found, rows=(*idle, first, *rest)))
        ).figure
    )
    keys = [row.lever.key for row in found.rows if any(row.change.values())]
    assert {key.rpartition(".")[2] for key in keys} <= {words.rpartition(".")[2] for words in told}
    shown = sum(words.startswith("idle.") for words in told)
    left = 50 - shown + len(found.rows) - len(keys)
    assert 0 < shown < 50 and f"In what_to_change.csv alone: {left} levers of less effect" in told


@pytest.mark.parametrize("name", SHEETS)
def test_text_is_in_ink(name: str) -> None:
    from matplotlib.text import Text

    inks = {to_hex(style.INK), to_hex(style.SOFT_INK)}
    assert {to_hex(text.get_color()) for text in drawn(name).findobj(Text) if text.get_text().strip()} <= inks


@pytest.mark.parametrize("name", SHEETS)
def test_sheet_names_subject_design_and_program(name: str) -> None:
    found = " ".join(texts(drawn(name)))
    assert "diaphragm_fem" in found
    assert any(evaluation().design.name in found for evaluation in (stepped_v, metal_dome, undriven_disc))


def test_profile_is_to_scale_in_both_directions_and_says_which() -> None:
    page = sheet(OF_A_DESIGN, "profile", stepped_v())
    axes, chain, walls = page.figure.axes[:3]
    place = axes.get_position()
    across = place.width * page.width / np.ptp(axes.get_xlim())
    up = place.height * page.height / np.ptp(axes.get_ylim())
    assert across == pytest.approx(up, rel=1e-9)
    assert f"section at {across:g}:1 on A4; z points to the listener" in texts(page.figure)
    assert (walls.get_xlabel(), axes.get_ylabel()) == ("radius r, mm", "height z, mm")
    assert axes.get_xlim() == chain.get_xlim() == walls.get_xlim()


def test_what_is_glued_on_a_wall_has_its_own_zones_colour_and_a_detail_to_scale() -> None:
    evaluation = metal_dome()
    page = sheet(OF_A_DESIGN, "profile", evaluation)
    axes, detail = page.figure.axes[0], page.figure.axes[3]
    colours = style.zone_colours(evaluation.design.zones)
    laps = {piece.wall for piece in evaluation.design.meridian if len(piece.wall.layers) > 1}  # unlike far on their way
    (layers,) = {wall.layers for wall in laps}
    polygons = [c for c in axes.collections if isinstance(c, PolyCollection) and c.get_hatch() is None]
    fills = [to_hex(x) for x in polygons[0].get_facecolor()]
    places = [n for n, wall in enumerate(walls_drawn(evaluation.design)) if wall in laps]
    assert len(places) > 2 and {fills[n] for n in places[1::2]} == {colours[layers[1].glued]}
    assert {fills[n] for n in places[::2]} == {colours[evaluation.design.meridian[0].zone]}
    words = next(text for text in texts(page.figure) if text.endswith(":1, surround"))
    scale = detail.get_position().width * page.width / np.ptp(detail.get_xlim())
    assert words == f"{scale:g}:1, surround"
    (r0, r1), (z0, z1) = detail.get_xlim(), detail.get_ylim()
    for piece in evaluation.design.meridian:
        if piece.wall in laps:
            r, z = 1e3 * piece.curve.point(piece.curve.length / 2)
            assert r0 < r < r1 and z0 < z < z1


def walls_drawn(design) -> list:
    """The wall of each layer in the order drawn."""
    pieces = (*design.former, *design.meridian)
    return [piece.wall for piece in pieces for _ in piece.wall.layers]


def test_profile_draws_every_piece_at_its_thickness_and_elements_on_request_alone() -> None:
    evaluation = stepped_v()
    axes = sheet(OF_A_DESIGN, "profile", evaluation).figure.axes[0]
    polygons = [c for c in axes.collections if isinstance(c, PolyCollection) and c.get_hatch() is None]
    pieces = (*evaluation.design.former, *evaluation.design.meridian)
    assert len(polygons[0].get_paths()) == len(pieces)
    first = polygons[0].get_paths()[0].vertices
    gap = np.linalg.norm(first[0] - first[-2])  # begin of one face against begin of the other; the last point closes
    assert 1e-3 * gap == pytest.approx(float(pieces[0].wall.thickness(0.0)), rel=1e-9)
    assert not [c for c in axes.collections if c.get_label() == "mesh node"]
    asked = draw_sheet(OF_A_PROFILE[0], DrawnProfile(evaluation.design, evaluation.mesh)).figure.axes[0]
    (ticks,) = [c for c in asked.collections if c.get_label() == "mesh node"]
    assert len(ticks.get_segments()) == sum(len(s) for s in evaluation.mesh.stations)


def test_profile_names_every_zone_with_sizes_mass_and_material() -> None:
    evaluation = stepped_v()
    found = texts(sheet(OF_A_DESIGN, "profile", evaluation).figure)
    sizes = zone_sizes(evaluation.design)
    masses = [size.mass for size in sizes]  # in one unit: 1.88 g stood below 47.9 mg
    assert f"in all {show_mass(sum(masses), masses)}" in found and show_mass(sum(masses), masses).endswith(" mg")
    for size in sizes:
        assert short_name(size.zone.name) in found and show_mass(size.mass, masses) in found
        assert size.angle is None or f"{np.degrees(size.angle):.1f}°" in found
        if size.zone.role is not Role.COIL:  # once in the table, once in the chain below the section
            assert sum(words == f"{1e3 * size.width:.3g}" for words in found) >= 2
    layer = next(p for p in evaluation.design.meridian if p.zone.role is Role.STEP).wall.layers[0]
    made = f"{layer.material.name}*, {1e6 * layer.begin_thickness:.4g}\u00a0µm"
    assert any(words.startswith(made) for words in found)  # * marks an unpublished number
    winding = next(piece.winding for piece in evaluation.design.former if piece.winding)
    assert winding.conductor and any(words.startswith(f"{winding.conductor} on ") for words in found)
    assert any("no published source" in words for words in found)


def test_profile_says_where_zones_end() -> None:
    """A tread of 1.0 mm between rounded corners is 0.989 mm wide there; a dome's edge ends on the coil circle."""
    corners = "away from the coil zones end amid rounded corners"
    assert corners in texts(sheet(OF_A_DESIGN, "profile", stepped_v()).figure)
    assert corners not in texts(sheet(OF_A_DESIGN, "profile", metal_dome()).figure)


def test_profile_tells_the_whole_wall_where_something_is_glued_on() -> None:
    """It ended on "over 0.8 mm…": the dome's area stands on a line of its own now, a number beside its unit."""
    area = metal_dome().area
    found = texts(sheet(OF_A_DESIGN, "profile", metal_dome()).figure)
    assert not [words for words in found if "…" in words]
    first = next(k for k, words in enumerate(found) if words.startswith("aluminium alloy + treated silk*, 30"))
    told = f"{found[first]} {found[first + 1]}".replace("\u00a0", " ")
    assert told.endswith(f"30 µm, + 120 µm over 0.8 mm, {show_area(float(area.zone_area[0]))}")


def test_area_sheet_draws_the_curve_and_the_response_per_newton_from_a_third_of_the_fundamental() -> None:
    evaluation = stepped_v()
    magnitude, response, *strips = sheet(OF_A_DESIGN, "area", evaluation).figure.axes
    curve = next(line for line in magnitude.lines if len(line.get_xdata()) == 400 and line.get_linewidth() == 1.7)
    np.testing.assert_allclose(curve.get_ydata(), 1e4 * np.abs(evaluation.area.total))
    line = next(line for line in response.lines if len(line.get_xdata()) == 400)
    plateau = evaluation.figures.low_area_m2 / evaluation.figures.moving_mass_kg
    np.testing.assert_allclose(line.get_ydata(), 20 * np.log10(np.abs(evaluation.area.response) / plateau), atol=1e-9)
    assert magnitude.get_ylabel() == "area |S|, cm²" and "response per" in response.get_ylabel()
    assert strips[-1].get_xlabel() == "frequency, Hz"
    for axes in (magnitude, response, *strips):
        assert axes.get_xlim()[0] == pytest.approx(evaluation.figures.fundamental_hz / 3)
    low, high = magnitude.get_ylim()
    assert low >= 0.999 * 1e4 * evaluation.figures.low_area_m2 / 10**1.5
    assert high <= 1.001 * 1e4 * evaluation.figures.low_area_m2 * 10**1.5


def test_a_curve_that_is_cut_says_so() -> None:
    evaluation = stepped_v()
    loud = replace(evaluation.area, zone=100 * evaluation.area.zone)  # 40 dB above its own low area
    figure = sheet(OF_A_DESIGN, "area", replace(evaluation, area=loud)).figure
    assert "cut above: 30 dB about the low area" in texts(figure)
    deep = replace(evaluation.area, zone=evaluation.area.zone * np.where(evaluation.area.frequency_hz > 9e3, 1e-3, 1.0))
    figure = sheet(OF_A_DESIGN, "area", replace(evaluation, area=deep)).figure
    response = next(axes for axes in figure.axes if axes.get_ylabel().startswith("response per"))
    (line,) = (line for line in response.lines if len(line.get_xdata()) == len(deep.frequency_hz))
    (remark,) = (text for text in response.texts if text.get_text() == "cut below −30 dB")  # its peaks are all shown
    foot = response.transData.inverted().transform(remark.get_window_extent())[0][1]
    assert foot > np.nanmax(line.get_ydata())  # the remark stood on the peak of the resonance


def test_long_names_of_zones_stay_on_the_sheet() -> None:
    """Names of strips ran over its left edge; the key of many zones lay on the names of the orders."""
    whole = stepped_v()
    zones = tuple(
        replace(zone, name=f"belly of the cone, the {k}th part from within") for k, zone in enumerate(whole.area.zones)
    )
    figure = sheet(OF_A_DESIGN, "area", replace(whole, area=replace(whole.area, zones=zones))).figure
    figure.canvas.draw()
    names = [axes.yaxis.label.get_window_extent() for axes in figure.axes[2:]]
    assert len(names) == 8 and min(box.x0 for box in names) > 0
    assert all(above.y0 >= below.y1 for above, below in pairwise(names))
    many = [Line2D([], [], label=f"belly of the cone, part {k}") for k in range(8)]
    with patch.object(mode_sheets, "role_handles", lambda *_: many):
        figure = sheet(OF_A_DESIGN, "modes_by_order", whole).figure
    figure.canvas.draw()
    (key,) = figure.legends
    orders = [words.get_window_extent() for words in figure.axes[0].get_xticklabels()]
    assert key.get_window_extent().y1 <= min(box.y0 for box in orders)


def test_numbers_of_modes_hide_no_other() -> None:
    """The patch below one cut the top of the next."""
    figure = sheet(OF_A_DESIGN, "modes_by_order", stepped_v()).figure
    figure.canvas.draw()
    numbers = [text for text in figure.axes[0].texts if "Hz" in text.get_text() and "departure" not in text.get_text()]
    patches = [text.get_bbox_patch().get_window_extent() for text in numbers]
    letters = [text.get_window_extent() for text in numbers]
    assert len(numbers) > 20
    for (k, patch_box), (n, words) in ((a, b) for a in enumerate(patches) for b in enumerate(letters)):
        assert k == n or not patch_box.padded(-0.5).overlaps(words)


def test_every_zone_has_a_strip_that_ends_at_the_break_up_mode() -> None:
    evaluation = stepped_v()
    figure = sheet(OF_A_DESIGN, "area", evaluation).figure
    zones = [zone for zone in evaluation.area.zones if zone.radiates]
    strips = figure.axes[2:]
    assert [axes.get_ylabel() for axes in strips] == [short_name(zone.name) for zone in zones]  # inside to outside
    for axes, zone in zip(strips, zones, strict=True):
        line = next(line for line in axes.lines if len(line.get_xdata()) > 2)
        assert line.get_xdata()[-1] <= evaluation.figures.break_up_mode_hz
        share = evaluation.area.share[evaluation.area.zones.index(zone)].real
        inside = (share > area_sheets.STRIP[0]) & (share < area_sheets.STRIP[1])
        kept = inside[: len(line.get_ydata())]
        np.testing.assert_allclose(line.get_ydata()[kept], share[: len(kept)][kept])


def test_area_sheet_marks_the_figures() -> None:
    evaluation = stepped_v()
    figure = sheet(OF_A_DESIGN, "area", evaluation).figure
    figures = evaluation.figures
    expected = {
        "resonance": figures.fundamental_hz, "lets go": figures.decoupling_hz, "handed over": figures.handed_over_hz,
        "departure": figures.departure_hz, "break-up mode": figures.break_up_mode_hz,
    }  # fmt: skip
    assert {mark.name: mark.frequency_hz for mark in area_sheets.marks_of(figures)} == pytest.approx(expected)
    for axes in figure.axes:
        upright = [float(line.get_xdata()[0]) for line in axes.lines if len(set(line.get_xdata())) == 1]
        assert sorted(upright) == pytest.approx(sorted(expected.values()))
    found = texts(figure)
    for name, frequency in expected.items():
        assert name in found and show_hz(frequency) in found


def test_names_of_marks_never_meet() -> None:
    figure = blank_sheet().figure
    axes = figure.add_axes((0.1, 0.2, 0.6, 0.5))
    style.frequency_axis(axes, 20.0, 20e3)
    marks = [area_sheets.Mark(f"mark {k}", f, style.INK) for k, f in enumerate((900.0, 1000.0, 1100.0, 1200.0, 19e3))]
    area_sheets.draw_marks(axes, marks, 0.6 * 297)
    figure.draw_without_rendering()
    spots = [text.get_window_extent() for text in axes.texts]
    assert not any(a.overlaps(b) for a, b in combinations(spots, 2))
    assert max(spot.x1 for spot in spots) <= axes.bbox.x1 + 3


def test_low_and_high_area_are_drawn_where_they_hold() -> None:
    evaluation = stepped_v()
    figures = evaluation.figures
    magnitude = sheet(OF_A_DESIGN, "area", evaluation).figure.axes[0]
    level = [line for line in magnitude.lines if line.get_color() == area_sheets.LEVEL]
    low, high = sorted(level, key=lambda line: line.get_xdata()[0])
    assert low.get_ydata()[0] == pytest.approx(1e4 * figures.low_area_m2)
    assert high.get_ydata()[0] == pytest.approx(1e4 * figures.high_area_m2)
    assert tuple(high.get_xdata()) == pytest.approx((figures.handed_over_hz, figures.departure_hz))


def test_the_summary_has_no_rows_of_none_and_three_short_points_of_trust() -> None:
    for name in ("summary", "summary of a dome"):
        found = texts(drawn(name))
        assert "none" not in found
        for head in ("Mesh:", "Model:", "Materials:"):
            assert sum(words.startswith(head) for words in found) == 1
        assert {"area |S|, cm²", "response per\nnewton, dB"} <= set(found)


def test_shapes_sheet_has_rather_the_modes_that_the_coil_drives_each_with_its_modal_mass() -> None:
    evaluation = stepped_v()
    figure = sheet(OF_A_DESIGN, "modes_m0", evaluation).figure
    modes = evaluation.modes[0]
    count = min(12, len(modes))
    assert len(shapes_on(figure, 1.7)) == count
    found = [words for words in texts(figure) if "   " in words and words.endswith("Hz")]
    still = modes.modal_mass >= 100 * evaluation.static.moving_mass
    order = np.sort(np.argsort(still, kind="stable")[:count])  # chosen so, shown in their order
    assert found == [f"{k + 1}   {show_hz(modes.frequency_hz[k])}" for k in order]
    told = [words for words in texts(figure) if words == "coil still" or words.startswith("mass ")]
    assert [words == "coil still" for words in told] == list(still[order])


def test_warnings_end_above_the_title_block_and_the_rest_are_counted() -> None:
    many = tuple(f"{k}: " + "the shell model loses accuracy where walls are thick " * 3 for k in range(9))
    figure = sheet(OF_A_DESIGN, "summary", replace(stepped_v(), warnings=many)).figure
    height = figure.get_figheight() * 25.4
    words = [(text.get_text(), text.get_position()[1] * height) for text in figure.texts]
    shown = sum(told.startswith("Warning: ") for told, _ in words)
    (place,) = (place for told, place in words if told.endswith("more warnings in summary.md."))
    assert 0 < shown < 9 and any(told == f"{9 - shown} more warnings in summary.md." for told, _ in words)
    assert place > 15.5  # the block's head stands at 15 mm


def test_no_bit_of_wall_is_turned_by_more_than_45_degrees() -> None:
    """The steepest slope of a drawn shape is that which was asked for, unless the shape is small already."""
    evaluation = stepped_v()
    surface, modes = evaluation.structures[0].surface, evaluation.modes[0]
    limited = 0
    for k in range(len(modes)):
        radial, axial = surface.motion_r @ modes.vectors[:, k], surface.motion_z @ modes.vectors[:, k]
        factor = mode_sheets.amplitude(surface, radial, axial)
        slopes = []
        for run in np.unique(surface.run):
            here = surface.run == run
            along = np.hypot(np.diff(surface.r[here]), np.diff(surface.z[here]))
            turned = np.hypot(np.diff(radial[here]), np.diff(axial[here]))
            slopes.append((factor * turned[along > 1e-9] / along[along > 1e-9]).max())
        assert max(slopes) <= mode_sheets.STEEPEST * (1 + 1e-9)
        limited += max(slopes) > 0.999 * mode_sheets.STEEPEST
    assert limited > len(modes) / 2


def shapes_on(figure, width):
    """The lines of all shapes that are drawn so wide, straight on the sheet."""
    drawn = [one for one in figure.artists if isinstance(one, LineCollection)]
    return [one.get_segments() for one in drawn if one.get_linewidth()[0] == width]


@pytest.mark.parametrize("order", [1, 2])
def test_higher_orders_are_drawn_on_both_sides(order: int) -> None:
    """On the far side the motion is cos(m pi) times that on the near one: rocking goes down where the other goes up."""
    figure = draw_sheet(of_an_order(order), stepped_v()).figure
    first_mode = shapes_on(figure, 1.7)[:2] + shapes_on(figure, 0.8)[:2]  # moved, then at rest: near and far side
    lines = [np.concatenate(x) for x in first_mode]
    up = [lines[0][:, 1] - lines[2][:, 1], lines[1][:, 1] - lines[3][:, 1]]
    np.testing.assert_allclose(up[1], (-1) ** order * up[0], atol=1e-15)
    np.testing.assert_allclose(lines[3][:, 0], -lines[2][:, 0])


def test_spectrum_has_a_bar_per_mode_at_its_frequency() -> None:
    evaluation = stepped_v()
    axes = sheet(OF_A_DESIGN, "modes_by_order", evaluation).figure.axes[0]
    bars = [
        bar[0][1] for group in axes.collections if isinstance(group, LineCollection) for bar in group.get_segments()
    ]
    expected = np.concatenate([modes.frequency_hz for modes in evaluation.modes.values()])
    np.testing.assert_allclose(sorted(bars), np.sort(expected))
    assert axes.get_ylabel() == "frequency, Hz"


def test_spectrum_legend_has_the_colours_of_the_bars() -> None:
    figure = drawn("spectrum")
    bars = {to_hex(c) for g in figure.axes[0].collections if isinstance(g, LineCollection) for c in g.get_colors()}
    head, *zones = figure.legends[0].legend_handles
    assert {to_hex(handle.get_color()) for handle in zones} == bars and head.get_label().endswith("is in:")


def test_spectrum_names_departure_clear_of_the_modes() -> None:
    figure = drawn("spectrum")
    axes = figure.axes[0]
    spots = {text.get_text(): text.get_window_extent() for text in axes.texts}
    mark = spots.pop(f"departure\n{show_hz(stepped_v().figures.departure_hz)}")
    assert mark.x0 > axes.bbox.x1 and mark.x1 < figure.bbox.x1
    assert not any(mark.overlaps(spot) for spot in spots.values())
    assert not any(a.overlaps(b) for a, b in combinations(spots.values(), 2))
    line = next(line for line in axes.lines if line.get_linestyle() == "--")
    struck = [text for text in axes.texts if text.get_position()[0] < len(axes.get_xticks())]
    assert struck and all(text.get_bbox_patch() and text.zorder > line.zorder for text in struck)


def flat_surface(r: np.ndarray) -> Surface:
    """A flat disc's surface whose unknowns are the axial motions themselves."""
    count = len(r)
    none = csr_matrix((count, count))
    up = np.tile([0.0, 1.0], (count, 1))
    return Surface(
        r,
        np.zeros(count),
        none,
        none,
        csr_matrix(identity(count)),
        up,
        np.ones(count),
        np.zeros(count, int),
        np.zeros(count, int),
    )


def test_nodal_circles_are_the_zeros_of_the_normal_motion() -> None:
    """cos(2 pi r/R) passes through zero at R/4 and 3 R/4."""
    r = np.linspace(0, 1, 401)
    surface = flat_surface(r)
    nodes = mode_sheets.nodal_circles(surface, np.zeros(401), np.cos(2 * np.pi * r), np.ones(401, bool))
    np.testing.assert_allclose(nodes[:, 0], [0.25, 0.75], atol=1e-4)  # linear between samples 0.0025 apart


def test_a_zero_within_a_stretch_that_hardly_moves_stays_on_the_wall() -> None:
    """On a bent line the circle lies on the line, not on the chord from one moving end to the other."""
    count = 201
    x = np.linspace(-1, 1, count)
    surface = replace(flat_surface(1 + x), z=np.abs(x))
    motion = np.where(np.abs(x) > 0.5, x, 1e-3 * (x + 0.2))  # one zero, at x = -0.2, among faint motions
    (node,) = mode_sheets.nodal_circles(surface, np.zeros(count), motion, np.ones(count, bool))
    np.testing.assert_allclose(node, [0.8, 0.2], atol=1e-9)


def test_rounding_noise_and_kinks_are_no_nodal_circles() -> None:
    r = np.linspace(0, 1, 101)
    noise = np.where(np.arange(101) % 2, 1e-6, -1e-6) + (r > 0.9)
    surface = flat_surface(r)
    assert len(mode_sheets.nodal_circles(surface, np.zeros(101), noise, np.ones(101, bool))) == 0
    doubled = np.array([0.0, 0.5, 0.5, 1.0])
    jump = mode_sheets.nodal_circles(
        flat_surface(doubled), np.zeros(4), np.array([1.0, 1.0, -1.0, -1.0]), np.ones(4, bool)
    )
    assert len(jump) == 0


def test_inner_zones_are_dashed_only_beside_outer_ones() -> None:
    inner, outer = Zone("inner step", Role.STEP, "inner", 1), Zone("outer step", Role.STEP, "outer", 1)
    assert style.zone_dashes([inner, outer]) == {inner: style.DASHED, outer: style.SOLID}
    assert style.zone_dashes([inner]) == {inner: style.SOLID}


def test_zones_without_a_role_each_get_a_colour() -> None:
    zones = [Zone(f"zone {k}") for k in range(5)]
    assert len(set(style.zone_colours(zones).values())) == 5
    held = [Zone("cone", Role.DRIVEN), Zone("step", Role.STEP, "", 1), *zones[:4]]
    assert len(set(style.zone_colours(held).values())) == 6


def test_the_look_does_not_depend_on_the_callers_settings(tmp_path) -> None:
    from matplotlib import rc_context

    with rc_context({"font.size": 30, "axes.grid": False, "lines.linewidth": 9}):
        save_sheet(sheet(OF_A_DESIGN, "modes_by_order", undriven_disc()), tmp_path / "a.png")
    save_sheet(sheet(OF_A_DESIGN, "modes_by_order", undriven_disc()), tmp_path / "b.png")
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_the_profile_tells_the_main_measures_of_the_part():
    """By sums of what the files say: 44 + 2 (4.9 + 2.4) and 44 - 2 (6.5 + 3.2), 25 + 2 2 and a height of 6 mm."""
    v, dome = (" ".join(texts(sheet(OF_A_DESIGN, "profile", found).figure)) for found in (stepped_v(), metal_dome()))
    assert all(words in v for words in ("coil Ø 44 mm", "outer edge Ø 58.6 mm", "inner edge Ø 24.6 mm"))
    assert all(words in dome for words in ("coil Ø 25 mm", "outer edge Ø 29 mm", "depth 6 mm"))
