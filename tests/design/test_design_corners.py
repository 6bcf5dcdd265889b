"""Rounded corners: tangent to both neighbours, cut where zones meet."""

from itertools import pairwise
from math import pi, sqrt

import numpy as np
import pytest
from design_cases import FLANK, check_joined, ends, kinks, vee

from diaphragm_fem.design.meridian.curve import Arc, Line, freeform_from
from diaphragm_fem.design.meridian.fillet import fillet
from diaphragm_fem.design.read.read import design_from


def test_rounded_corner_of_two_lines():
    """Fillet of radius rho at a turn theta: each side loses rho tan(theta/2), the arc is rho theta long."""
    design = design_from(
        vee(outer={"width": "9 mm", "rise": "9 mm"}, inner={"width": "9 mm", "rise": "9 mm"}, bottom_radius="1 mm")
    )
    arcs = [piece for piece in design.meridian if isinstance(piece.curve, Arc)]
    assert sum(piece.curve.length for piece in arcs) == pytest.approx(1e-3 * pi / 2, rel=1e-12)
    assert design.meridian[0].curve.length == pytest.approx(9e-3 * sqrt(2) - 1e-3, rel=1e-12)  # tan(45 deg) = 1
    assert ends(design.meridian[design.joint])[0] == pytest.approx([20e-3, 1e-3 * (sqrt(2) - 1)], rel=1e-12)


CURVES = {
    "line": lambda: Line((0.0, 0.0), (10.0, 0.0)),
    "arc left": lambda: Arc((10.0, 8.0), 8.0, -pi / 2 - 1.0, 1.0),
    "arc right": lambda: Arc((10.0, -8.0), 8.0, pi / 2 + 1.0, -1.0),
    "ellipse": lambda: freeform_from(
        lambda t: np.stack((10 * np.sin(t), 4 * np.cos(t) - 4), -1), np.linspace(-1.2, 0, 9)
    ),
}


def turned(curve, angle):
    """The curve run backward from where it ends and turned about there: the second side of a corner."""
    back = curve.reverse()
    end = back.point(0.0)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

    def place(p):
        return end + spin @ (np.asarray(p) - end)

    if isinstance(back, Line):
        return Line(tuple(place(back.begin)), tuple(place(back.end)))
    if isinstance(back, Arc):
        return Arc(tuple(place(back.centre)), back.radius, back.start + angle, back.sweep)
    return freeform_from(lambda s: end + (back.point(s) - end) @ spin.T, np.linspace(0, back.length, 9))


@pytest.mark.parametrize("first", CURVES)
@pytest.mark.parametrize("second", CURVES)
@pytest.mark.parametrize("angle", [2.6, 2.0, -2.0, 1.0, -1.0])
def test_fillet_touches_both_curves(first, second, angle):
    """On lines, arcs and free curves alike the fillet begins and ends on the curves with their tangents."""
    a = CURVES[first]()
    other = CURVES[second]()
    ended = a.point(a.length)
    assert other.point(other.length) == pytest.approx([10, 0], abs=1e-5) or second == "ellipse"
    b = turned(other, angle)
    if second == "ellipse" or first == "ellipse":
        shift = ended - b.point(0.0)
        if isinstance(b, Line):
            b = Line(tuple(np.array(b.begin) + shift), tuple(np.array(b.end) + shift))
        elif isinstance(b, Arc):
            b = Arc(tuple(np.array(b.centre) + shift), b.radius, b.start, b.sweep)
        else:
            base = b
            b = freeform_from(lambda s: base.point(s) + shift, np.linspace(0, base.length, 9))
    radius = 0.4
    found = fillet([a], [b], radius)
    assert found is not None
    s1, s2 = a.length - found.cut_first, found.cut_second
    assert found.arc.radius == radius
    assert found.arc.point(0.0) == pytest.approx(a.point(s1), abs=1e-9)
    assert found.arc.point(found.arc.length) == pytest.approx(b.point(s2), abs=1e-9)
    assert found.arc.tangent(0.0) == pytest.approx(a.tangent(s1), abs=1e-6)
    assert found.arc.tangent(found.arc.length) == pytest.approx(b.tangent(s2), abs=1e-6)
    assert 0 < found.cut_first < 0.5 * a.length and 0 < found.cut_second < 0.5 * b.length


def test_default_corners_leave_no_kink():
    design = design_from(
        vee(FLANK, FLANK | {"surround": {"kind": "half-roll", "width": "2.5 mm", "direction": "down"}})
    )
    assert max(kinks(design)) < 1e-7  # 1e-7 rad over an arc of 0.1 mm is far below the film's own tolerance
    radii = {round(p.curve.radius * 1e3, 9) for p in design.meridian if isinstance(p.curve, Arc)} - {1.25}
    assert radii == {0.24}  # four walls of 60 um


def test_default_corner_shrinks_to_fit_and_says_so():
    step = {"distance": "3 mm", "tread": "0.1 mm", "rise": "0 mm"}
    design = design_from(vee(outer={"width": "6 mm", "rise": "6 mm", "steps": [step]}))
    assert any("'outer step'" in note and "the largest that fits, instead of 0.24 mm" in note for note in design.notes)
    assert max(kinks(design)) < 1e-7
    check_joined(design)


def test_a_default_corner_that_takes_much_off_says_so():
    """A textile dome's joint rose by 1 mm of its 9 mm, untold. The point of a corner that turns by t lies
    r/cos(t/2) from the centre of its fillet between straight lines (elementary); here 120 degrees are the bound."""
    wall = {"material": "treated silk", "thickness": "250 um"}
    roll = {"kind": "half-roll", "width": "4 mm", "thickness": "200 um"}

    def notes(height, **corner):
        profile = {"kind": "dome", "rim_diameter": "34 mm", "height": height, "surround": roll | corner}
        return [note for note in design_from({"wall": wall, "profile": profile}).notes if "corner" in note]

    (note,) = notes("9 mm")
    assert "'dome' and 'surround' has no radius given: 1 mm, four wall thicknesses, takes its point off by 1 mm" in note
    assert not notes("2 mm") and not notes("9 mm", corner_radius="0.6 mm")  # 104 degrees; given


@pytest.mark.parametrize("side", ["inner", "outer"])
def test_a_roll_grows_higher_than_wide_without_a_jump(side):
    """Its upright walls come in from nothing: the fillet at its foot stays on the arc until it finds room on them."""
    found = []
    for height in ("1.2499 mm", "1.2501 mm", "1.4 mm"):
        roll = {"kind": "half-roll", "width": "2.5 mm", "height": height}
        design = design_from(vee(**{"inner": FLANK, "outer": FLANK, side: FLANK | {"surround": roll}}))
        assert max(kinks(design)) < 1e-7
        check_joined(design)
        radii = [getattr(p.curve, "radius", 0.0) for p in design.meridian if p.zone.name == f"{side} surround"]
        assert pytest.approx(0.24e-3) in radii
        found.append(sum(piece.curve.length for piece in design.meridian))
    assert abs(found[1] - found[0]) < 1e-6


def test_fillet_halves_belong_to_their_neighbours():
    design = design_from(vee(outer=FLANK))
    for a, b in pairwise(design.meridian):
        if a.zone != b.zone:
            assert isinstance(a.curve, Arc) and isinstance(b.curve, Arc)
            assert a.curve.length == pytest.approx(b.curve.length, rel=1e-9)
