"""Harmonics of a mass on a bent spring: perturbation, the equation integrated in time, Mathieu's threshold."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import ellipk

from diaphragm_fem.analysis.large_stroke.harmonic_balance import BentSpring, Pull, _newton, balance, harmonics_of
from diaphragm_fem.errors import AnalysisError

M, K, R = 2e-3, 800.0, 0.6  # kg, N/m, N s/m
N = 8


def impedance(frequency):
    omega = 2 * np.pi * frequency * np.arange(N + 1)
    return K + 1j * omega * R - omega**2 * M


def bent(square, cube=0.0):
    return BentSpring(lambda x: square * x**2 + cube * x**3, lambda x: 2 * square * x + 3 * cube * x**2)


def test_weak_square_spring_gives_the_second_harmonic_of_perturbation():
    """x2 = -k2 X^2/(2 D(2 omega)), mean -k2 X^2/(2 K) (Nayfeh and Mook (1979), section 2.3.1, re-derived); the next
    order is (k2 X/K)^2 = 1e-6 of it."""
    k2, x = 2e3, 0.4e-3
    found = balance(impedance(70.0), bent(k2), x, driven=False)
    assert found.motion[2] == pytest.approx(-k2 * x**2 / 2 / impedance(70.0)[2], rel=1e-5)
    assert found.motion[0].real == pytest.approx(-k2 * x**2 / 2 / K, rel=1e-5)
    assert found.motion[1] == x
    assert found.force == pytest.approx(impedance(70.0)[1] * x, rel=1e-5)


@pytest.mark.parametrize(
    ("frequency", "k2", "k3"), [(45.0, -2e5, 4e8), (95.0, -2e5, 4e8), (180.0, -2e5, 4e8), (100.0, 0.0, 1.2e10)]
)
def test_strong_spring_follows_the_equation_in_time(frequency, k2, k3):
    """m x'' + r x' + K x + k2 x^2 + k3 x^3 = F cos omega t integrated until the transient has died (e^-30). The last is
    found from gentler levels alone: Newton's steps from the linear answer do not settle."""
    force = 0.25
    assert (_newton(impedance(frequency), bent(k2, k3), force, True, None, Pull()) is None) == (k3 > 1e10)
    found = balance(impedance(frequency), bent(k2, k3), force, driven=True)
    omega = 2 * np.pi * frequency
    period = 1 / frequency

    def motion(t, y):
        pull = force * np.cos(omega * t) - R * y[1] - K * y[0] - k2 * y[0] ** 2 - k3 * y[0] ** 3
        return [y[1], pull / M]

    begin = np.ceil(0.2 / period) * period
    t = begin + period * np.arange(128) / 128
    solved = solve_ivp(motion, (0, t[-1]), [0.0, 0.0], t_eval=t, rtol=1e-10, atol=1e-13)
    expected = harmonics_of(solved.y[0], 4)
    np.testing.assert_allclose(found.motion[1:5], expected[1:5], atol=2e-5 * abs(expected[1]))
    assert np.abs(expected[2:4]).max() > 1e-3 * abs(expected[1])


@pytest.mark.parametrize("hardening", [0.3, 3.0])
def test_the_free_motion_of_duffings_spring_needs_no_force(hardening):
    """m x'' + K x + k3 x^3 = 0 swings as A cn(W t, k), W^2 = (K + k3 A^2)/m, k^2 = k3 A^2/(2 (K + k3 A^2)), as putting
    it in shows (problem of Nayfeh and Mook (1979), section 2.1): the series of cn in its nome q (Abramowitz and Stegun,
    16.23.2) gives the frequency and x3/x1 = q (1 + q)/(1 + q^3), x5/x1 = q^2 (1 + q)/(1 + q^5). Harmonics beyond the
    eighth are left out."""
    amplitude = 1e-3
    cube = hardening * K / amplitude**2
    modulus = hardening / (2 * (1 + hardening))
    quarter = ellipk(modulus)
    q = np.exp(-np.pi * ellipk(1 - modulus) / quarter)
    omega = np.pi * np.sqrt(K * (1 + hardening) / M) / (2 * quarter)
    first = amplitude * 2 * np.pi / (np.sqrt(modulus) * quarter) * np.sqrt(q) / (1 + q)
    free = K - (omega * np.arange(N + 1)) ** 2 * M + 0j
    found = balance(free, bent(0.0, cube), first, driven=False)
    assert abs(found.force) < 1e-5 * K * first
    for n, ratio in ((3, q * (1 + q) / (1 + q**3)), (5, q**2 * (1 + q) / (1 + q**5))):
        assert found.motion[n] / first == pytest.approx(ratio, rel=2e-3 if n == 5 else 1e-4)


def in_a_field(frequency):
    """Bl(x) = 4.5 (1 - 170 x - 4.4e5 x^2) N/A on a coil of 5 ohm and 0.8 mH."""
    omega = 2 * np.pi * frequency * np.arange(N + 1)
    return Pull(
        lambda x: 1 - 170 * x - 4.4e5 * x**2,
        lambda x: -170 - 8.8e5 * x,
        lambda x: x - 85 * x**2 - 4.4e5 / 3 * x**3,
        1j * omega * 4.5**2 / (5 + 0.8e-3j * omega),
    )


@pytest.mark.parametrize("frequency", [45.0, 100.0, 240.0])
def test_a_force_factor_that_changes_follows_coil_and_circuit_in_time(frequency):
    """m x'' + r x' + K x + k2 x^2 = Bl(x) i and R i + L i' + Bl(x) x' = V cos(w t) (Faraday and Lorentz; derived here)
    integrated until the transient has died (e^-38). The force is that on the coil held at rest, Bl(0) V/Z_c; given the
    motion that it makes, it is found again."""
    volts, omega, k2 = 1.0, 2 * np.pi * frequency, -2e5
    force, pull = 4.5 * volts / abs(5 + 0.8e-3j * omega), in_a_field(frequency)

    def motion(t, y):
        bl = 4.5 * (1 - 170 * y[0] - 4.4e5 * y[0] ** 2)
        push = bl * y[2] - R * y[1] - K * y[0] - k2 * y[0] ** 2
        return y[1], push / M, (volts * np.cos(omega * t) - 5 * y[2] - bl * y[1]) / 0.8e-3

    t = (np.ceil(0.2 * frequency) + np.arange(128) / 128) / frequency
    solved = solve_ivp(motion, (0, t[-1]), (0.0, 0.0, 0.0), "DOP853", t_eval=t, rtol=1e-8, atol=1e-12).y[0]
    expected = harmonics_of(solved, 4)
    found = balance(impedance(frequency), bent(k2), force, driven=True, pull=pull)
    late = np.exp(1j * np.arange(5) * np.angle(5 + 0.8e-3j * omega))  # the force on a coil held lags behind the voltage
    np.testing.assert_allclose(found.motion[:5], expected * late, atol=2e-5 * abs(expected[1]))
    assert abs(expected[2]) > 5e-3 * abs(expected[1])
    again = balance(impedance(frequency), bent(k2), abs(found.motion[1]), driven=False, pull=pull)
    assert abs(again.force) == pytest.approx(force, rel=1e-8)
    np.testing.assert_allclose(np.abs(again.motion), np.abs(found.motion), atol=1e-8 * abs(expected[1]))


def test_given_motion_and_given_force_are_the_same_state():
    by_motion = balance(impedance(60.0), bent(-1e5, 1e8), 0.5e-3, driven=False)
    by_force = balance(impedance(60.0), bent(-1e5, 1e8), abs(by_motion.force), driven=True)
    np.testing.assert_allclose(np.abs(by_force.motion), np.abs(by_motion.motion), rtol=1e-6, atol=1e-12)


def test_harmonics_of_a_known_signal():
    t = 2 * np.pi * np.arange(128) / 128
    found = harmonics_of(0.3 + 2 * np.cos(t) - 0.5 * np.sin(3 * t), 4)
    np.testing.assert_allclose(found, [0.3, 2, 0, 0.5j, 0], atol=1e-12)


def test_what_finds_no_balance_is_said():
    """A spring that gives way for good past 0.1 mm cannot bear a slow force above what it holds there."""
    soft = BentSpring(lambda x: 0.08 * np.tanh(1e4 * x) - K * x, lambda x: 800 * (1 - np.tanh(1e4 * x) ** 2) - K)
    still = np.full(N + 1, K + 0j)
    with pytest.raises(AnalysisError, match="no periodic motion was found at this level and frequency; ask for"):
        balance(still, soft, 0.5, driven=True)
    torn = replace(soft, departure=lambda x: np.where(np.abs(x) > 1e-6, np.nan, 0.0))  # says nothing of what is far
    with pytest.raises(AnalysisError, match="no periodic motion was found"):
        balance(still, torn, 0.5, driven=True)
