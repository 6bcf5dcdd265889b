"""The inertia of bulges: what it takes out of a train of bending waves, and what it leaves alone."""

import numpy as np
import pytest
from scipy.linalg import eigh

from diaphragm_fem.model.shell.wave_inertia import wave_inertia

MODULUS_OVER_SHEAR = 1e-8  # thin: bending stiffness and mass per length are 1, k = 1


def squared_frequency(h: float, bulges: bool) -> float:
    """omega^2 of the wave exp(i x) on endless quadratic beam elements of length h, begin and end tied by exp(i h)."""

    def shape(x: float) -> np.ndarray:
        return np.array([x * (x - 1) / 2, x * (x + 1) / 2, 1 - x * x])  # begin, end, middle

    def slope(x: float) -> np.ndarray:
        return np.array([x - 0.5, x + 0.5, -2 * x]) * 2 / h

    stiffness, mass = np.zeros((6, 6)), np.zeros((6, 6))
    for x in np.array((-1, 1)) / np.sqrt(3):
        bend, slide = np.concatenate((np.zeros(3), slope(x))), np.concatenate((slope(x), shape(x)))
        stiffness += h / 2 * (np.outer(bend, bend) + np.outer(slide, slide) / MODULUS_OVER_SHEAR)
    for x, weight in ((-np.sqrt(0.6), 5 / 9), (0, 8 / 9), (np.sqrt(0.6), 5 / 9)):
        mass[:3, :3] += h / 2 * weight * np.outer(shape(x), shape(x))
    if bulges:
        mass += wave_inertia(("w", "b"), np.array([h]))[0]
    tie = np.zeros((6, 4), complex)
    for field in (0, 1):
        tie[3 * field, 2 * field], tie[3 * field + 1, 2 * field], tie[3 * field + 2, 2 * field + 1] = (
            1,
            np.exp(1j * h),
            1,
        )
    k, m = (tie.conj().T @ matrix @ tie for matrix in (stiffness, mass))
    turns = np.linalg.solve(k[2:, 2:], k[2:, :2])
    return float(eigh(k[:2, :2] - k[:2, 2:] @ turns, m[:2, :2], eigvals_only=True)[0])


def test_waves_come_out_high_by_a_240th_of_the_fourth_power() -> None:
    """At eight elements per wave 3 % off that limit, less with more: the next power."""
    for count, within in ((8, 0.04), (16, 0.02)):
        h = 2 * np.pi / count
        assert (squared_frequency(h, False) - 1) / (h**4 / 240) == pytest.approx(1, rel=within)


def test_with_bulges_the_sixth_power_is_left() -> None:
    errors = [squared_frequency(2 * np.pi / count, True) - 1 for count in (6, 9)]
    assert abs(errors[0]) < 2e-4 < 0.1 * (squared_frequency(2 * np.pi / 6, False) - 1)
    assert np.log(errors[0] / errors[1]) / np.log(1.5) == pytest.approx(6, abs=0.4)  # 5.7


def test_what_moves_in_a_line_has_no_bulge() -> None:
    """Shifts and tilts of a straight element weigh what they did, and turns never bulge."""
    (matrix,) = wave_inertia(("u", "w", "b"), np.array([3.0]))
    for line in (np.ones(3), np.array([0.0, 1.0, 0.5])):
        assert np.abs(matrix @ np.kron([1.0, -2.0, 5.0], line)).max() < 1e-14
    assert not matrix[6:].any() and np.trace(matrix) == pytest.approx(2 * 3.0 / 15 * 6)
