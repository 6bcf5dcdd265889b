"""Blocks of Lanczos vectors however uneven, against what orthonormal vectors and a triangle are by definition."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix, diags

from diaphragm_fem.analysis.modes.lanczos import _orthogonal, largest_pairs
from diaphragm_fem.errors import AnalysisError

SIZE = 60
RANDOM = np.random.default_rng(3)
MASS = csr_matrix(diags(RANDOM.uniform(0.5, 2, SIZE)))
BASIS = np.linalg.qr(RANDOM.standard_normal((SIZE, 8)))[0] / np.sqrt(MASS.diagonal())[:, None]


@pytest.mark.parametrize("heavy", [1, 2, 3])
@pytest.mark.parametrize("decades", range(0, 17, 2))
def test_a_block_is_made_orthonormal_however_uneven_it_is(decades, heavy):
    """Up to three directions outweigh the others by as many decades: 2e-9 is the worst of a thousand each. The block is
    its orthonormal vectors times the triangle, without what the basis has."""
    random = np.random.default_rng(decades)
    for _ in range(50):
        block = random.standard_normal((SIZE, 4))
        block += 10.0**decades * random.standard_normal((SIZE, heavy)) @ random.standard_normal((heavy, 4))
        found, weighted, triangle = _orthogonal(block, MASS, BASIS, MASS @ BASIS)
        np.testing.assert_allclose(found.T @ (MASS @ found), np.eye(4), rtol=0, atol=5e-9)
        np.testing.assert_allclose(BASIS.T @ (MASS @ found), 0, atol=5e-9)
        np.testing.assert_allclose(weighted, MASS @ found, rtol=0, atol=5e-9)
        left = block - BASIS @ (BASIS.T @ (MASS @ block))
        np.testing.assert_allclose(found @ triangle, left, rtol=0, atol=1e-12 * np.abs(block).max())


@pytest.mark.parametrize("rigid", [1e2, 1e4, 1e6])
def test_pairs_beside_a_far_larger_one_are_all_found(rigid):
    """Of a diagonal problem, whose values are known; rounding is that of the largest, and so is what is off."""
    values = np.concatenate(([rigid], 1 / np.arange(1, 300.0) ** 2))
    mass = np.random.default_rng(3).uniform(0.5, 2, len(values))
    found, vectors = largest_pairs(lambda x: values[:, None] * x / mass[:, None], csr_matrix(diags(mass)), 20)
    np.testing.assert_allclose(found, values[:20], rtol=1e-13 * rigid)
    np.testing.assert_allclose(vectors.T @ (mass[:, None] * vectors), np.eye(20), rtol=0, atol=1e-10)


def test_what_is_no_number_ends():
    with pytest.raises(AnalysisError, match="modes need stiffness and mass of finite numbers"):
        largest_pairs(lambda x: np.nan * x, MASS, 5)
