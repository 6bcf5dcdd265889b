"""Estimates of error are tested like answers: each is held against the error it speaks of."""

from __future__ import annotations

import numpy as np
import pytest
from direct_reference import chosen, reference
from numpy.typing import NDArray
from sampled_designs import GROUPS, sampled_design
from scipy.linalg import eigh

from diaphragm_fem.analysis import basis as basis_module
from diaphragm_fem.analysis import reduced as reduced_module
from diaphragm_fem.analysis.area import area_error, direct_area
from diaphragm_fem.analysis.curve import Curve, picked
from diaphragm_fem.analysis.modes import solve_modes
from diaphragm_fem.analysis.reduced import reduce_structure
from diaphragm_fem.analysis.response import respond
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.analysis.static import solve_static
from diaphragm_fem.model.shell import build_shell
from diaphragm_fem.model.structure import Structure, projected

UP_TO_HZ = 20e3
LEAST_SHARE, MOST_TIMES = 1 / 3, 30.0  # of the true worst that an estimate may tell
KNOWN = 1e-9  # errors below are rounding, of the direct solve too


def structure_of(group: str, number: int) -> Structure:
    return build_shell(sampled_design(group, number), up_to_hz=UP_TO_HZ).structure(0, by_zone=False)


def off(curve: Curve, exact: Curve) -> NDArray:
    return np.abs(curve.total - exact.total) / np.maximum(np.abs(exact.total), abs(float(curve.low.sum())))


def told_share_of_worst(group: str, number: int) -> float:
    """The estimated error of a curve over the worst found at 300 direct solves that do not know its points."""
    structure = structure_of(group, number)
    solution, found = solve(structure, UP_TO_HZ), reference(structure, 20.0, UP_TO_HZ)
    exact = picked(found.curve, chosen(found, 300))
    true = float(off(solution.reduced.curve(exact.frequency_hz), exact).max())
    return area_error(structure, solution.curve(400)) / max(true, KNOWN)


@pytest.mark.parametrize("group, number", [("tables", 10), ("lossless", 0)])
def test_the_error_of_a_curve_is_told(group: str, number: int) -> None:
    assert LEAST_SHARE < told_share_of_worst(group, number) < MOST_TIMES


@pytest.mark.long
@pytest.mark.parametrize("group", GROUPS)
def test_the_error_of_every_curve_is_told(group: str) -> None:
    shares = [told_share_of_worst(group, number) for number in range(8)]
    print(f"\n{group}: told over true worst {min(shares):.2f} ... {max(shares):.2f}")
    assert all(LEAST_SHARE < share < MOST_TIMES for share in shares), shares


@pytest.mark.parametrize("snapshots", [3, 5])
@pytest.mark.parametrize("group", ["library", "tables"])
def test_the_residual_tells_what_a_poor_basis_misses(group: str, snapshots: int, monkeypatch) -> None:
    """At the frequencies that it looks at: a third to thirty times the true error, and the basis is then mended."""
    structure = structure_of(group, 0)
    low = solve_static(structure, 20.0).low
    monkeypatch.setattr(basis_module, "SNAPSHOTS", snapshots)
    monkeypatch.setattr(reduced_module, "MOST_ROUNDS", 0)
    poor = reduce_structure(structure, UP_TO_HZ, low)
    missing = reduced_module._Missing(structure, UP_TO_HZ, abs(float(low.sum())))
    at = missing.frequency
    told, exact = missing.errors(poor.basis, poor.small), direct_area(structure, at)
    motion = respond(projected(structure, poor.basis), at)
    area = structure.volume.sum(axis=0) @ poor.basis @ motion / (structure.pickup @ poor.basis @ motion)
    true = np.abs(area - exact.total) / np.maximum(np.abs(exact.total), abs(float(low.sum())))
    seen = true > KNOWN
    assert true.max() > reduced_module.TOLERANCE, "the basis is not poor enough to test anything"
    share = told[seen] / true[seen]
    print(f"\n{group}, {snapshots}: worst {true.max():.1e}, told over true {share.min():.2f} ... {share.max():.2f}")
    assert np.all(share > LEAST_SHARE) and np.all(share < MOST_TIMES), share
    monkeypatch.undo()
    monkeypatch.setattr(basis_module, "SNAPSHOTS", snapshots)
    mended = reduce_structure(structure, UP_TO_HZ, low)
    assert off(mended.curve(at), exact).max() < 10 * reduced_module.TOLERANCE


@pytest.mark.parametrize("m", range(4))
@pytest.mark.parametrize("group, number", [("library", 2), ("soft", 2), ("lossless", 3)])
def test_no_mode_is_missing(group: str, number: int, m: int) -> None:
    """As many modes as a dense solve of all unknowns finds below the top, of the inverted problem: else low modes of
    soft walls drown in the rounding of the highest.
    """
    structure = build_shell(sampled_design(group, number), up_to_hz=UP_TO_HZ).structure(m)
    if structure.modulus_varies:
        pytest.skip("a modulus that varies has no one eigenproblem")
    mass, stiffness, top = structure.mass.toarray(), structure.stiffness.toarray(), (2 * np.pi * UP_TO_HZ) ** 2
    shift = 1e-4 * top
    squares = np.sort(1 / eigh(mass, stiffness + shift * mass, eigvals_only=True) - shift)
    exact = np.sqrt(squares[squares < top][structure.rigid_modes :]) / (2 * np.pi)
    found = solve_modes(structure, UP_TO_HZ)
    assert len(found) == len(exact)
    np.testing.assert_allclose(found.frequency_hz, exact, rtol=5e-6)  # 1.2e-6: rounding of 4.9 Hz on a soft wall
