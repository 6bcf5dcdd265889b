"""Modes with losses and loads on: a damped mass on a spring, and a resonator hidden in a load."""

import numpy as np
import pytest

from diaphragm_fem.analysis.modes.damped import damped_modes
from diaphragm_fem.model.law import Constant
from diaphragm_fem.model.structure import DAMPER, MASS, Load, Port, Structure, Term

ONE = np.ones(1)


def structure(terms, size=1):
    coil = np.eye(size)[0]
    return Structure(0, terms, (), coil, coil, np.zeros((0, size)), np.zeros(0))


@pytest.mark.parametrize("quality", [0.2, 0.5, 20.0])
def test_a_damped_mass_on_a_spring_has_its_frequency_and_quality(quality):
    """1 kg, w0 = 2 pi 100 Hz: frequency 100 Hz and loss factor 1/Q, over- or underdamped; by definition of Q."""
    w = 2 * np.pi * 100.0
    spring, damper = Term(np.array([[w**2]])), Term(np.array([[w / quality]]), derivatives=DAMPER)
    found = damped_modes(structure((spring, damper, Term(np.eye(1), derivatives=MASS))), 20.0, 1e3)
    assert found.frequency_hz == pytest.approx([100.0], rel=1e-6)
    assert found.loss_factor == pytest.approx([1 / quality], rel=1e-6)


def hidden_resonator(f, stiffness, mass, loss):
    """Dynamic stiffness (F, 1, 1) of a mass behind a lossy spring: k (-w^2 m)/(k - w^2 m)."""
    w, k = 2 * np.pi * f, stiffness * (1 + 1j * loss)
    return (k * -(w**2) * mass / (k - w**2 * mass))[:, None, None]


def test_a_resonator_hidden_in_a_load_gives_its_modes_and_none_at_its_pole():
    """Both modes of two masses, the second one hidden in a load, against the roots of the whole matrix."""
    w, loss, k, m = 2 * np.pi * 300.0, 0.005, 5e5, 0.4
    load = Load(Port("hidden", np.eye(1)), lambda f: hidden_resonator(f, k, m, loss))
    spring = Term(np.array([[w**2]]), Constant(1 + 1j * loss))
    found = damped_modes(structure((spring, Term(np.eye(1), derivatives=MASS))).loaded(load), 20.0, 1e3)
    stiffness = np.array([[w**2 + k, -k], [-k, k]]) * (1 + 1j * loss)
    values = np.sort_complex(np.linalg.eigvals(stiffness / np.array([[1.0], [m]])))
    assert found.frequency_hz == pytest.approx(np.sqrt(values.real) / (2 * np.pi), rel=1e-4)  # 6e-5: as loss^2
    assert found.loss_factor == pytest.approx([loss, loss], rel=2e-3)
    # what moves in the load counts: kinetic energy of both masses per motion of the first
    moved = k / (k - (2 * np.pi * found.frequency_hz) ** 2 * m)
    assert found.mass == pytest.approx(1 + m * moved**2, rel=5e-3)


def test_a_strongly_damped_resonator_in_a_load_adds_no_false_mode():
    load = Load(Port("hidden", np.eye(1)), lambda f: hidden_resonator(f, 5e5, 0.4, 0.05))
    spring = Term(np.array([[(2 * np.pi * 300.0) ** 2]]), Constant(1 + 0.02j))
    found = damped_modes(structure((spring, Term(np.eye(1), derivatives=MASS))).loaded(load), 20.0, 1e3)
    assert len(found.frequency_hz) == 2 and np.all(found.loss_factor > 0)


def test_two_modes_half_a_hertz_apart_stay_two():
    """100 and 100.5 Hz of two masses that do not touch, each with its own loss: closed forms."""
    squares = (2 * np.pi * np.array([100.0, 100.5])) ** 2
    springs = [
        Term(np.diag(one), Constant(1 + 1j * loss)) for one, loss in zip(np.diag(squares), (0.01, 0.02), strict=True)
    ]
    found = damped_modes(structure((*springs, Term(np.eye(2), derivatives=MASS)), 2), 20.0, 1e3)
    assert found.frequency_hz == pytest.approx([100.0, 100.5], rel=1e-9)
    assert found.loss_factor == pytest.approx([0.01, 0.02], rel=1e-6)


def test_where_losses_make_shapes_complex_mass_and_loss_are_still_the_eigenvalues():
    """Two masses that overlap, 0.4 of one's spring lost, a resonator hidden on it: 1 - Re dl/d(w^2) and Im l/(w^2 of
    that), the slope by differences of the eigenvalues themselves. By x^H A x masses would be 2 to 5 % off."""
    w, k, m, loss = 2 * np.pi * 300.0, 2e5, 0.06, 0.02
    load = Load(Port("hidden", np.eye(2)[:, :1]), lambda f: hidden_resonator(f, k, m, loss))
    lossy, other = w**2 * np.diag([1.0, 0.0]), w**2 * (np.diag([0.0, 1.02]) + 0.1 * np.array([[1, -1], [-1, 1]]))
    springs = Term(lossy, Constant(1 + 0.4j)), Term(other, Constant(1 + 0.01j))
    found = damped_modes(structure((*springs, Term(np.eye(2), derivatives=MASS)), 2).loaded(load), 20.0, 1e3)
    assert len(found.mass) == 3

    def value(square, like):
        hidden = hidden_resonator(np.sqrt([square]) / (2 * np.pi), k, m, loss)[0, 0, 0]
        values, shapes = np.linalg.eig(lossy * (1 + 0.4j) + other * (1 + 0.01j) + np.diag([hidden, 0.0]))
        return values[np.abs(shapes.conj().T @ like).argmax()]

    square = (2 * np.pi * found.frequency_hz) ** 2
    below, there, above = ([value(s * x, y) for s, y in zip(square, found.shapes.T, strict=True)] for x in STEPS)
    mass = 1 - np.real(np.subtract(above, below)) / ((STEPS[2] - STEPS[0]) * square)
    np.testing.assert_allclose(np.real(there), square, rtol=1e-5)
    np.testing.assert_allclose(found.mass, mass, rtol=2e-3)  # theirs is a slope over 1e-4 of the frequency
    np.testing.assert_allclose(found.loss_factor, np.imag(there) / (square * mass), rtol=2e-3)


STEPS = 1 - 1e-5, 1.0, 1 + 1e-5
