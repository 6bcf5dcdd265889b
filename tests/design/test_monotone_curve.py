"""Curves of materials over frequency against SciPy's, which are the same by another hand."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from diaphragm_fem.design.material.monotone_curve import monotone_curve

TABLES = {
    "two points": [0.02, 0.7],
    "rising": [0.02, 0.03, 0.4, 0.41, 0.9],
    "falling": [0.9, 0.5, 0.49, 0.1, 0.02],
    "a peak": [0.1, 0.6, 0.3, 0.05],
    "flat": [0.2, 0.2, 0.5, 0.5, 0.1],
    "an end that would swing": [0.0, 0.01, 1.0, 1.01],
    "ends that turn": [0.3, 0.31, -2.0, 0.5, 0.49],
}


@pytest.mark.parametrize("values", TABLES.values(), ids=TABLES)
def test_a_curve_and_its_integral_are_scipys(values):
    x = np.log([10.0, 31.0, 900.0, 4e3, 2e4][: len(values)])
    own, other = monotone_curve(x, np.array(values)), PchipInterpolator(x, values)
    places = np.concatenate((x, np.linspace(x[0], x[-1], 200)))
    assert own(places) == pytest.approx(other(places), abs=1e-14)  # rounding
    assert own.integral(places) == pytest.approx(other.antiderivative()(places), abs=1e-13)


def test_a_number_is_answered_by_a_number():
    curve = monotone_curve(np.array([0.0, 1.0, 3.0]), np.array([1.0, 2.0, 5.0]))
    assert float(curve(np.float64(1.0))) == 2.0 and curve(np.float64(1.0)).shape == ()
