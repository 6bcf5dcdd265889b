"""What Python callers get wrong is said in words: what was asked for, what was received."""

import numpy as np
import pytest
from places import STUDIES

import diaphragm_fem as dfem
from diaphragm_fem.answer.asked import check_bands, frequencies_asked, orders_asked
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.errors import AnalysisError, DesignError

DISC = {
    "wall": {"material": "PEN film", "thickness": "60 um"},
    "profile": {"kind": "dome", "rim_diameter": "25 mm", "height": "5 mm"},
}


@pytest.mark.parametrize("verb", [
    dfem.solve_modes, dfem.solve_area, dfem.solve_figures, dfem.build_structure, dfem.evaluate, dfem.answer_driver,
    dfem.evaluate_stroke,
])  # fmt: skip
def test_a_path_is_no_design_and_a_text_no_number(verb):
    with pytest.raises(DesignError, match=r"a design must be given, as load_design\(path\).*; received 'part\.toml'"):
        verb("part.toml")
    for wrong in ("1 kHz", float("nan"), 0, -1e3, 1.1e6, 10**400):
        with pytest.raises(AnalysisError, match=r"up_to_hz must be a number above 0 and up to 1e\+06 in Hz, such as"):
            verb(design_from(DISC), up_to_hz=wrong)


@pytest.mark.parametrize("orders", [0, [], "01", [0.5], None])
def test_orders_are_a_list_of_whole_numbers(orders):
    with pytest.raises(AnalysisError, match=r"orders must be a list .* such as \[0, 1\] or range\(5\); received"):
        dfem.solve_modes(design_from(DISC), orders=orders)
    assert orders_asked((2, np.int64(0), 2)) == [0, 2] and orders_asked((), least=0) == []


@pytest.mark.parametrize("verb", [dfem.solve_area, dfem.answer_driver, dfem.evaluate])
@pytest.mark.parametrize("points", [-1, 1, 1.5, float("nan"), "400", 10**9])
def test_points_are_a_whole_number(verb, points):
    """Of -1 a curve of its extremes alone was given, or numpy's own error."""
    with pytest.raises(AnalysisError, match="points must be a whole number from 2 to 100000, as 400; received"):
        verb(design_from(DISC), points=points)


@pytest.mark.parametrize("tolerance", [0, -1e-3, float("nan"), float("inf"), "0.1 %", None])
def test_a_tolerance_is_a_share(tolerance):
    """Of none at all an answer was given."""
    with pytest.raises(AnalysisError, match="tolerance must be a share above 0 and up to 1, such as 1e-3; received"):
        dfem.evaluate(design_from(DISC), tolerance=tolerance)


def test_what_to_change_is_asked_of_the_designs_own_file():
    """Of another file's design the changes were told as this one's."""
    file = dfem.read_design_file(STUDIES / "metal_dome.toml")
    other = dfem.load_design(STUDIES / "metal_dome.toml", {"wall.thickness": "40 um"})
    with pytest.raises(AnalysisError, match=r"file must be that of the design, as in evaluate\(file.design, "):
        dfem.evaluate(other, file=file)


@pytest.mark.parametrize("frequency", [[], [2e6], [10**400], [100.0, 0.0], [float("nan")], "1 kHz", [[1.0, 2.0]], -3])
def test_frequencies_are_numbers_above_nothing(frequency):
    with pytest.raises(AnalysisError, match=r"frequencies must be above 0 and up to 1e\+06 Hz: a number in Hz or"):
        dfem.solve_area(design_from(DISC), frequency)
    assert frequencies_asked(5).tolist() == [5.0]


@pytest.mark.parametrize("bands", [[(1, 2)], {"use": "150 Hz"}, {"use": (150,)}, {"use": ("1 kHz", "2 kHz")},
                                   {"use": (0, 1e3)}, {"use": (100, 10**400)}])  # fmt: skip
def test_bands_have_names_and_two_ends(bands):
    with pytest.raises(AnalysisError, match=r"bands must give each name its two ends, above 0 and up to 1e\+06 in Hz"):
        dfem.solve_figures(design_from(DISC), bands=bands)
    check_bands({"use": (150, 5e3)})


def test_what_the_guide_names_is_there(tmp_path):
    """The plan of a file's own [stroke], and one error for all that a caller can mend."""
    path = tmp_path / "dome.toml"
    path.write_text('wall = { material = "PEN film", thickness = "60 um" }\nstroke = { foremost = "0.4 mm" }\n'
                    'profile = { kind = "dome", rim_diameter = "25 mm", height = "5 mm" }\n')  # fmt: skip
    file = dfem.read_design_file(path)
    assert dfem.plan_stroke(file.spec.stroke, file.design).foremost == pytest.approx(0.4e-3)
    with pytest.raises(dfem.DiaphragmError):
        dfem.load_design(tmp_path / "none.toml")


def test_a_figure_is_found_by_its_name_and_printed_with_why_it_does_not_exist():
    figures = dfem.solve_figures(dfem.load_design(STUDIES / "metal_dome.toml"))
    with pytest.raises(AttributeError, match="there is no figure 'break_up_hz'; did you mean 'break_up_mode_hz'"):
        _ = figures.break_up_hz
    assert "break_up_mode_hz" in dir(figures) and not hasattr(figures, "_repr_html_")
    lines = str(figures).splitlines()
    assert f"fundamental_hz: {figures.fundamental_hz:.6g}" in lines
    assert "decoupling_hz: the design has no step" in lines
