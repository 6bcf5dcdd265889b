"""Monotone cubics against those of SciPy, which shares no code with them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from diaphragm_fem.design.monotone_cubic import MonotoneCubic


@pytest.mark.parametrize("seed", range(40))
def test_values_and_integrals_are_those_of_scipy(seed: int) -> None:
    """From two points to twelve, rising ones and such that turn or stand still. Rounding of some 1e-14 measured."""
    random = np.random.default_rng(seed)
    x = np.cumsum(random.uniform(0.01, 3, seed % 11 + 2))
    y = random.standard_normal(len(x)).round(seed % 3) if seed % 2 else np.cumsum(random.uniform(0, 1, len(x)))
    at = np.concatenate((random.uniform(x[0], x[-1], 50), x))
    curve, reference = MonotoneCubic(x, y), PchipInterpolator(x, y)
    assert curve(at) == pytest.approx(reference(at), abs=1e-10)
    assert curve.integral(at) == pytest.approx(reference.antiderivative()(at), abs=1e-10)
    assert curve(float(at[0])) == pytest.approx(float(reference(at[0])), abs=1e-10)


def test_it_never_swings_beyond_its_points() -> None:
    x, y = np.array([0.0, 1.0, 2.0, 3.0]), np.array([0.0, 0.0, 1.0, 1.0])
    values = MonotoneCubic(x, y)(np.linspace(0, 3, 301))
    assert values.min() == 0
    assert values.max() == pytest.approx(1, abs=1e-10)
    assert np.diff(values).min() >= 0
