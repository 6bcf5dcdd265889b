"""What vectors add to a basis orthonormal in the mass."""

import numpy as np
import pytest
from scipy.sparse import diags

from diaphragm_fem.analysis.span import extended

MASS = diags(np.arange(1.0, 7.0), format="csr")
BASIS = np.eye(6)[:, :2] / np.sqrt([1.0, 2.0])
THERE = 5.0 * BASIS[:, :1]
ADDED = {"nothing at all": (0.0, 0), "what is there": (THERE, 0), "one of both": (1.0, 1), "small": (1e-60, 1)}


@pytest.mark.parametrize(("vectors", "more"), ADDED.values(), ids=ADDED)
def test_a_basis_takes_what_is_new(vectors, more):
    found = extended(BASIS, np.hstack((np.zeros((6, 1)), vectors * np.ones((6, 1)))), MASS)
    assert found.shape == (6, 2 + more)
    np.testing.assert_allclose(found.T @ (MASS @ found), np.eye(2 + more), atol=1e-14)
