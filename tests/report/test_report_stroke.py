"""Sheets, page and tables of a design at large stroke: what is shown is what was found."""

import csv
from dataclasses import replace
from functools import cache
from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest
from places import STUDIES
from report_cases import stepped_v

from diaphragm_fem.answer.change.levers import Lever, levers
from diaphragm_fem.answer.change.sensitivity import Sensitivity
from diaphragm_fem.answer.stroke.distortion import Distortion
from diaphragm_fem.answer.stroke.far_steps import FarStep, far_steps, harmonics, met_at
from diaphragm_fem.answer.stroke.limits import Limit
from diaphragm_fem.answer.stroke.opinion import StrokeOpinion, StrokeOpinionRow
from diaphragm_fem.answer.stroke.stability import Rocking
from diaphragm_fem.answer.stroke.stroke import evaluate_stroke
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.design.stroke_plan import plan_stroke
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.report.blocks.blocks import Notices, Table, said_in
from diaphragm_fem.report.contents.stroke import (
    NO_ALLOWABLE,
    _distortion_table,
    _opinion_table,
    area_slope,
    bounds,
    brief_stroke_blocks,
    drive_level,
    left_out,
    show_stroke,
    stroke_blocks,
    verdict,
)
from diaphragm_fem.report.files.meaning import column_words
from diaphragm_fem.report.files.stroke import TABLES, distortion_columns, opinion_columns, stroke_mapping
from diaphragm_fem.report.page.design import write_design_page
from diaphragm_fem.report.results.stroke import write_stroke_tables
from diaphragm_fem.report.sheets.listing import sheets_for
from diaphragm_fem.report.sheets.listing_of_strokes import OF_A_STROKE
from diaphragm_fem.report.sheets.sheet import draw_sheet
from diaphragm_fem.report.sheets.stroke_wall import bent_lines
from diaphragm_fem.report.words.words import digits, show_area, show_share

FULL = {
    "stroke.steps": 8,
    "stroke.mode_states": 3,
    "stroke.modes_up_to": "1 kHz",
    'stroke.allowable."firm elastomer".strain': "1.5 %",
    "stroke.drive": {"motion": "0.3 mm", "frequency": ["80 Hz", "400 Hz"]},
}
SNAPPING = {"stroke.rearmost": "-0.2 mm", "stroke.foremost": "3 mm", "stroke.steps": 16, "stroke.orders": []}


@cache
def answer_of(name):
    design, keys = {"full": ("stepped_v", FULL), "snapping": ("soft_dome", SNAPPING)}[name]
    file = read_design_file(STUDIES / f"{design}.toml", keys)
    return evaluate_stroke(file.design, plan_stroke(file.spec.stroke, file.design), up_to_hz=5e3)


@cache
def drawn(name):
    answer = answer_of(name)
    sheets = {listed.name: draw_sheet(listed, answer) for listed in sheets_for(OF_A_STROKE, answer)}
    for sheet in sheets.values():
        sheet.figure.draw_without_rendering()
    return sheets


def test_sheets_are_those_that_the_answer_gives():
    assert list(drawn("full")) == ["stroke", "stroke_section", "stroke_strain", "stroke_modes", "distortion"]
    assert list(drawn("snapping")) == ["stroke", "stroke_section", "stroke_strain"]


@pytest.mark.parametrize("name", ["full", "snapping"])
def test_text_stays_on_the_page_and_apart(name):
    for sheet in drawn(name).values():
        figure = sheet.figure
        renderer = figure.canvas.get_renderer()
        boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in figure.texts if t.get_text().strip()]
        for words, box in boxes:
            assert figure.bbox.x0 <= box.x0 and box.x1 <= figure.bbox.x1 and figure.bbox.y0 <= box.y0, words
        for (first, one), (second, other) in combinations(boxes, 2):
            assert not one.overlaps(other), (first, second)
        assert not [words for words, _ in boxes if words.endswith("…")]  # "upright: ends…"


@pytest.mark.parametrize("name", ["full", "snapping"])
def test_one_legend_at_most_clear_of_the_curves(name):
    for sheet in drawn(name).values():
        figure = sheet.figure
        assert len(figure.legends) + sum(axes.get_legend() is not None for axes in figure.axes) <= 1
        for legend in figure.legends:
            box = legend.get_window_extent()
            assert not any(box.overlaps(axes.get_window_extent()) for axes in figure.axes)
            assert box.x1 <= figure.bbox.x1 and box.y0 >= 15 / 210 * figure.bbox.y1


def test_curves_are_the_numbers():
    answer, figure = answer_of("full"), drawn("full")["stroke"].figure
    force, stiffness, area, volume = figure.axes
    for axes, values in (
        (force, answer.path.force),
        (stiffness, answer.path.stiffness / 1e3),
        (area, 1e4 * answer.path.total_area),
        (volume, 1e6 * answer.path.compliance_volume),
    ):
        np.testing.assert_allclose(axes.lines[1].get_xydata(), np.stack((1e3 * answer.path.stroke, values), axis=1))
        assert "mm" in axes.get_xlabel() or axes in (force, stiffness)
        assert "," in axes.get_ylabel()


def test_the_section_moves_by_the_stroke_at_the_coil_and_not_at_the_edge():
    answer = answer_of("full")
    last = len(answer.path.stroke) - 1
    lines, rest = bent_lines(answer, last), bent_lines(answer, answer.path.rest)
    wound = next(p for p, x in enumerate(answer.path.shell.model.mesh.pieces) if x.winding is not None)
    np.testing.assert_allclose((lines[wound] - rest[wound])[:, 1], answer.path.stroke[last], rtol=1e-3)
    outer = len(answer.design.meridian) - 1
    np.testing.assert_allclose(lines[outer][-1], rest[outer][-1], atol=1e-12)


def test_what_ends_the_stroke_is_lettered_in_the_force_and_told_beside_it():
    """Each limit that ends the stroke: a line at its strokes in every panel, its letter over it, its words beside."""
    for name in ("full", "snapping"):
        answer, figure = answer_of(name), drawn(name)["stroke"].figure
        ends = [limit for limit in answer.limits if limit.ends]
        strokes = sorted(1e3 * x for limit in ends for x in (limit.rear, limit.front) if x is not None)
        assert strokes
        for axes in figure.axes:
            marks = [line.get_xdata()[0] for line in axes.lines[3:] if len(set(line.get_xdata())) == 1]
            np.testing.assert_allclose(sorted(marks), strokes)
        letters = " ".join(text.get_text() for text in figure.axes[0].texts).split()
        assert len(letters) == len(strokes) and sorted(set(letters)) == list("abcdefgh"[: len(ends)])
        words = " ".join(t.get_text() for t in figure.texts)
        assert all(part in words for limit in ends for part in limit.what.split())


def test_no_line_of_the_grid_lies_beside_the_lower_axis():
    """It would look like one of the grey curves."""
    for axes in drawn("full")["stroke"].figure.axes:
        low, high = axes.get_ylim()
        least = min(line.get_ydata().min() for line in axes.lines[:2])
        assert not any(low < tick < min(least, low + 0.03 * (high - low)) for tick in axes.get_yticks())
        assert axes.get_ylim()[0] <= least


def test_modes_of_all_orders_stand_over_the_same_strokes():
    """An order that is not stable at some strokes, m = 2 at 3 mm, has no modes there and is seen so."""
    keys = {"stroke.rearmost": "-0.2 mm", "stroke.foremost": "3 mm", "stroke.steps": 16, "stroke.mode_states": 4}
    file = read_design_file(STUDIES / "soft_dome.toml", keys)
    answer = evaluate_stroke(file.design, plan_stroke(file.spec.stroke, file.design), up_to_hz=5e3)
    assert any(2 not in at.modes for at in answer.modes)
    panels = draw_sheet(next(x for x in OF_A_STROKE if x.name == "stroke_modes"), answer).figure.axes
    (spread,) = {axes.get_xlim() for axes in panels}
    assert spread[0] < -0.2 and 3.0 < spread[1] < 3.2


def test_membrane_strains_are_told_along_and_around():
    answer, figure = answer_of("full"), drawn("full")["stroke_strain"].figure
    membrane, mesh = figure.axes[1], answer.path.shell.model.mesh
    found = answer.strength.fibres_at(0)
    for values in (found.membrane_along, found.membrane_around):
        wanted = 100 * values[mesh.elements[0]].ravel()
        assert any(np.array_equal(line.get_ydata(), wanted) for line in membrane.lines)


def test_a_snap_is_marked_and_told():
    answer, figure = answer_of("snapping"), drawn("snapping")["stroke"].figure
    front = answer.snaps[1]
    assert front is not None
    marks = [line.get_xdata()[0] for line in figure.axes[0].lines if len(set(line.get_xdata())) == 1]
    assert any(abs(x - 1e3 * front) < 1e-9 for x in marks)
    words = " ".join(t.get_text() for t in figure.texts)
    assert "snaps at" in words and show_stroke(front) in words
    texts = [line for block in stroke_blocks(answer) if isinstance(block, Notices) for line in block.lines]
    assert any(text.startswith("the stiffness falls through zero") for text in texts)
    said = said_in(stroke_blocks(answer))
    assert NO_ALLOWABLE in said
    area, stroke = answer.path.total_area, answer.path.stroke
    ends = [f"{show_area(area[k])} at {show_stroke(stroke[k])}" for k in (np.argmin(area), np.argmax(area))]
    assert f"; over the stroke it runs between {ends[0]} and {ends[1]}." in said[2]
    assert any(text.startswith("Slow and elastic, in vacuum: no hysteresis") for text in said)
    assert said[0].startswith("Its stroke is bounded first by ")
    limits = next(x for x in stroke_blocks(answer) if isinstance(x, Table) and x.head[0] == "from here on")
    assert ("a snap", "none", show_stroke(front)) in [tuple(row) for row in limits.rows]
    free = stroke_blocks(replace(answer, limits=()))  # of which a heading and an empty table told
    assert not [x for x in free if isinstance(x, Table) and not x.rows]


def test_what_bounds_the_stroke_first_is_told_for_both_sides():
    """By how far it lies from rest, which an offset moves: here to +0.1 mm."""
    path = SimpleNamespace(stroke=1e-3 * np.array([-1.0, 0.1, 1.0]), rest=1)
    limits = [
        Limit("large strain", -0.5e-3, 0.4e-3),
        Limit("a snap", -0.2e-3, None),
        Limit("area changed by 10 %", -0.1e-3, 0.2e-3, ends=False),
    ]
    told = bounds(SimpleNamespace(limits=limits, path=path))
    assert told == "Its stroke is bounded first by a snap at −0.200 mm and by large strain at +0.400 mm."


def test_the_slope_of_the_area_is_told_in_percent_per_millimetre():
    """10 cm2 that grow by 0.2 cm2 a millimetre: 2 %."""
    assert area_slope(
        SimpleNamespace(path=SimpleNamespace(area_slope=0.2e-4 / 1e-3), rest_area=10e-4)
    ) == pytest.approx(2.0)


def test_the_second_opinion_of_a_stroke_is_told_row_by_row():
    rows = StrokeOpinionRow(-0.1e-3, -0.5, -0.52), StrokeOpinionRow(0.25e-3, 1.2344, 1.2)
    opinion = StrokeOpinion(rows, ())
    assert _opinion_table(opinion).rows == [
        ("−0.100 mm", "−0.5000 N", "−0.5200 N", "−3.846 %"), ("+0.250 mm", "1.234 N", "1.200 N", "+2.867 %"),
    ]  # fmt: skip
    columns = opinion_columns(SimpleNamespace(opinion=opinion))
    assert columns["stroke_m"] == [-0.1e-3, 0.25e-3] and columns["difference"][1] == pytest.approx(1.2344 / 1.2 - 1)
    assert (columns["shell_force_n"], columns["solid_force_n"]) == ([-0.5, 1.2344], [-0.52, 1.2])
    assert not opinion_columns(SimpleNamespace(opinion=None))


def test_harmonics_are_told_by_the_amplitudes_that_they_are():
    """Of motions of 1, 0.1 and 0.03 mm; of the acceleration of volumes of 10, 2 and 0.5 mm3 times 4 and 9."""
    small = np.zeros(5)
    found = Distortion(
        80.0, np.array([1e-3, 1e-4j, 3e-5, *small]), np.array([1e-8, 2e-9, 5e-10, *small]), -2.5e-6, 0.75
    )
    silent = Distortion(400.0, np.zeros(4), np.zeros(4), 0.0, 0.0, "no balance")
    answer = SimpleNamespace(distortion=(found, silent))
    first, last = _distortion_table(answer).rows
    assert first == ("80.0 Hz", "1.00 mm", "0.750 N", "−2.5 µm", "10 %", "3.0 %", "80 %", "45 %")
    assert last == ("400 Hz", *[""] * 7)
    columns = {name: values[0] for name, values in distortion_columns(answer).items()}
    for name, told in (("motion_m", 1e-3), ("drive_force_n", 0.75), ("mean_shift_m", -2.5e-6)):
        assert columns[name] == told
    for name, told in (("motion", (0.1, 0.03)), ("acceleration", (0.8, 0.45))):
        assert [columns[f"{name}_harmonic:{n}"] for n in (2, 3)] == pytest.approx(told)


def test_harmonics_too_small_to_be_drawn_are_told_so():
    """At a motion of 0.01 um nothing was left to draw, and `stroke` ended with a traceback."""
    only = np.zeros(8)
    only[0] = 1e-8
    answer = replace(answer_of("full"), distortion=(Distortion(400.0, only, only, 0.0, 1e-6),))
    (listed,) = (one for one in OF_A_STROKE if one.name == "distortion")
    texts = [text.get_text() for axes in draw_sheet(listed, answer).figure.axes for text in axes.texts]
    assert texts.count("all below 0.001 %") == 2


def test_a_metal_that_may_harm_is_told_at_large_stroke_too():
    answer = answer_of("snapping")
    walls = {answer.design.meridian[0].zone.name: WallChoice(load_materials()["beryllium"], 1.0)}
    dome = replace(answer, design=with_walls(answer.design, walls))
    told = [block.lines for block in stroke_blocks(dome) if isinstance(block, Notices) and block.lead == "Caution"]
    assert [line.split(":")[0] for lines in told for line in lines] == ["beryllium"]


def test_the_page_says_the_numbers_in_the_units_of_the_trade():
    tables = [block for block in stroke_blocks(answer_of("full")) if isinstance(block, Table)]
    path = tables[0]
    rest = next(row for row in path.rows if row[0] == "0 mm")
    stiffness = f"{digits(answer_of('full').rest_stiffness / 1e3)} N/mm"
    assert rest[1:4] == ("0 N", stiffness, "0 %")
    assert all(len(row) == len(table.head) for table in tables for row in table.rows)
    reached = next(table for table in tables if table.head[0] == "material")
    assert reached.rows[0][1] == "strain 1.5 %"
    answer = answer_of("full")
    state, worst = answer.path, answer.strength.reached[0].worst
    told = [float(cell.split(" ")[0].replace("−", "-")) for cell in path.rows[0]]
    numbers = [
        1e3 * state.stroke[0], state.force[0], state.stiffness[0] / 1e3,
        100 * (state.stiffness[0] / answer.rest_stiffness - 1), 1e4 * state.total_area[0],
        100 * (state.total_area[0] / answer.rest_area - 1), 1e6 * state.compliance_volume[0],
    ]  # fmt: skip
    assert told == pytest.approx(numbers, rel=0.05)
    assert reached.rows[0][2] == f"{worst.value / 0.015 * 100:.0f} %"
    assert f"r = {worst.place.r * 1e3:.2f} mm" in reached.rows[0][3]
    strains = next(table for table in tables if table.head[0] == "zone")
    for row, load in zip(strains.rows, answer.strength.most_stressed, strict=True):
        assert float(row[3].split(" ")[0]) == pytest.approx(load.value / 1e6, rel=0.05) and " MPa" in row[3]


def test_what_feeds_rocking_is_told_in_hertz_and_millimetres():
    answer = replace(answer_of("full"), rocking=Rocking(250.0, 0.1, 0.86e-3))
    told = "Driven near 500 Hz the stroke itself feeds rocking at 250 Hz from an amplitude of 0.86 mm on (an estimate)."
    assert told in verdict(answer)
    assert drive_level(answer) == "0.300 mm of motion"


def test_the_table_over_the_stroke_keeps_to_even_strokes():
    """Where a part snaps states are added: by their count rows crowded there, and strokes asked for were left out."""
    answer = answer_of("snapping")
    assert len(answer.path.stroke) > SNAPPING["stroke.steps"] + 1
    table = next(block for block in stroke_blocks(answer) if isinstance(block, Table))
    even = [-0.2e-3, 0.0, *(0.2e-3 + 0.4e-3 * k for k in range(8))]
    assert [row[0] for row in table.rows] == [show_stroke(stroke) for stroke in even]


def test_tables_are_written_in_full_and_explained(tmp_path):
    answer = answer_of("full")
    files = write_stroke_tables(answer, tmp_path)
    names = [path.name for path in files]
    tables = {f"{name}.csv" for name in TABLES if name not in ("stroke_second_opinion", "stroke_steps")}  # not asked
    assert set(names) == tables | {"stroke.md"}
    assert all(path.stat().st_size > 50 for path in files)
    with (tmp_path / "stroke.csv").open() as file:
        rows = list(csv.DictReader(file))
    np.testing.assert_array_equal([float(row["force_n"]) for row in rows], answer.path.force)
    by_zone = sum(float(rows[0][name]) for name in rows[0] if name.startswith("area_m2:"))
    assert by_zone == pytest.approx(float(rows[0]["area_m2"]))
    used = {name.split(":")[0] for make in TABLES.values() for name in make(answer)}
    assert used - set(column_words("stroke")) == {"label"}
    assert set(stroke_mapping(answer)["meaning"]) == used - {"label"}


def test_the_page_of_a_design_tells_of_its_large_stroke_too(tmp_path):
    """A table [stroke] was answered in sheets and a file of its own alone."""
    text = write_design_page(stepped_v(), tmp_path / "a.html", stroke=answer_of("full")).read_text()
    page = text.replace("\u00a0", " ")
    assert "<h2>Large stroke</h2>" in page and "the stiffness at the coil runs between" in page
    assert "Large stroke: Over the stroke" in page and "Large stroke: Largest strains" in page
    assert "Large stroke" not in write_design_page(stepped_v(), tmp_path / "b.html").read_text()
    told = [text.get_text() for text in drawn("full")["stroke"].figure.texts]
    assert "not met" in told and not any("none," in words or ", none" in words for words in told)


def test_what_of_a_motor_stays_as_at_rest_is_said():
    """A force factor over stroke changes on the way, an inductance never; without a motor there is none."""
    file = read_design_file(STUDIES / "driver_straight_v.toml")
    path = SimpleNamespace(shell=SimpleNamespace(model=SimpleNamespace(corrected=True)))
    design, chamber = file.design, replace(file.design.driver, motor=None)
    told = [
        left_out(SimpleNamespace(path=path, design=replace(design, driver=driver), plan=SimpleNamespace(motor=motor)))
        for driver in (design.driver, chamber) for motor in (None, "over stroke")
    ]  # fmt: skip
    assert ["the force factor the same at every stroke" in words for words in told] == [True, False] * 2
    assert ["inductance, chambers and air around as at rest" in words for words in told] == [True, True, False, False]


def step_of(key, taken_at=0.1):
    return Sensitivity(Lever(key, 1e-3, "length"), {}, taken_at)


def test_steps_of_advice_at_large_stroke_tell_what_they_move_by_a_tenth(tmp_path):
    """Of a dome four told steps took the amplitude that feeds its rocking from 0.59 to 0.098 mm, untold; later it stood
    on the screen alone."""
    answer = answer_of("full")
    ways, made = met_at(answer), harmonics(answer)
    own = FarStep(step_of("wall.thickness", -0.1), ways, made)
    known = {what: way for what, way in ways.items() if way is not None}
    met, other, *_ = known
    harmonic, share = next((name, share) for name, share in made.items() if share > 0.01)
    moved = {**ways, met: None, other: 1.2 * known[other]}
    far = FarStep(step_of("profile.inner.width"), moved, {**made, harmonic: 0.8 * share})
    gone = FarStep(step_of("profile.inner.rise"), {}, {}, "no state of rest")

    def told(*tried, of=answer):
        return said_in(brief_stroke_blocks(replace(of, tried=tried)))[-1]

    tried = replace(answer, tried=(own, far, gone))
    words = told(own, far, gone)
    at = [f"at {digits(1e3 * way)} mm" for way in (known[met], 1.2 * known[other], known[other])]
    assert f"+10 % of inner flank width: {met} not met ({at[0]}), {other} {at[1]} ({at[2]}), " in words
    assert f", {harmonic} {show_share(0.8 * share)} ({show_share(share)})." in words
    assert "+10 % of inner flank rise: no state of rest. −10 % of wall thickness: nothing by a tenth." in words
    assert "tried" not in "".join(said_in(stroke_blocks(answer)))
    missed = told(FarStep(own.step, ways, {}))  # a drive that it does not bear
    assert f"{harmonic} not found ({show_share(share)})" in missed
    assert f"{harmonic} {show_share(share)} (not found)" in told(own, of=replace(answer, distortion=()))

    page = write_design_page(stepped_v(), tmp_path / "a.html", stroke=tried).read_text().replace("\u00a0", " ")
    assert words in page and words in write_stroke_tables(tried, tmp_path)[0].read_text()
    columns, key = stroke_mapping(tried)["stroke_steps"], "profile.inner.width"
    rows = [row for row in zip(*columns.values(), strict=True) if row[0] == key]
    assert list(columns) == ["key", "taken_at", "met", "met_at_m", "harmonic", "why_not"]
    assert (key, 0.1, other, 1.2 * known[other], None, "") in rows and (key, 0.1, met, None, None, "") in rows
    assert (key, 0.1, harmonic, None, 0.8 * share, "") in rows
    assert ("profile.inner.rise", 0.1, "", None, None, "no state of rest") in zip(*columns.values(), strict=True)
    assert columns.keys() <= column_words("stroke").keys()


def test_a_step_at_large_stroke_is_the_design_with_that_key_by_hand():
    keys = {"stroke.steps": 4, "stroke.orders": [], "stroke.drive": {"motion": "0.2 mm", "frequency": ["400 Hz"]}}
    drawn = read_design_file(STUDIES / "soft_dome.toml", keys)
    width = next(one for one in levers(drawn) if one.key == "profile.surround.width")
    wider = f"{1.1e3 * width.value:.12g} mm"
    by_hand = read_design_file(STUDIES / "soft_dome.toml", {**keys, "profile.surround.width": wider}).design
    (found,) = far_steps(drawn, (Sensitivity(width, {}, 0.1),))
    walked = evaluate_stroke(by_hand, plan_stroke(drawn.spec.stroke, by_hand))
    assert found.met_at == met_at(walked) and any(found.met_at.values())
    as_it_is = evaluate_stroke(drawn.design, plan_stroke(drawn.spec.stroke, drawn.design))
    assert found.harmonics == harmonics(walked) != harmonics(as_it_is)
    assert found.harmonics["3rd of volume acceleration at 400 Hz"] == walked.distortion[0].of_acceleration(3) > 0
