"""The figures of a study's morning: readable axes, names and numbers, whole intervals, honest words."""

from itertools import combinations

import numpy as np
import pytest
from filled_studies import filled
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from report_cases import sheet

from diaphragm_fem.report.sheets import variance
from diaphragm_fem.report.sheets.callouts import crowds, number_points
from diaphragm_fem.report.sheets.listing import OF_A_MORNING
from diaphragm_fem.report.sheets.style import drawing_style, log_ticks
from diaphragm_fem.study.morning import morning

FILMS = ["PET film", "PEN film", "PEI film", "PEEK film", "polyimide film", "aluminium alloy"]
MATERIAL = f'[vary.film]\nkey = "plate.material"\nlist = {FILMS}\n'.replace("'", '"')
THICKNESS = '[vary.thickness]\nkey = "plate.thickness"\nlog_range = ["25 um", "100 um"]\ncount = {}\n'
TREAD = '[vary.tread]\nkey = "plate.steps[0].tread"\nrange = ["1 mm", "2 mm"]\ncount = {}\n'
HEAD = '[study]\nbase = "base.toml"\n'
GRID = '[plan]\nhow = "grid"\n'


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)  # stores of results go there


def drawn(page) -> Figure:
    page.figure.canvas.draw()
    for (a, first), (b, second) in combinations([(t.get_text(), t.get_window_extent()) for t in page.figure.texts], 2):
        assert not first.overlaps(second), f"'{a}' meets '{b}'"
    return page.figure


def by_film(film, thickness):
    place = FILMS.index(film)
    return {"x_hz": 1000 + 100 * place + thickness, "y_hz": 50 + thickness**2, "moving_mass_kg": 1e-3 * (place + 1)}


@pytest.fixture
def films(tmp_path):
    return morning(filled(tmp_path, HEAD + MATERIAL + THICKNESS.format(40), by_film, GRID))


@pytest.mark.parametrize(
    ("treads", "thicknesses", "words"),
    [(3, 4, "at one level"), (20, 20, "in one bin"), (3, 20, "at one level or in one bin")],
)
def test_effects_say_whether_cases_are_taken_together_by_level_or_bin(tmp_path, treads, thicknesses, words) -> None:
    text = HEAD + TREAD.format(treads) + THICKNESS.format(thicknesses)
    found = morning(filled(tmp_path, text, lambda tread, thickness: {"x_hz": tread * thickness}, GRID))
    figure = drawn(sheet(OF_A_MORNING, "effects", found))
    assert f"means {words}; bars: two standard errors" in [text.get_text() for text in figure.texts]
    labels = [axes.get_xlabel() for axes in figure.axes]
    assert ["bins)" in label for label in labels] == [treads > 12, thicknesses > 12]


def test_levels_bear_their_whole_names_where_there_is_room(films) -> None:
    axes = drawn(sheet(OF_A_MORNING, "effects", films)).axes
    named = next(a for a in axes if "PET film" in [label.get_text() for label in a.get_xticklabels()])
    assert [label.get_text().replace("\n", " ") for label in named.get_xticklabels()] == FILMS
    boxes = [label.get_window_extent() for label in named.get_xticklabels()]
    assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))


def test_a_short_logarithmic_axis_has_three_numbers_at_least(films) -> None:
    axes = drawn(sheet(OF_A_MORNING, "effects", films)).axes
    (thickness,) = [a for a in axes if a.get_xlabel().startswith("thickness")]
    low, high = thickness.get_xlim()
    assert sum(low <= tick <= high for tick in thickness.get_xticks()) >= 3


@pytest.mark.parametrize("ratio", [1.01, 1.3, 2, 3, 4, 10, 30, 100, 1e3, 1e4, 1e6])
@pytest.mark.parametrize("low", [0.7, 2.2, 18.7, 95.0])
@pytest.mark.parametrize("most", [5, 8])
def test_logarithmic_axes_of_any_length_bear_a_handful_of_numbers(low, ratio, most) -> None:
    axes = Figure().add_subplot(xscale="log", xlim=(low, low * ratio))
    log_ticks(axes.xaxis, *axes.get_xlim(), most=most)
    ticks = axes.get_xticks()
    assert 3 <= len(ticks) <= most and np.all((ticks >= low * 0.999) & (ticks <= low * ratio * 1.001))
    texts = axes.xaxis.get_major_formatter().format_ticks(ticks)
    assert len(set(texts)) == len(texts)


MARKS = {
    "in a row": np.linspace([0.30, 0.5], [0.34, 0.52], 5),
    "in a column": np.linspace([0.5, 0.40], [0.505, 0.60], 9),
    "in a corner": 1 + 0.02 * np.random.default_rng(3).normal(size=(8, 2)),
    "far apart": np.random.default_rng(4).random((10, 2)),
    "alone": np.array([[0.5, 0.5]]),
}


@pytest.mark.parametrize("marks", MARKS.values(), ids=MARKS)
def test_numbers_of_the_best_never_meet_each_other_or_a_mark(marks) -> None:
    with drawing_style():
        figure = Figure(figsize=(7.5, 6.3), dpi=150)
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        cloud = np.random.default_rng(5).random((300, 2))
        axes.plot(*cloud.T, "o", ms=3)
        axes.plot(*marks.T, "D", ms=6.5)
        axes.margins(0.05)
        axes.autoscale_view()
        number_points(axes, marks, cloud, "red")
        figure.canvas.draw()
    assert sorted(int(text.get_text()) for text in axes.texts) == list(range(1, len(marks) + 1))
    boxes = [text.get_window_extent() if text.arrow_patch is None else _words_alone(text) for text in axes.texts]
    assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))
    pixels = axes.transData.transform(marks)
    assert not any(box.contains(*spot) for box in boxes for spot in pixels)
    panel = axes.get_window_extent()
    assert all(panel.x0 <= box.x0 and box.x1 <= panel.x1 and panel.y0 <= box.y0 and box.y1 <= panel.y1 for box in boxes)


def _words_alone(annotation):
    from matplotlib.text import Text

    return Text.get_window_extent(annotation)


def test_marks_make_a_crowd_through_chains_of_neighbours() -> None:
    spots = np.array([[0.0, 0], [40, 0], [10, 0], [20, 1], [100, 100]])
    assert crowds(spots) == [[0, 2, 3], [1], [4]]


def test_shares_of_variance_fill_their_sheet(films) -> None:
    figure = drawn(sheet(OF_A_MORNING, "variance", films))
    boxes = [axes.get_position() for axes in figure.axes]
    assert len(boxes) == 3
    assert min(box.y0 for box in boxes) < 0.3 and max(box.y1 for box in boxes) > 0.85
    assert max(box.x1 for box in boxes) > 0.8


def test_no_interval_of_a_sobol_index_is_cut(tmp_path) -> None:
    text = HEAD + "".join(
        f'[vary.{name}]\nkey = "{key}"\nuniform = {{ low = "-3 mm", high = "3 mm" }}\n'
        for name, key in (("a", "plate.thickness"), ("b", "plate.steps[0].tread"), ("c", "plate.steps[1].tread"))
    )
    plan = '[plan]\nhow = "sensitivity"\ncases = 200\n'  # few: wide intervals
    found = morning(filled(tmp_path, text, lambda a, b, c: {"x_hz": a * b * c, "y_hz": a + b * c}, plan))
    assert max(index.total + index.total_error for index in found.indices) > 1.05
    for axes in drawn(sheet(OF_A_MORNING, "variance", found)).axes:
        ends = [segment[:, 0].max() for bar in axes.containers for lines in _intervals(bar) for segment in lines]
        assert ends and max(ends) < axes.get_xlim()[1]


def _intervals(container):
    return [lines.get_segments() for lines in container[2]] if type(container).__name__ == "ErrorbarContainer" else []


@pytest.mark.parametrize("figures", range(1, 7))
@pytest.mark.parametrize("variables", [1, 2, 5, 12])
def test_bars_grow_no_thinner_than_a_single_row_of_panels_would_have_them(figures, variables) -> None:
    across = variance.panels_across(figures, variables)
    assert 1 <= across <= figures and (variables > 2 or figures > 4 or across == 1)
