"""Modes at the moduli of their own frequency by definition: f moved until the j-th eigenvalue of K(f) is f."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from sampled_designs import sampled_design

from diaphragm_fem.analysis.modes.eigen import eigenpairs_below
from diaphragm_fem.analysis.modes.in_span import InSpan, own_of_energy
from diaphragm_fem.analysis.modes.own_modulus import eigenpairs_at_own_modulus
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.model.law import Constant
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.structure import MASS, Structure, Term

STEPPED_V = Path(__file__).parents[2] / "studies" / "stepped_v.toml"
FALLS = 5  # steps of f to the eigenvalue's own: a modulus that goes with f^0.2 takes nine tenths off at each


@pytest.mark.parametrize("distance, tread", [(1.35, 1.2), (2.3, 1.125), (1.9, 1.3)])
def test_modes_with_a_near_neighbour(distance, tread):
    """Two modes of the first steps lie so close that each guess is a mixture of both: one was 1.4e-3 and 1.9e-3 off
    where the iteration ended after two steps. In the span of answers 2.5e-6 is left, with the last steps 1.7e-5;
    sharpened 2.4e-8. The modes' own span leaves 1e-6.
    """
    moved = {
        f"profile.{side}.steps[0].{key}": f"{mm} mm"
        for side, two in (("outer", (distance, tread)), ("inner", (1.68 * distance, 0.62 * tread)))
        for key, mm in zip(("distance", "tread"), two, strict=True)
    }
    structure = build_shell(load_design(STEPPED_V, moved)).structure(0)
    in_span, whole = solve(structure, 20e3).pairs.squares, eigenpairs_at_own_modulus(structure, 20e3).squares
    exact = np.array([own_square(structure, j, square) for j, square in enumerate(whole)])
    # on squares, hence twice
    np.testing.assert_allclose(in_span, exact, rtol=2 * 1e-7)
    np.testing.assert_allclose(whole, exact, rtol=2 * 1.5e-6)


def test_modes_of_which_three_guesses_lead_to_one():
    """At this gauge three guesses settle on one mode, and what two of them are sought again as is a fourth's: the list
    held 11,181 Hz twice, and one mode at 11,248 Hz not at all.
    """
    structure = build_shell(load_design(STEPPED_V, {"wall.thickness": "76.003 um"})).structure(0)
    found = solve(structure, 20e3).pairs.squares
    exact = np.array([own_square(structure, j, square) for j, square in enumerate(found)])
    np.testing.assert_allclose(found, exact, rtol=2 * 2e-7)  # 1.9e-7 at most, the two lowest
    assert np.min(np.diff(np.sqrt(found))) > 2 * np.pi * 20  # Hz between neighbours: the least are 28 Hz apart


def test_a_mixture_of_two_modes_is_not_taken_for_one():
    """Two guesses are half and half mixtures of two modes 10 Hz apart, of the inner and of the outer roll: such keep
    their frequency from step to step. They were told 1 Hz apart between the two, 1.9e-4 and 4.6e-4 off.
    """
    structure = build_shell(sampled_design("soft", 102), up_to_hz=20e3, corrected=True).structure(0)
    found = solve(structure, 20e3).pairs.squares
    whole = eigenpairs_at_own_modulus(structure, 20e3).squares
    exact = [own_square(structure, j, found[j]) for j in (34, 35)]
    assert np.sqrt(exact[1] / exact[0]) == pytest.approx(1 + 7.2e-4, abs=1e-5)
    np.testing.assert_allclose(found[34:36], exact, rtol=2 * 1e-6)  # 5e-7 and 4e-7 are left
    np.testing.assert_allclose(whole[34:36], exact, rtol=2 * 1.5e-6)


def test_a_half_and_half_mixture_does_not_settle():
    """Beside a mode that is told the mixture of it and of the next, 7.2e-4 away: it keeps its frequency between both
    from step to step, farther from either than such as are parted, and the next mode would be missing."""
    squares = (2 * np.pi * np.array([1000.0, 1000.72, 3000.0])) ** 2
    own = InSpan([Term(np.diag(squares), Constant())], np.diag(squares)[None])
    told, mixed = np.array([1.0, 0.0, 0.0]), np.array([1.0, 1.0, 0.0]) / np.sqrt(2)
    between = np.sqrt(squares[:2].mean()) / (2 * np.pi)
    frequency, _, wrong = own.settled(np.array([1000.0, between]), np.stack((told, mixed), axis=1))
    assert frequency == pytest.approx([1000.0, between], rel=1e-7) and wrong.tolist() == [1]


@pytest.mark.parametrize("split, coupling", [(2e-5, 1e-5), (5e-5, 3e-5), (0.0, 2e-5), (1e-6, 1e-6)])
def test_modes_closer_than_an_iteration_tells_are_parted(split, coupling):
    """Two of eight oscillators meet at 1 kHz, one on a spring that stiffens with f^0.6: inverse iteration ends in any
    mixture of both, for all are within 1e-4 of a mode. Such were alike to the true shapes by 0.59 and 0.77, 2.4e-5 off;
    parted without the slope of the stiffness by 0.987, 5e-6 off.
    """
    own = np.array([[500, 1000, 0, 2200, 0, 5000, 0, 9000], [0, 0, 1000 * (1 + split), 0, 3000, 0, 7000, 0]])
    rising, steady = ((2 * np.pi * np.diag(hz)) ** 2 for hz in own)
    steady[1, 2] = steady[2, 1] = 2 * coupling * (2 * np.pi * 1000) ** 2
    rng = np.random.default_rng(0)
    turn, drive = np.linalg.qr(rng.normal(size=(8, 8)))[0], rng.normal(size=8)
    rising, steady = turn @ rising @ turn.T, turn @ steady @ turn.T
    terms = Term(rising, Stiffening()), Term(steady, Constant()), Term(np.eye(8), derivatives=MASS)
    structure = Structure(0, terms, (), drive, drive, np.ones((0, 8)), np.ones(0))
    found = eigenpairs_at_own_modulus(structure, 10e3)
    for place in (1, 2):
        hz = 1000.0
        for _ in range(60):  # a fixed point that nears its end by two thirds a step
            squares, shapes = np.linalg.eigh(Stiffening()(hz).real * rising + steady)
            hz = np.sqrt(squares[place]) / (2 * np.pi)
        assert np.sqrt(found.squares[place]) / (2 * np.pi) == pytest.approx(hz, rel=1e-8)  # 2e-9 is left
        assert (found.vectors[:, place] @ shapes[:, place]) ** 2 > 1 - 1e-6  # 3e-7 is left


@pytest.mark.parametrize("seed", [29, 60, 127])
def test_close_modes_that_are_found_are_not_moved_by_rounding(seed):
    """Four modes 1e-7 apart that have nothing to do with one another, on springs that stiffen and on such that do not:
    what rounding left of their residuals led up to 0.7 of a mode away. Measured 4e-9."""
    rng = np.random.default_rng(seed)
    hz = np.append(1000 * (1 + 1e-7 * np.arange(4)), rng.uniform(300, 9000, 4))
    turn, drive = np.linalg.qr(rng.normal(size=(8, 8)))[0], rng.normal(size=8)
    every = np.arange(8) % 2
    rising, steady = (turn @ np.diag((2 * np.pi * hz) ** 2 * (every == own)) @ turn.T for own in (0, 1))
    terms = Term(rising, Stiffening()), Term(steady, Constant()), Term(np.eye(8), derivatives=MASS)
    found = eigenpairs_at_own_modulus(Structure(0, terms, (), drive, drive, np.ones((0, 8)), np.ones(0)), 10e3)
    assert len(found.squares) == 8
    for square, shape in zip(found.squares, found.vectors.T, strict=True):
        stiffness = Stiffening()(np.sqrt(square) / (2 * np.pi)).real * rising + steady
        assert np.linalg.norm(stiffness @ shape / square - shape) < 1e-7


@pytest.mark.parametrize("seed, left", [(122, 1e-7), (370, 1e-5)])
def test_none_of_several_close_modes_is_made_of_the_others(seed, left):
    """Six modes within 1e-7: one of those found was a sum of the others, none of which was alike to it by half. Three
    within 3e-4: a residual of 9e-5 was left of one whose neighbour lies just too far off to be parted from it."""
    rng = np.random.default_rng(seed)
    close = int(rng.integers(2, 7))
    hz = np.append(1000 * (1 + 10 ** rng.uniform(-8, -3.3) * rng.normal(size=close)), rng.uniform(300, 9000, 4))
    which, size = rng.integers(0, 2, close + 4), close + 4
    rising, steady = (np.diag((2 * np.pi * hz) ** 2 * (which == own)) for own in (0, 1))
    ties = rng.normal(size=(close, close))
    steady[:close, :close] += (
        (ties + ties.T) / 2 * 10 ** rng.uniform(-8, -3.3) * (2 * np.pi * 1000) ** 2 * (rng.random() < 0.7)
    )
    turn, drive = np.linalg.qr(rng.normal(size=(size, size)))[0], rng.normal(size=size)
    rising, steady = turn @ rising @ turn.T, turn @ steady @ turn.T
    terms = Term(rising, Stiffening()), Term(steady, Constant()), Term(np.eye(size), derivatives=MASS)
    found = eigenpairs_at_own_modulus(Structure(0, terms, (), drive, drive, np.ones((0, size)), np.ones(0)), 10e3)
    assert np.linalg.svd(found.vectors, compute_uv=False)[-1] ** 2 > 0.5  # 0.74: about as far apart as modes are
    for square, shape in zip(found.squares, found.vectors.T, strict=True):
        stiffness = Stiffening()(np.sqrt(square) / (2 * np.pi)).real * rising + steady
        assert np.linalg.norm(stiffness @ shape / square - shape) < left


@pytest.mark.parametrize("power", [-0.5, 0.6, 1.9])
def test_the_own_frequency_of_a_shape_is_told_from_afar(power):
    """Of a power of frequency from any guess within e times, to rounding. By frequencies, not by their logarithms, one
    on a spring that goes with f^1.9 led from 407 to 2,936 Hz, from other guesses below zero."""
    square = np.array([[(2 * np.pi * 1000.0) ** 2]])
    for guess in 1000.0 * np.exp(np.linspace(-0.9, 0.9, 7)):
        told = own_of_energy([Term(np.eye(1), Stiffening(power))], square, np.array([guess]))
        assert told == pytest.approx(1000.0, rel=1e-9)


def test_modes_that_pass_each_other_are_found_once_each():
    """Nine oscillators from 498 to 513 Hz, three of them on springs that go with f^1.875: sought by their places, step
    by step, modes led to one another for ever; 504.2 Hz stood in the list twice, 506.2 not at all."""
    hz = np.array([505.2444, 505.7904, 506.8476, 508.833, 512.1183, 512.7768, 498.2452, 504.2184, 506.172])
    law, every = Stiffening(1.875), np.arange(9)
    rising = np.diag((2 * np.pi * hz) ** 2 / law(hz).real * (every >= 6))
    steady = np.diag((2 * np.pi * hz) ** 2 * (every < 6))
    terms = Term(rising, law), Term(steady, Constant()), Term(np.eye(9), derivatives=MASS)
    drive = np.ones(9)
    found = eigenpairs_at_own_modulus(Structure(0, terms, (), drive, drive, np.ones((0, 9)), np.ones(0)), 20e3)
    np.testing.assert_allclose(found.frequency_hz, np.sort(hz), rtol=1e-9)


@pytest.mark.parametrize(
    ("slopes", "own_hz", "other_hz", "place", "guess"),
    [
        ((-1, -1, 1.9, -1), 1130, 1055, 1, 1000),
        ((1.9, -1, 1.9, 1.9), 940, 885, 1, 900),
        ((-1, 1.9, -1, 0), 950, 1195, 0, 1000),
    ],
)
def test_a_mode_is_met_by_its_place_where_its_modulus_bends(slopes, own_hz, other_hz, place, guess):
    """A spring that goes with powers of frequency between 800, 900, 1000, 1100 and 1250 Hz and one that stands still,
    against halving what encloses the place's own frequency. Step by step it ended 12, 5 and 4 % off, as 916 of 60,000
    such did."""
    bends = np.log([800.0, 900.0, 1000.0, 1100.0, 1250.0])
    rises = np.concatenate(([0.0], np.cumsum(np.array(slopes) * np.diff(bends))))

    def law(hz):
        return np.exp(np.interp(np.log(hz), bends, rises)) + 0j

    law.constant = False
    squares = (2 * np.pi * np.array([own_hz, other_hz])) ** 2
    terms = Term(np.diag([1.0, 0]), law), Term(np.diag([0, 1.0]), Constant())
    found, _ = InSpan(terms, np.array([np.diag([squares[0], 0]), np.diag([0, squares[1]])]))._by_place(
        place, np.array([float(guess)])
    )
    low, high = 100.0, 4000.0
    for _ in range(60):
        hz = np.sqrt(low * high)
        square = np.sort([squares[0] * law(hz).real, squares[1]])[place]
        low, high = (hz, high) if square > (2 * np.pi * hz) ** 2 else (low, hz)
    assert found == pytest.approx(low, rel=2e-6)


@pytest.mark.parametrize("stiff", [1e11, 1e13])
def test_a_step_of_inverse_iteration_passes_a_pivot_of_which_rounding_leaves_nothing(stiff):
    """Two masses of 1 g tied by a spring 1e7 times stiffer and more than those they stand on: as one they ring where
    k (f/1 kHz)^0.6 = m (2 pi f)^2. Of 200 such springs each ended in an error of linear algebra."""
    tie, drive = stiff * np.array([[1.0, -1.0], [-1.0, 1.0]]), np.array([1.0, 0.0])
    for k in np.linspace(3e3, 5e3, 20):
        terms = Term(tie, Constant(1.01)), Term(k * np.eye(2), Stiffening()), Term(1e-3 * np.eye(2), derivatives=MASS)
        structure = Structure(0, terms, (), drive, drive, np.ones((0, 2)), np.ones(0))
        exact = (k * 1000**-0.6 / (1e-3 * (2 * np.pi) ** 2)) ** (1 / 1.4)
        assert solve(structure, 5e3).mode_hz == pytest.approx([exact], rel=1e-9)


def test_twins_are_not_parted():
    """They span one mode, not two: of many close modes some ended as NaN or in an error of linear algebra."""
    own = InSpan([Term(np.eye(3), Stiffening())], np.diag((2 * np.pi * np.array([500.0, 1000.0, 3000.0])) ** 2)[None])
    shape = np.array([0.0, 1.0, 1e-9])
    twins = np.array([1000.0, 1000.0]), np.stack((shape, shape * (1 + 1e-15)), axis=1)
    for found, given in zip(own.parted(*twins), twins, strict=True):
        np.testing.assert_array_equal(found, given)


@dataclass(frozen=True)
class Stiffening:
    """A storage modulus that goes with f^0.6, or another power, one at 1 kHz."""

    power: float = 0.6
    constant, stiffens = False, True

    def __call__(self, frequency_hz):
        return (np.asarray(frequency_hz) / 1000.0) ** self.power + 0j


def own_square(structure, place, square):
    for _ in range(FALLS):
        hz = np.sqrt(square) / (2 * np.pi)
        square = eigenpairs_below(structure.stiffness_at(hz), structure.mass, 2.25 * square).squares[place]
    return square
