"""Area curves and coil force against direct solves where a reduced structure is easily wrong."""

import numpy as np
import pytest
from places import STUDIES
from scipy.sparse import csr_matrix

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.curve.resonances import poles
from diaphragm_fem.analysis.curve.sampling import _nearest, _tops, extremes, peak, scanned
from diaphragm_fem.analysis.response import respond
from diaphragm_fem.analysis.solution import direct_area, solve_area
from diaphragm_fem.answer.quick import quick, quick_of
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.law import Constant
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.structure import LEAST_LOSS, MASS, Load, Port, Structure, Term

SHIPPED = ["straight_v", "stepped_v", "soft_dome", "metal_dome"]


@pytest.mark.parametrize("name", SHIPPED)
def test_the_coil_force_holds_where_stiffness_and_inertia_cancel(name):
    design = load_design(STUDIES / f"{name}.toml")
    structure = build_shell(design).structure(0)
    near = quick(design).figures.fundamental_hz * np.linspace(0.9, 1.1, 21)
    frequency = np.concatenate((near, np.geomspace(30, 20e3, 40)))
    force = solve_area(structure, frequency).coil_force
    np.testing.assert_allclose(force, direct_area(structure, frequency).coil_force, rtol=1e-4)


@pytest.mark.parametrize("name", ["straight_v", "stepped_v", "soft_dome"])
def test_a_design_without_any_loss_has_figures_and_numbers_everywhere(name):
    lossless = {"value": 0.0, "kind": "assumed", "source": "a test"}
    design = load_design(STUDIES / f"{name}.toml")
    names = [material.name for material in design.materials]
    changes = {f'materials."{one}".loss_factor': lossless for one in names}
    found = quick(load_design(STUDIES / f"{name}.toml", changes))
    assert np.isfinite(found.solution.scan.total).all()
    small = {f'materials."{one}".loss_factor': {**lossless, "value": 1e-6} for one in names}
    near = quick(load_design(STUDIES / f"{name}.toml", small))
    for figure in ("fundamental_hz", "stiffness_n_per_m", "moving_mass_kg", "low_area_m2", "departure_hz"):
        assert found.figures.table()[figure] == pytest.approx(near.figures.table()[figure], rel=1e-3), figure


@pytest.mark.parametrize("made", [np.asarray, csr_matrix])
def test_a_lossless_structure_can_be_solved_directly_at_its_resonance(made):
    """A mass of 1 kg on a spring without loss, at the very frequency where both cancel to the last bit: it moves
    F/(i eta k), eta the least loss."""
    frequency, one = np.array([200.0]), np.ones(1)
    stiffness = float((2 * np.pi * frequency[0]) ** 2)
    terms = Term(made([[stiffness]])), Term(made([[1.0]]), derivatives=MASS)
    structure = Structure(0, terms, (), one, one, np.zeros((0, 1)), np.zeros(0))
    assert respond(structure, frequency)[0, 0] == pytest.approx(1 / (1j * LEAST_LOSS * stiffness), rel=1e-12)


@pytest.mark.parametrize("hz", [(5000.0, 5010.0), (5000.0, 5100.0, 5200.0)])
def test_poles_are_as_sharp_as_uneven_losses_make_them(hz):
    """Modes that a lossy zone couples: one pole keeps nearly all the loss and leaves the others almost none. Three tell
    that they are not coupled pair by pair alone: then all of them keep some.
    """
    squares = (2 * np.pi * np.array(hz)) ** 2
    loss = 0.1 * np.sqrt(np.outer(squares, squares))  # of rank one: what moves against it is nearly lossless
    terms = (Term(np.diag(squares)), Term(loss, Constant(1j)), Term(np.eye(len(hz)), derivatives=MASS))
    one = np.ones(len(hz))
    modes = Structure(0, terms, (), one, one, one[None], np.ones(1))
    found = poles(modes, 20.0, 20e3)
    own = np.sqrt(squares) / (2 * np.pi) * 0.1 / 2  # half widths mode by mode
    exact = np.sqrt(np.linalg.eigvals(np.diag(squares) + 1j * loss)) / (2 * np.pi)
    np.testing.assert_allclose(np.sort(found.half_width_hz), np.sort(exact.imag), rtol=2e-7)
    assert found.half_width_hz.min() < 0.1 * own.min()


def test_a_loss_factor_that_leaps_is_solved_as_it_stands():
    leap = {"value": [0.001, 0.9], "frequency": ["900 Hz", "1000 Hz"], "kind": "assumed", "source": "a test"}
    design = load_design(STUDIES / "stepped_v.toml", {'materials."PEN film".loss_factor': leap})
    structure = build_shell(design).structure(0)
    frequency = np.geomspace(200, 20e3, 60)
    exact, found = direct_area(structure, frequency), solve_area(structure, frequency, absolute=False)
    scale = np.maximum(np.abs(exact.total), abs(found.low.sum()))
    assert np.max(np.abs(found.zone - exact.zone) / scale) < 2e-4


def test_a_pole_and_a_zero_on_a_steep_flank_are_found():
    """A pole of Q = 1000 at 1022 Hz and the zero it makes with what is there besides, 1.7 % above it: between points of
    the scan, on a flank so steep that no point of it is an extreme. Only the phase tells.
    """
    hz, share, quality = 1022.0, 0.035, 1000.0

    def solve(f):
        pair = 1 + share / (1 - (f / hz) ** 2 + 1j * f / hz / quality)
        one = np.ones(1)
        return Curve(f, (pair * (f / hz) ** 80)[None], np.ones(len(f), complex), (), one, one)

    curve = scanned(solve, (), 20.0, 20e3)
    found = curve.frequency_hz[extremes(np.abs(curve.total))]
    assert found == pytest.approx([hz, hz * np.sqrt(1 + share)], rel=3e-4)  # a third of the width of either


def test_few_points_of_a_curve_keep_the_peak_of_the_response_at_the_fundamental():
    """There the area has none: by its extremes and bends alone the peak was drawn flat between two points."""
    solution = quick(load_design(STUDIES / "soft_dome.toml")).solution
    scan, few = solution.scan, solution.curve(240)
    f = solution.mode_hz[0]
    top, shown = (np.abs(one.response[np.abs(one.frequency_hz / f - 1) < 0.1]).max() for one in (scan, few))
    assert shown == top and len(few.frequency_hz) == 240
    assert (np.abs(few.frequency_hz / f - 1) < 0.1).sum() >= 6  # enough for a round top: a step turns it by 30 degrees


@pytest.mark.parametrize("band", [(1000.0, 9000.0), (300.0, 330.0)])
@pytest.mark.filterwarnings("ignore:invalid value")
def test_a_curve_with_what_is_no_number_is_refused(band):
    """Past a load that is nan the shelf band ran on to the top, and its peak was called absent: what is compared with
    nan is found neither above nor below it (IEEE 754)."""

    def broken(f):
        return np.where((f > band[0]) & (f < band[1]), np.nan, 1.0).astype(complex)[:, None, None]

    springs, coil, volume = np.array([[5e3, -4e3], [-4e3, 4e3]]), np.array([1.0, 0.0]), np.array([[1e-3, 1e-3]])
    terms = Term(springs, Constant(1 + 0.05j)), Term(np.diag([1e-3, 1e-3]), derivatives=MASS)
    structure = Structure(0, terms, (Zone("face", Role.DRIVEN),), coil, coil, volume, np.array([2e-3]))
    assert np.isfinite(quick_of(structure, 2e3).solution.scan.total).all()
    with pytest.raises(AnalysisError, match=r"none at \d+ of \d+, the first at (10\d\d|3\d\d\.\d) Hz"):
        quick_of(structure.loaded(Load(Port("air", volume.T), broken)), 2e3)


@pytest.mark.parametrize("peak", [False, True])
def test_the_extreme_of_a_parabola_is_placed_however_uneven_its_points_are(peak):
    """The squared size about a lone zero is one, of a lone pole its inverse is: the vertex is told to rounding, and to
    both sides where the level is a tenth of a decibel off."""
    at = np.array([90.0, 100.0, 103.0, 110.0, 130.0])
    square = 1 + ((at - 104.0) / 20) ** 2
    found = np.sort(_tops(at, np.sqrt(1 / square if peak else square)[None]))
    aside = 20 * np.sqrt(10**0.01 - 1)
    np.testing.assert_allclose(found, [104.0 - aside, 104.0, 104.0 + aside], rtol=1e-12)


def test_a_straight_line_in_the_plane_is_nearest_to_zero_at_a_right_angle():
    random = np.random.default_rng(5)
    a, b = random.standard_normal((2, 20)) + 1j * random.standard_normal((2, 20))
    nearest = a + _nearest(a, b) * (b - a)
    np.testing.assert_allclose(nearest.real * (b - a).real + nearest.imag * (b - a).imag, 0, atol=1e-12)


def test_a_peak_between_points_is_that_of_one_degree_of_freedom():
    """|k - m w^2 + i r w|^2 is a parabola in w^2, so the peak is exact from any three points about it; 6 % lower at the
    largest of these. At an end there is nothing beyond to tell it by."""
    square = lambda f: (400.0**2 - f**2) ** 2 + (30.0 * f) ** 2  # noqa: E731
    at = np.sqrt(400.0**2 - 30.0**2 / 2)
    for f in (np.array([380.0, 394.0, 409.0]), np.array([391.0, 405.0, 460.0])):
        size = square(f) ** -0.5
        assert peak(f, size, 1) == pytest.approx((square(at) ** -0.5, at), rel=1e-9)
        assert size[1] < 0.97 * square(at) ** -0.5
        assert peak(f[1:], size[1:], 0) == (size[1], f[1])
