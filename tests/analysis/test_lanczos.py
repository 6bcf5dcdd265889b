"""Blocks of Lanczos vectors however uneven, against what orthonormal vectors and a triangle are by definition."""

from dataclasses import replace

import numpy as np
import pytest
from harsh_domes import harsh_dome
from scipy.linalg import eigh
from scipy.sparse import csr_matrix, diags

from diaphragm_fem.analysis.modes.eigen import eigenpairs_below
from diaphragm_fem.analysis.modes.lanczos import _orthogonal, largest_pairs
from diaphragm_fem.design.meridian.edge import Edge
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.shell.shell import build_shell

SIZE = 60
RANDOM = np.random.default_rng(3)
MASS = csr_matrix(diags(RANDOM.uniform(0.5, 2, SIZE)))
BASIS = np.linalg.qr(RANDOM.standard_normal((SIZE, 8)))[0] / np.sqrt(MASS.diagonal())[:, None]


def made_orthonormal(block, mass, basis):
    """A block put together again of the orthonormal vectors made of it, and what of it no basis has."""
    found, weighted, triangle = _orthogonal(block, mass, basis, mass @ basis)
    np.testing.assert_allclose(found.T @ (mass @ found), np.eye(4), rtol=0, atol=5e-9)
    np.testing.assert_allclose(basis.T @ (mass @ found), 0, atol=5e-9)
    np.testing.assert_allclose(weighted, mass @ found, rtol=0, atol=5e-9)
    return found @ triangle, block - basis @ (basis.T @ (mass @ block))


@pytest.mark.parametrize("heavy", [1, 2, 3])
@pytest.mark.parametrize("decades", range(0, 17, 2))
def test_a_block_is_made_orthonormal_however_uneven_it_is(decades, heavy):
    """Up to three directions outweigh the others by as many decades: 2e-9 is the worst of a thousand each. The block is
    its orthonormal vectors times the triangle, without what the basis has."""
    random = np.random.default_rng(decades)
    for _ in range(50):
        block = random.standard_normal((SIZE, 4))
        block += 10.0**decades * random.standard_normal((SIZE, heavy)) @ random.standard_normal((heavy, 4))
        made, left = made_orthonormal(block, MASS, BASIS)
        np.testing.assert_allclose(made, left, rtol=0, atol=1e-12 * np.abs(block).max())


@pytest.mark.parametrize("decades", [3, 7, 11])
def test_a_block_is_made_orthonormal_in_an_uneven_mass(decades):
    """Turns weigh by as many decades less than shifts: columns that are orthogonal as they are may have but a
    thousandth to themselves in the mass, whatever is done to them as they are."""
    random = np.random.default_rng(decades)
    for _ in range(200):
        mass = csr_matrix(diags(10.0 ** -random.uniform(0, decades, SIZE)))
        block = random.standard_normal((SIZE, 4)) / np.sqrt(mass.diagonal())[:, None] ** random.uniform(0, 1)
        basis = random.standard_normal((SIZE, 8)) / np.sqrt(mass.diagonal())[:, None]
        basis = basis @ np.linalg.inv(np.linalg.cholesky(basis.T @ (mass @ basis))).T
        made, left = made_orthonormal(block, mass, basis)
        np.testing.assert_allclose(made, left, rtol=0, atol=1e-11 * np.abs(left).max())


@pytest.mark.parametrize("number", [0, 2])
def test_the_modes_of_a_free_dome_are_all_found(number):
    """Against all by a dense solve. In the mass one column of their first block has 9.5e-4 to itself, even orthogonal
    as it is: made so again and again, modes of free domes ended as if they were no numbers."""
    design = replace(harsh_dome(number), outer_edge=Edge())
    structure = build_shell(design, up_to_hz=20e3, corrected=True).structure(0)
    stiffness, mass = structure.stiffness_at(20e3), structure.mass
    top = (2 * np.pi * 20e3) ** 2
    found = eigenpairs_below(stiffness, mass, top)
    exact = eigh(stiffness.toarray(), mass.toarray(), eigvals_only=True)
    np.testing.assert_allclose(found.squares / top, exact[exact < top] / top, rtol=1e-6, atol=1e-8)  # a dense solve


@pytest.mark.parametrize("rigid", [1e2, 1e4, 1e6])
def test_pairs_beside_a_far_larger_one_are_all_found(rigid):
    """Of a diagonal problem, whose values are known; rounding is that of the largest, and so is what is off."""
    values = np.concatenate(([rigid], 1 / np.arange(1, 300.0) ** 2))
    mass = np.random.default_rng(3).uniform(0.5, 2, len(values))
    found, vectors = largest_pairs(lambda x: values[:, None] * x / mass[:, None], csr_matrix(diags(mass)), 20)
    np.testing.assert_allclose(found, values[:20], rtol=1e-13 * rigid)
    np.testing.assert_allclose(vectors.T @ (mass[:, None] * vectors), np.eye(20), rtol=0, atol=1e-10)


@pytest.mark.parametrize(("size", "wanted", "tried"), [(200, 150, ""), (130, 60, "; inertia count 60")])
def test_modes_of_a_chain_are_all_found_where_blocks_have_no_room(size, wanted, tried):
    """More than half of all are solved for at once, and so are 60 of 130, which a basis of 65 vectors does not settle.
    Equal masses on springs between two walls: w_k = 2 sin(k pi/(2 n + 2)) (Lagrange, Mecanique analytique (1788);
    from memory)."""
    exact = 4 * np.sin(np.arange(1, size + 1) * np.pi / (2 * size + 2)) ** 2
    chain, one = csr_matrix(diags([-1.0, 2.0, -1.0], [-1, 0, 1], shape=(size, size))), csr_matrix(diags(np.ones(size)))
    found = eigenpairs_below(chain, one, float(exact[wanted - 1 : wanted + 1].mean()))
    np.testing.assert_allclose(found.squares, exact[:wanted], rtol=1e-10)
    assert found.evidence == f"dense solve of all {size} unknowns{tried}"


def test_a_stiffness_that_pulls_is_refused():
    with pytest.raises(AnalysisError, match="the stiffness must be positive, and is not"):
        eigenpairs_below(np.diag([1.0, -1.0]), np.eye(2), 1.0)


def test_what_is_no_number_ends():
    with pytest.raises(AnalysisError, match="modes need stiffness and mass of finite numbers"):
        largest_pairs(lambda x: np.nan * x, MASS, 5)
