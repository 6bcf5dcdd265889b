"""The figures of a study's morning: readable axes, names and numbers, whole intervals, honest words."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from filled_studies import filled
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from report_cases import sheet
from study_standin import STANDIN

from diaphragm_fem.analysis.figures.thresholds import Threshold
from diaphragm_fem.report.sheets.best_designs import ALIKE
from diaphragm_fem.report.sheets.callouts import crowds, number_points
from diaphragm_fem.report.sheets.listing import sheets_for
from diaphragm_fem.report.sheets.listing_of_many import OF_A_MORNING
from diaphragm_fem.report.sheets.style import drawing_style, log_ticks
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.study.morning import morning
from diaphragm_fem.study.morning.scatter import Band

pytestmark = pytest.mark.usefixtures("own_folder")

FILMS = ["PET film", "PEN film", "PEI film", "PEEK film", "polyimide film", "aluminium alloy"]
MATERIAL = f'[vary.film]\nkey = "plate.material"\nlist = {FILMS}\n'.replace("'", '"')
THICKNESS = '[vary.thickness]\nkey = "plate.thickness"\nlog_range = ["25 um", "100 um"]\ncount = {}\n'
TREAD = '[vary.tread]\nkey = "plate.steps[0].tread"\nrange = ["1 mm", "2 mm"]\ncount = {}\n'
HEAD = '[study]\nbase = "base.toml"\n'
GRID = '[plan]\nhow = "grid"\n'


def drawn(page) -> Figure:
    page.figure.draw_without_rendering()
    for (a, first), (b, second) in combinations([(t.get_text(), t.get_window_extent()) for t in page.figure.texts], 2):
        assert not first.overlaps(second), f"'{a}' meets '{b}'"
    return page.figure


def by_film(film, thickness):
    place = FILMS.index(film)
    return {"x_hz": 1000 + 100 * place + thickness, "y_hz": 50 + thickness**2, "moving_mass_kg": 1e-3 * (place + 1)}


def shared(folders, text, figures_of, plan="", **how):
    """The morning of a study that several tests look at."""
    folder = folders.mktemp("study")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)  # where its store goes
        return morning(filled(folder, text, figures_of, plan), **how)


@pytest.fixture(scope="module")
def films(tmp_path_factory):
    return shared(tmp_path_factory, HEAD + MATERIAL + THICKNESS.format(40), by_film, GRID)


@pytest.mark.parametrize(
    ("treads", "thicknesses", "words"),
    [(3, 4, "at one level"), (20, 20, "in one bin"), (3, 20, "at one level or in one bin")],
)
def test_effects_say_whether_cases_are_taken_together_by_level_or_bin(tmp_path, treads, thicknesses, words) -> None:
    text = HEAD + TREAD.format(treads) + THICKNESS.format(thicknesses)
    found = morning(filled(tmp_path, text, lambda tread, thickness: {"x_hz": tread * thickness}, GRID))
    figure = drawn(sheet(OF_A_MORNING, "what_matters", found))
    assert any(f"means {words}" in text.get_text() for text in figure.texts)
    labels = [axes.get_xlabel() for axes in figure.axes if not axes.get_title(loc="left")]
    assert {label.split(",")[0]: "bins)" in label for label in labels} == {
        "tread": treads > 12, "thickness": thicknesses > 12,
    }  # fmt: skip


def test_levels_bear_their_whole_names_where_there_is_room(tmp_path) -> None:
    found = morning(filled(tmp_path, HEAD + MATERIAL, lambda film: {"x_hz": 100 + FILMS.index(film)}, GRID))
    axes = drawn(sheet(OF_A_MORNING, "what_matters", found)).axes
    named = next(a for a in axes if "PET film" in [label.get_text() for label in a.get_xticklabels()])
    assert [label.get_text().replace("\n", " ") for label in named.get_xticklabels()] == FILMS
    boxes = [label.get_window_extent() for label in named.get_xticklabels()]
    assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))


def test_a_short_logarithmic_axis_has_three_numbers_at_least(films) -> None:
    axes = drawn(sheet(OF_A_MORNING, "what_matters", films)).axes
    (thickness,) = [a for a in axes if a.get_xlabel().startswith("thickness")]
    low, high = thickness.get_xlim()
    assert sum(low <= tick <= high for tick in thickness.get_xticks()) >= 3


@pytest.mark.parametrize("ratio", [1.01, 1.3, 2, 3, 4, 10, 30, 100, 1e3, 1e4, 1e6])
@pytest.mark.parametrize("low", [8e-6, 0.7, 2.2, 18.7, 95.0])
@pytest.mark.parametrize("most", [5, 8])
def test_logarithmic_axes_of_any_length_bear_a_handful_of_numbers(low, ratio, most) -> None:
    axes = Figure().add_subplot(xscale="log", xlim=(low, low * ratio))
    log_ticks(axes.xaxis, *axes.get_xlim(), most=most)
    ticks = axes.get_xticks()
    assert 3 <= len(ticks) <= most and np.all((ticks >= low * 0.999) & (ticks <= low * ratio * 1.001))
    texts = axes.xaxis.get_major_formatter().format_ticks(ticks)
    assert len(set(texts)) == len(texts) and not any("e" in words for words in texts)


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
        figure.draw_without_rendering()
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


def test_shares_and_means_of_a_figure_stand_in_one_row(films) -> None:
    figure = drawn(sheet(OF_A_MORNING, "what_matters", films))
    rows = {}
    for axes in figure.axes:
        rows.setdefault(round(axes.get_position().y0, 6), []).append(axes)
    assert len(rows) == len(films.figures) == 3 and all(len(row) == 3 for row in rows.values())  # bars, film, thickness
    for row, name in zip(rows.values(), films.figures, strict=True):
        assert row[0].get_title(loc="left") == naming(name).words and naming(name).label in row[1].get_ylabel()
    boxes = [axes.get_position() for axes in figure.axes]
    assert min(box.y0 for box in boxes) < 0.3 and max(box.y1 for box in boxes) > 0.85


def test_an_axis_is_alike_in_every_row(tmp_path) -> None:
    """Only the lowest bears numbers. A figure that thin walls lack has its means elsewhere."""
    text = HEAD + TREAD.format(30) + THICKNESS.format(30)

    def figures(tread: float, thickness: float) -> dict[str, float]:
        return {"x_hz": tread * thickness} | ({"y_hz": tread} if thickness > 50 else {})

    found = morning(filled(tmp_path, text, figures, GRID))
    panels = [axes for axes in drawn(sheet(OF_A_MORNING, "what_matters", found)).axes if not axes.get_title(loc="left")]
    columns = {round(axes.get_position().x0, 6) for axes in panels}
    for left in columns:
        limits = {axes.get_xlim() for axes in panels if round(axes.get_position().x0, 6) == left}
        assert len(limits) == 1
    assert len(panels) == 2 * len(columns) == 4


def test_the_variables_that_matter_most_are_drawn_and_all_have_bars(tmp_path) -> None:
    text = HEAD + "".join(
        f'[vary.v{k}]\nkey = "plate.{key}"\nrange = ["1 mm", "2 mm"]\n'
        for k, key in enumerate(
            ["thickness", "steps[0].tread", "steps[0].distance", "steps[1].tread", "steps[1].distance"]
        )
    )
    plan = '[plan]\nhow = "sobol"\ncases = 256\n'
    found = morning(filled(tmp_path, text, lambda *v: {"x_hz": v[0] + 2 * v[1] + 3 * v[2] + 4 * v[3] + 5 * v[4]}, plan))
    bars, *effects = drawn(sheet(OF_A_MORNING, "what_matters", found)).axes
    assert [label.get_text() for label in bars.get_yticklabels()] == ["v4", "v3", "v2", "v1", "v0"]
    assert [axes.get_xlabel().split(",")[0] for axes in effects] == ["v4", "v3", "v2", "v1"]


def test_titles_of_axes_side_by_side_do_not_meet(tmp_path) -> None:
    text = HEAD + "".join(
        f'[vary.{name}_of_the_outer_surround]\nkey = "plate.{key}"\nrange = ["1 mm", "2 mm"]\ncount = 3\n'
        for name, key in (
            ("thickness", "thickness"), ("tread", "steps[0].tread"), ("distance", "steps[0].distance"),
            ("longest_distance", "steps[1].distance"),
        )
    )  # fmt: skip
    figures = ["fundamental_hz", "moving_mass_kg", "handed_over_hz", "break_up_mode_hz", "held_volume_m3", "x_hz"]
    wish = "[morning]\nwish = [" + ", ".join(f'{{ figure = "{name}", aim = "low" }}' for name in figures) + "]\n"
    told = dict.fromkeys(figures[1:], 1.0)
    study = filled(tmp_path, text, lambda *v: {"fundamental_hz": v[0] + v[1] * v[2] + v[3], **told}, GRID + wish)
    found = morning(study, evaluator=STANDIN)
    for name in ("what_matters", "around_winner"):
        axes = drawn(sheet(OF_A_MORNING, name, found)).axes
        assert len(axes) > 3
        titles = [label for one in axes for label in (one.xaxis.label, one.yaxis.label) if label.get_text()]
        boxes = [label.get_window_extent() for label in titles]
        assert name != "what_matters" or any("\n" in label.get_text() for label in titles)
        assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))
        numbers = [tick.get_window_extent() for one in axes for tick in one.get_yticklabels() if tick.get_text()]
        assert not any(a.overlaps(b) for a in boxes for b in numbers)


def test_names_under_an_upper_panel_stay_above_the_lower_one_and_captions_tell_the_best_apart(tmp_path) -> None:
    """"thermoplastic elastomer" ran behind the panel below; ranks 3 to 5 differed in the fourth thing alone."""
    films = MATERIAL.replace("aluminium alloy", "thermoplastic elastomer")
    more = '[vary.distance]\nkey = "plate.steps[0].distance"\nrange = ["1 mm", "2 mm"]\ncount = 5\n'
    text = HEAD + films + THICKNESS.format(3) + TREAD.format(3) + more
    wish = '[morning]\nwish = [{ figure = "x_hz", aim = "low" }]\n'

    def figures(film, thickness, tread, away):  # the five best differ in their distance alone
        return {"x_hz": 1 + (film != FILMS[0]) + 1e6 * thickness + 1e5 * tread + away}

    found = morning(filled(tmp_path, text, figures, GRID + wish), evaluator=STANDIN)
    axes = drawn(sheet(OF_A_MORNING, "around_winner", found)).axes
    names, below = axes[0], axes[3].get_window_extent()
    under = [*(tick.get_window_extent() for tick in names.get_xticklabels()), names.xaxis.label.get_window_extent()]
    assert len(under) == 7 and all(box.y0 > below.y1 for box in under)
    curves = {"frequency_hz": np.geomspace(20, 20e3, 9), "area_m2": np.ones(9)}
    best = tuple(replace(one, found=replace(one.found, curves=curves)) for one in found.best)
    figure = drawn(sheet(OF_A_MORNING, "best_designs", replace(found, best=best)))
    told = {text.get_text().replace("\u00a0", " ") for text in figure.texts}
    assert {f"distance {one.amounts['distance']}" for one in best} <= told and len(best) == 5


def test_no_interval_of_a_sobol_index_is_cut(tmp_path) -> None:
    text = HEAD + "".join(
        f'[vary.{name}]\nkey = "{key}"\nuniform = {{ low = "-3 mm", high = "3 mm" }}\n'
        for name, key in (("a", "plate.thickness"), ("b", "plate.steps[0].tread"), ("c", "plate.steps[1].tread"))
    )
    plan = '[plan]\nhow = "sensitivity"\ncases = 1000\n'  # few: wide intervals
    found = morning(filled(tmp_path, text, lambda a, b, c: {"x_hz": a * b * c, "y_hz": a + b * c}, plan))
    assert max(index.total + index.total_error for index in found.indices) > 1.05
    bars = [axes for axes in drawn(sheet(OF_A_MORNING, "what_matters", found)).axes if axes.get_title(loc="left")]
    assert len(bars) == 2
    for axes in bars:
        ends = [segment[:, 0].max() for bar in axes.containers for lines in _intervals(bar) for segment in lines]
        assert ends and max(ends) < axes.get_xlim()[1]


def _intervals(container):
    return [lines.get_segments() for lines in container[2]] if type(container).__name__ == "ErrorbarContainer" else []


RANKED = '[morning]\nwish = [{ figure = "fundamental_hz", aim = "low" }, { figure = "moving_mass_kg", aim = "low" }]\n'
TIED = '[vary.other]\nkey = "plate.steps[1].tread"\nratio = 0.5\nof = "tread"\n'


def told(tread, thickness, other=None):
    return {"fundamental_hz": 10 * thickness + 10 * tread, "moving_mass_kg": 2e-6 * thickness}


@pytest.fixture(scope="module")
def ranked(tmp_path_factory):
    return shared(
        tmp_path_factory, HEAD + TREAD.format(5) + THICKNESS.format(5) + TIED + RANKED, told, evaluator=STANDIN
    )


def test_the_base_design_is_marked_and_inputs_that_follow_are_told_on_every_sheet(ranked) -> None:
    """Of a stand-in of 262 Hz and 50 mg, 1.2 mm of tread and 25 um of wall."""
    drawn_sheets = {name: drawn(sheet(OF_A_MORNING, name, ranked)) for name in SHEETS}
    for name, figure in drawn_sheets.items():
        lines = [line for axes in figure.axes for line in axes.get_lines()]
        marked = [line for line in lines if line.get_marker() == "P" or line.get_label() == "base design"]
        texts = [text.get_text() for text in figure.texts]
        assert marked or "base design" in texts, name
        assert "Inputs that follow: other is 0.5 × tread." in texts, name
    (cross,) = [line for line in drawn_sheets["trade_off"].axes[0].get_lines() if line.get_marker() == "P"]
    assert (cross.get_xdata()[0], cross.get_ydata()[0]) == pytest.approx((262, 0.05))


SHEETS = ("best_designs", "trade_off", "what_matters", "around_winner")


def test_a_morning_draws_the_sheets_that_it_has_what_it_takes_for(ranked) -> None:
    assert tuple(listed.name for listed in sheets_for(OF_A_MORNING, ranked)) == SHEETS
    unranked = replace(ranked, ranking=None, best=(), neighbourhood=None)
    assert [listed.name for listed in sheets_for(OF_A_MORNING, unranked)] == ["what_matters"]


def test_the_winner_of_a_sampled_plan_has_no_neighbourhood_to_draw(tmp_path) -> None:
    text = HEAD + TREAD.format(5) + THICKNESS.format(5) + RANKED
    found = morning(filled(tmp_path, text, told, '[plan]\nhow = "sobol"\ncases = 64\n'), evaluator=STANDIN)
    assert "around_winner" not in [listed.name for listed in sheets_for(OF_A_MORNING, found)]
    assert found.neighbourhood is not None


def test_a_design_whose_place_hangs_on_a_threshold_is_ringed(ranked) -> None:
    near = Threshold("handed_over_hz", "outer flank beyond the wider step", 900.0, 0.28, 0.3, "")
    hanging = replace(ranked, near_misses=((near,), *ranked.near_misses[1:]))
    for found, rings in ((ranked, 0), (hanging, 1)):
        axes = drawn(sheet(OF_A_MORNING, "trade_off", found)).axes[0]
        assert sum(line.get_label() == "its place hangs on a threshold" for line in axes.get_lines()) == rings
    figure = drawn(sheet(OF_A_MORNING, "best_designs", hanging))
    texts = {text.get_text(): text.get_window_extent().x1 / figure.dpi * 25.4 for text in figure.texts}
    assert any(words.startswith("○ handed over above: outer flank") for words in texts)
    assert max(texts.values()) <= 287.5  # mm, where the frame ends: "at 6.17 kHz" stood beyond it


def test_what_was_solved_within_the_scatter_is_drawn(ranked) -> None:
    """A line from 40 to 50 um alone fell from 7.6 to 3.6 octaves through a scatter in which nothing changes."""
    around, name = ranked.neighbourhood, ranked.figures[0]
    solved = {"tread": [], "thickness": []}  # the third follows the tread, its scatter is none of its own
    for near in around.neighbours:
        solved.setdefault(near.variable, []).append(near.design.figure(name))
    del solved["other"]
    lines = [
        line
        for axes in drawn(sheet(OF_A_MORNING, "around_winner", ranked)).axes
        for line in axes.get_lines()
        if line.get_label() == "solved again within it"
    ]
    assert len(lines) == len(solved)
    for line, values in zip(lines, solved.values(), strict=True):
        assert sorted(line.get_ydata()) == pytest.approx(sorted([*values, ranked.best[0].figure(name)]))
        assert len(set(line.get_xdata())) == 3


def test_the_response_stands_over_the_area_each_against_its_own_plateau(ranked) -> None:
    frequency = np.geomspace(20, 20e3, 50)
    curves = {"frequency_hz": frequency, "area_m2": np.full(50, 1e-3), "response_m2_per_kg": np.full(50, 2.0 + 0j)}
    figures = {**ranked.best[0].found.figures, "area_per_mass_m2_per_kg": 1.0}
    best = replace(ranked.best[0], found=replace(ranked.best[0].found, curves=curves, figures=figures))
    upper, lower = drawn(sheet(OF_A_MORNING, "best_designs", replace(ranked, best=(best,)))).axes
    assert upper.get_lines()[-1].get_ydata() == pytest.approx(np.full(50, 20 * np.log10(2)))
    assert lower.get_lines()[-1].get_ydata() == pytest.approx(np.full(50, 10.0))
    assert lower.get_xlim()[0] == pytest.approx(figures["fundamental_hz"] / 3, rel=0.3)


def test_curves_that_nothing_varied_changes_say_so(ranked) -> None:
    """Of slots of a driver six designs had one line: their curves are those of the part in vacuum."""
    frequency = np.geomspace(20, 20e3, 50)

    def told(*areas):
        best = []
        for area in areas:
            curves = {"frequency_hz": frequency, "area_m2": np.full(50, area)}
            best.append(replace(ranked.best[0], found=replace(ranked.best[0].found, curves=curves)))
        base = replace(ranked.base, found=replace(ranked.base.found, curves={}))
        figure = drawn(sheet(OF_A_MORNING, "best_designs", replace(ranked, best=tuple(best), base=base)))
        return [text.get_text() for text in figure.axes[0].texts]

    assert ALIKE in told(1e-3, 1e-3) and ALIKE not in told(1e-3, 1.1e-3) + told(1e-3)


def test_micrometres_are_printed_so_and_names_that_hold_um_stay(ranked) -> None:
    """Every "um" was taken for a unit: a sheet said "alµminiµm alloy"."""
    best = replace(ranked.best[0], amounts={"tread": "aluminium alloy", "thickness": "25 um"})
    texts = [
        text.get_text() for text in drawn(sheet(OF_A_MORNING, "best_designs", replace(ranked, best=(best,)))).texts
    ]
    assert {"tread aluminium alloy", "thickness 25\u00a0µm"} <= set(texts)  # held to its number


def test_a_wide_scatter_column_stays_above_the_histograms(tmp_path) -> None:
    text = HEAD + '[vary.t]\nkey = "plate.thickness"\nnormal = { deviation = "4 %" }\n'
    text += '[plan]\nhow = "sobol"\ncases = 32\n[morning.limits]\n'
    names = ("fundamental_hz", "moving_mass_kg", "stiffness_n_per_m", "low_area_m2")
    text += "".join(f"{name} = {{ below = 260 }}\n" for name in names)
    found = morning(filled(tmp_path, text, lambda t: {name: 10 * t for name in names}), evaluator=STANDIN)
    band = Band("area_m2", np.geomspace(20, 20e3, 20), np.ones((3, 20)), 32)
    found = replace(found, bands=(band,), halved=tuple(replace(found.halved[0], variable=f"v{k}") for k in range(30)))
    figure = drawn(sheet(OF_A_MORNING, "scatter", found))
    labels = figure.axes[0].get_legend_handles_labels()[1]  # peaks that wander smear: no part is as even as its median
    assert labels == ["5 to 95 % of parts at each frequency", "their median there, no part's own curve", "base design"]
    top = max(axes.get_position().y1 for axes in figure.axes[1:])
    rows = [text for text in figure.texts if text.get_text().startswith("v") and text.get_position()[0] > 0.7]
    assert 5 < len(rows) < 30 and min(text.get_position()[1] for text in rows) > top
