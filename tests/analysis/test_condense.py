"""Far modes condensed, against the whole eigenproblem; loss factors that vary, against one solve per frequency."""

from pathlib import Path

import numpy as np
import pytest

from diaphragm_fem.analysis.area import area_error, solve_area
from diaphragm_fem.analysis.condense import condensed
from diaphragm_fem.design.read import load_design
from diaphragm_fem.model.shell import build_shell

SQUARE = np.linspace(0, 10, 60) ** 2


def lossy_modes(coupling, loss=0.05):
    """Forty modes at 1 to 80 rad/s, each with a loss factor, coupled by part of it; loads that push each by 1."""
    squares = np.sort(np.random.default_rng(2).uniform(1, 80, 40)) ** 2
    random = np.random.default_rng(3).standard_normal((40, 40))
    scale = np.sqrt(squares[:, None] * squares)
    matrix = np.diag(squares * (1 + 1j * loss)) + 1j * coupling * loss * scale * (random + random.T) / 2
    return matrix, squares.astype(complex)


def exact(matrix, load):
    return np.array([np.linalg.solve(matrix - s * np.eye(len(matrix)), load) for s in SQUARE]).T


def error(near, coupling):
    matrix, load = lossy_modes(coupling)
    spectrum, whole = condensed(matrix, load, near, 0.75 * SQUARE[-1]), exact(matrix, load)
    rows = np.random.default_rng(4).standard_normal((3, 40))
    return np.abs(spectrum.lag(rows, SQUARE) - rows @ whole).max() / np.abs(rows @ whole).max()


def test_all_modes_near_is_the_whole_eigenproblem():
    assert error(40, 0.3) < 1e-10


def test_uncoupled_modes_follow_to_the_order_of_the_series():
    """The first far mode lies at 1.6 of the band: (0.25/1.81)^6 = 7e-6 at its top, times what one mode adds."""
    matrix, _ = lossy_modes(0.0)
    near = int((matrix.diagonal().real < (1.6 * 10) ** 2).sum())
    assert near < 15
    assert error(near, 0.0) < 1e-6


def test_coupled_modes_follow_better_the_more_are_kept():
    """What the straight line leaves out falls with the square of the first far mode's frequency ratio, twice."""
    matrix, _ = lossy_modes(0.1)
    few, many = (error(int((matrix.diagonal().real < (ratio * 10) ** 2).sum()), 0.1) for ratio in (1.5, 3.0))
    assert many < few / 3
    assert few < 0.02


def test_the_answer_at_rest_is_exact():
    matrix, load = lossy_modes(0.3)
    spectrum = condensed(matrix, load, 6, 75.0)
    np.testing.assert_allclose(spectrum.still, np.linalg.solve(matrix, load), rtol=1e-9)


@pytest.mark.parametrize("soft", [("butyl rubber", "thermoplastic elastomer"), ("nitrile rubber", "firm elastomer")])
def test_two_loss_tables_that_change_at_different_frequencies(soft):
    """Surrounds of one elastomer and steps of another, the whole curve against direct solves: 1 % of the low area.

    With nodes placed by whichever table has changed most in all, the first pair was wrong by 2.4 %.
    """
    surround, step = soft
    where = Path(__file__).parents[2] / "studies" / "stepped_v.toml"
    changes = {}
    for side in ("inner", "outer"):
        changes |= {
            f"profile.{side}.surround.material": surround,
            f"profile.{side}.surround.thickness": "250 um",
            f"profile.{side}.steps.0.material": step,
        }
    structure = build_shell(load_design(where, changes)).structure(0, by_zone=False)
    curve = solve_area(structure, points=400, absolute=False)
    assert area_error(structure, curve, 24) < 0.01
