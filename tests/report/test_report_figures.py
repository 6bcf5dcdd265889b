"""The figures hold what the numbers say: axes with units, one legend, marks at the figures, no overlap."""

from functools import cache
from itertools import combinations

import numpy as np
import pytest
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_hex, to_rgb
from report_cases import metal_dome, sheet, stepped_v, undriven_disc
from scipy.sparse import csr_matrix, identity

from diaphragm_fem.design.zone import Role, Zone
from diaphragm_fem.model.structure import Surface
from diaphragm_fem.report.sheets import area as area_sheets
from diaphragm_fem.report.sheets import modes as mode_sheets
from diaphragm_fem.report.sheets import style
from diaphragm_fem.report.sheets.listing import OF_A_DESIGN, of_an_order
from diaphragm_fem.report.sheets.sheet import blank_sheet, draw_sheet, save_sheet
from diaphragm_fem.report.words import show_hz


def texts(figure) -> list[str]:
    """Every text of a figure, axes and legends included, that is not empty."""
    from matplotlib.text import Text

    return [text.get_text() for text in figure.findobj(Text) if text.get_text().strip()]


def boxes(figure) -> list:
    """Bounding boxes in pixels of texts set on the page itself."""
    renderer = figure.canvas.get_renderer()
    return [(text.get_text(), text.get_window_extent(renderer)) for text in figure.texts if text.get_text().strip()]


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
    "higher shapes": lambda: sheet(OF_A_DESIGN, "modes_higher", stepped_v()),
    "spectrum": lambda: sheet(OF_A_DESIGN, "modes_by_order", stepped_v()),
    "shapes without drive": lambda: draw_sheet(of_an_order(1), undriven_disc()),
}


@cache
def drawn(name: str):
    """The figure of a sheet, drawn once, so that everything on it knows its place."""
    figure = SHEETS[name]().figure
    figure.canvas.draw()
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


def test_the_legend_names_a_phase_only_where_one_is_drawn() -> None:
    for name in ("area", "area of a dome", "summary", "summary of a dome"):
        figure = drawn(name)
        named = [text.get_text() for legend in figure.legends for text in legend.get_texts()]
        phases = [axes for axes in figure.axes if "phase" in axes.get_ylabel()]
        assert any("effective area |S|" in words for words in named)
        assert any("phase" in words for words in named) == bool(phases)


@pytest.mark.parametrize("name", SHEETS)
def test_sheet_names_subject_design_and_program(name: str) -> None:
    found = " ".join(texts(drawn(name)))
    assert "diaphragm_fem" in found
    assert any(evaluation().design.name in found for evaluation in (stepped_v, metal_dome, undriven_disc))


def test_profile_is_to_scale_in_both_directions_and_says_which() -> None:
    page = sheet(OF_A_DESIGN, "profile", stepped_v())
    axes = page.figure.axes[0]
    place = axes.get_position()
    across = place.width * page.width / np.ptp(axes.get_xlim())
    up = place.height * page.height / np.ptp(axes.get_ylim())
    assert across == pytest.approx(up, rel=1e-9)
    assert f"section at {across:g}:1 on A4; z points to the listener" in texts(page.figure)
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("radius r, mm", "height z, mm")
    assert page.figure.axes[1].get_ylabel() == "wall thickness, µm"


def test_profile_draws_every_piece_at_its_thickness_and_every_node() -> None:
    evaluation = stepped_v()
    axes = sheet(OF_A_DESIGN, "profile", evaluation).figure.axes[0]
    polygons = [c for c in axes.collections if isinstance(c, PolyCollection) and c.get_hatch() is None]
    pieces = (*evaluation.design.meridian, *evaluation.design.former)
    assert len(polygons[0].get_paths()) == len(pieces)
    first = polygons[0].get_paths()[0].vertices
    gap = np.linalg.norm(first[0] - first[-2])  # begin of one face against begin of the other; the last point closes
    assert 1e-3 * gap == pytest.approx(float(pieces[0].wall.thickness(0.0)), rel=1e-9)
    ticks = next(c for c in axes.collections if c.get_label() == "mesh node")
    assert len(ticks.get_segments()) == sum(len(s) for s in evaluation.mesh.stations)


def test_profile_table_names_every_zone_with_material_mark_and_area() -> None:
    evaluation = stepped_v()
    found = texts(sheet(OF_A_DESIGN, "profile", evaluation).figure)
    for zone in evaluation.design.zones:
        assert zone.name in found
    layer = next(p for p in evaluation.design.meridian if p.zone.role is Role.STEP).wall.layers[0]
    assert f"{layer.material.name}*, {1e6 * layer.begin_thickness:.4g} µm" in found  # * marks an unpublished number
    assert any("no published source" in words for words in found)


def test_area_sheet_draws_the_curve_itself() -> None:
    evaluation = stepped_v()
    magnitude, phase, share = sheet(OF_A_DESIGN, "area", evaluation).figure.axes
    curve = next(line for line in magnitude.lines if len(line.get_xdata()) == 400 and line.get_linewidth() == 1.7)
    np.testing.assert_allclose(curve.get_ydata(), 1e4 * np.abs(evaluation.area.total))
    assert (magnitude.get_ylabel(), phase.get_ylabel()) == ("area, cm²", "phase, degrees")
    assert share.get_xlabel() == "frequency, Hz"
    thick = [line for line in share.lines if line.get_linewidth() == 1.4]
    assert len(thick) == sum(zone.radiates for zone in evaluation.area.zones)
    assert np.nanmax(np.abs(phase.lines[0].get_ydata())) <= 180


def test_area_sheet_marks_the_figures() -> None:
    evaluation = stepped_v()
    figure = sheet(OF_A_DESIGN, "area", evaluation).figure
    figures = evaluation.figures
    expected = {
        "resonance": figures.fundamental_hz, "decoupling": figures.decoupling_hz, "handed over": figures.handed_over_hz,
        "departure": figures.departure_hz, "break-up mode": figures.break_up_mode_hz,
    }  # fmt: skip
    assert {mark.name: mark.frequency_hz for mark in area_sheets.marks_of(figures)} == pytest.approx(expected)
    for axes in figure.axes:
        upright = [float(line.get_xdata()[0]) for line in axes.lines if len(set(line.get_xdata())) == 1]
        assert sorted(upright) == pytest.approx(sorted(expected.values()))
    found = texts(figure)
    for name, frequency in expected.items():
        assert f"{name} {show_hz(frequency)}" in found


def test_names_of_marks_never_meet() -> None:
    figure = blank_sheet().figure
    axes = figure.add_axes((0.1, 0.2, 0.6, 0.5))
    style.frequency_axis(axes, 20.0, 20e3)
    marks = [area_sheets.Mark(f"mark {k}", f, style.INK) for k, f in enumerate((900.0, 1000.0, 1100.0, 1200.0, 19e3))]
    area_sheets.draw_marks(axes, marks, 0.6 * 297)
    figure.canvas.draw()
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


def test_shapes_sheet_has_a_panel_per_mode_with_its_frequency() -> None:
    evaluation = stepped_v()
    figure = sheet(OF_A_DESIGN, "modes_m0", evaluation).figure
    count = min(12, len(evaluation.modes[0]))
    assert len(figure.axes) == count
    found = texts(figure)
    for k in range(count):
        assert f"{k + 1}   {show_hz(evaluation.modes[0].frequency_hz[k])}" in found


def test_higher_orders_sheet_gives_each_order_a_row() -> None:
    evaluation = stepped_v()
    found = texts(sheet(OF_A_DESIGN, "modes_higher", evaluation).figure)
    for m in (1, 2):
        assert f"m = {m}   1   {show_hz(evaluation.modes[m].frequency_hz[0])}" in found


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
    assert {to_hex(handle.get_color()) for handle in figure.legends[0].legend_handles} == bars


def test_spectrum_names_departure_clear_of_the_modes() -> None:
    figure = drawn("spectrum")
    axes = figure.axes[0]
    spots = {text.get_text(): text.get_window_extent() for text in axes.texts}
    mark = spots.pop(f"departure\n{show_hz(stepped_v().figures.departure_hz)}")
    assert mark.x0 > axes.bbox.x1 and mark.x1 < figure.bbox.x1
    assert not any(mark.overlaps(spot) for spot in spots.values())
    assert not any(a.overlaps(b) for a, b in combinations(spots.values(), 2))


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


# Simulated colour vision, full severity, on linear RGB: Machado, Oliveira and Fernandes, IEEE Trans. Vis. Comput.
# Graph. 15 (2009) 1291, table of matrices; values from memory.
VISION = {
    "usual": np.eye(3),
    "no red cones": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no green cones": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
}


@pytest.mark.parametrize("vision", VISION)
def test_role_colours_stay_apart_for_every_colour_vision(vision: str) -> None:
    def seen(colour: str) -> np.ndarray:
        srgb = np.array(to_rgb(colour))
        linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
        return np.asarray(VISION[vision]) @ linear

    for a, b in combinations(style.ROLE_COLOURS.values(), 2):
        # lightness Y^(1/3) or hue must differ: 0.1 in cube-root RGB is about ten times the smallest visible step
        assert np.linalg.norm(np.cbrt(np.clip(seen(a), 0, 1)) - np.cbrt(np.clip(seen(b), 0, 1))) > 0.1, (a, b)


def test_inner_zones_are_dashed_only_beside_outer_ones() -> None:
    inner, outer = Zone("inner step", Role.STEP, "inner", 1), Zone("outer step", Role.STEP, "outer", 1)
    assert style.zone_dashes([inner, outer]) == {inner: style.DASHED, outer: style.SOLID}
    assert style.zone_dashes([inner]) == {inner: style.SOLID}


def test_zones_without_a_role_each_get_a_colour() -> None:
    zones = [Zone(f"zone {k}") for k in range(5)]
    assert len(set(style.zone_colours(zones).values())) == 5


def test_sheets_are_saved_alike_twice(tmp_path) -> None:
    for name in ("a.png", "b.png"):
        save_sheet(sheet(OF_A_DESIGN, "modes_by_order", undriven_disc()), tmp_path / name)
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_the_look_does_not_depend_on_the_callers_settings(tmp_path) -> None:
    from matplotlib import rc_context

    with rc_context({"font.size": 30, "axes.grid": False, "lines.linewidth": 9}):
        save_sheet(sheet(OF_A_DESIGN, "modes_by_order", undriven_disc()), tmp_path / "a.png")
    save_sheet(sheet(OF_A_DESIGN, "modes_by_order", undriven_disc()), tmp_path / "b.png")
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
