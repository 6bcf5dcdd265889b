"""The sheets of a comparison show whole what they draw, and names that tell its designs apart."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from free_designs import free_design
from matplotlib.lines import Line2D
from places import STUDIES
from report_cases import sheet

from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.comparison.variants import NamedDesign
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.report.sheets.listing_of_many import OF_A_COMPARISON
from diaphragm_fem.report.sheets.modes import legend_at_foot
from diaphragm_fem.report.sheets.sheet import blank_sheet
from diaphragm_fem.report.sheets.style import drawing_style

FILM = load_materials()["PEN film"]


def shipped(name: str) -> NamedDesign:
    design = load_design(STUDIES / f"{name}.toml")
    return NamedDesign(design.name, design)


def meridian(name: str, r_mm: list[float], z_mm: list[float]) -> NamedDesign:
    r, z = 1e-3 * np.array(r_mm), 1e-3 * np.array(z_mm)
    return NamedDesign(name, free_design(r, z, 50e-6, FILM, name=name, inner_edge=None, outer_edge=CLAMPED))


def unsolved(*designs: NamedDesign) -> Comparison:
    """Designs side by side as the profiles need them: nothing is solved."""
    return Comparison(designs, 0, (), (), (), {}, (), (), 20e3)


SIDE_BY_SIDE = {
    **{f"{a} and {b}": (shipped(a), shipped(b)) for a, b in permutations(("straight_v", "stepped_v"), 2)},
    "a dome with a V": (shipped("metal_dome"), shipped("stepped_v")),
    "a steep funnel": (meridian("funnel", [0, 4, 5], [0, 30, 45]),),
    "a flat disc": (meridian("disc", [0, 60], [0, 0]),),
    "a flat disc with a steep funnel": (meridian("disc", [0, 60], [0, 0]), meridian("funnel", [0, 5], [-80, 0])),
}


def test_what_all_designs_are_made_of_is_not_said_of_each() -> None:
    """Under three names stood the same cut line of thicknesses, and a mark without a sign."""
    vee, other = shipped("straight_v"), shipped("stepped_v")
    for designs, lines in (((vee, replace(vee, name="the same again")), 0), ((vee, other), 2)):
        told = [text.get_text() for text in sheet(OF_A_COMPARISON, "profiles", unsolved(*designs)).figure.texts]
        assert sum("µm" in words for words in told) == lines


@pytest.mark.parametrize("entries", [3, 9])
def test_a_key_at_the_foot_stays_on_its_sheet(entries: int) -> None:
    """With nine entries it ran over the frame."""
    with drawing_style():
        page = blank_sheet()
        words = [f"the outer flank beyond step {k}" for k in range(entries)]
        legend_at_foot(page, [Line2D([], [], label=label) for label in words])
        (legend,) = page.figure.legends
        page.figure.draw_without_rendering()
        box = legend.get_window_extent().transformed(page.figure.transFigure.inverted())
    assert box.x1 * page.width < page.width - 9.0 and box.y0 * page.height > 15.0


@pytest.mark.parametrize("designs", SIDE_BY_SIDE.values(), ids=SIDE_BY_SIDE)
def test_that_ground_is_shaded_is_told_where_it_is_and_to_its_end(designs) -> None:
    """It was told of a dome with a V, between which nothing is, and cut: "the differe…"."""
    figure = sheet(OF_A_COMPARISON, "profiles", unsolved(*designs)).figure
    (remark,) = [text.get_text() for text in figure.texts if text.get_text().startswith("mid-surfaces")]
    assert remark.endswith("; shaded: the difference" if figure.axes[0].collections else "toward the listener")


@pytest.mark.parametrize("designs", SIDE_BY_SIDE.values(), ids=SIDE_BY_SIDE)
def test_profiles_are_drawn_whole_and_to_one_scale(designs) -> None:
    axes = sheet(OF_A_COMPARISON, "profiles", unsolved(*designs)).figure.axes[0]
    points = np.concatenate([line.get_xydata() for line in axes.get_lines()])
    (left, right), (foot, top) = axes.get_xlim(), axes.get_ylim()
    assert left < points[:, 0].min() and points[:, 0].max() < right
    assert foot < points[:, 1].min() and points[:, 1].max() < top
    box = axes.get_window_extent()
    assert (right - left) / box.width == pytest.approx((top - foot) / box.height, rel=1e-9)
    assert left >= -0.051 * (right - left)  # no room is lost to negative radii
