"""What must hold of every valid design, whatever it looks like: tried on random ones."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from random_designs import MM, analytic_mass, designs, number, reversed_design, scaled_walls, split_design
from scipy.linalg import eigh
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import eigsh

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.analysis.solution import direct_area
from diaphragm_fem.design.design import Design, Ring
from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid
from diaphragm_fem.model.structure import MASS, STIFFNESS, Structure, Term, multipliers

COMMON = {"deadline": None, "derandomize": True, "print_blob": True}
FEW = settings(max_examples=15, **COMMON)
FEWER = settings(max_examples=10, **COMMON)
ORDERS = st.integers(0, 4)
TOP = 20e3


def lowest(structure: Structure, count: int = 4) -> np.ndarray:
    """The lowest elastic frequencies in Hz, by shift-inverted Lanczos below the spectrum."""
    shift = (2 * np.pi * 100) ** 2
    squares = eigsh(
        csc_matrix(structure.stiffness),
        count + structure.rigid_modes,
        csc_matrix(structure.mass),
        sigma=-shift,
        return_eigenvectors=False,
        v0=np.ones(structure.size),
    )
    return np.sqrt(np.maximum(np.sort(squares)[structure.rigid_modes :], 0)) / (2 * np.pi)


@FEW
@given(designs(), ORDERS)
def test_matrices_are_symmetric_and_frequencies_real_and_positive(design: Design, m: int) -> None:
    """Symmetric to round-off, mass positive definite, stiffness positive but for the rigid motions."""
    structure = build_shell(design, up_to_hz=TOP).structure(m)
    for matrix in (structure.stiffness, structure.mass):
        assert abs(matrix - matrix.T).max() <= 1e-14 * abs(matrix).max()
    np.linalg.cholesky(structure.mass.toarray())  # refuses what is not positive, as `eigh` does its second matrix
    ends = [structure.size - structure.rigid_modes - 1, structure.size - 1]  # the largest of 1 / (square + 1e4)
    shifted = (structure.stiffness + 1e4 * structure.mass).toarray()
    lowest_first = 1 / eigh(structure.mass.toarray(), shifted, eigvals_only=True, subset_by_index=ends)[::-1] - 1e4
    assert np.all(lowest_first[structure.rigid_modes :] > 100)  # above 1.6 Hz, the floppiest of these parts
    # A parabola is not quite an arc, so a turning dome is strained a little: 1 Hz, where elastic modes begin at kHz.
    assert np.all(np.abs(lowest_first[: structure.rigid_modes]) < 1e-4 * lowest_first[structure.rigid_modes])
    found = solve_modes(structure, TOP)
    assert np.all(np.isreal(found.frequency_hz)) and np.all(found.frequency_hz > 0)


@FEW
@given(designs(free=True))
def test_a_free_part_shifts_with_its_whole_mass(design: Design) -> None:
    """The rigid axial motion, found as the null vector of the stiffness, weighs what Pappus says.

    1e-5: where metal and rubber meet, rounding in the stiffness bends the null vector; 2e-6 was met.
    """
    structure = build_shell(design, up_to_hz=TOP).structure(0)
    _, vectors = eigh(structure.mass.toarray(), (structure.stiffness + 1e4 * structure.mass).toarray())
    rigid = vectors[:, -1] / (structure.pickup @ vectors[:, -1])
    assert rigid @ (structure.mass @ rigid) == pytest.approx(analytic_mass(design), rel=1e-5)
    # Lifting everything by one metre sweeps the projected area.
    first, last = design.meridian[0].curve, design.meridian[-1].curve
    projected = np.pi * (last.point(last.length)[0] ** 2 - first.point(0.0)[0] ** 2)
    assert (structure.volume @ rigid).sum() == pytest.approx(projected, rel=1e-5)


@FEW
@given(designs())
def test_zones_sum_to_the_whole(design: Design) -> None:
    """Zone areas to pi (R^2 - r^2), whatever lies between, and each zone to its own ring."""
    structure = build_shell(design, up_to_hz=TOP).structure(0)
    for index, zone in enumerate(structure.zones):
        pieces = [piece for piece in design.meridian if piece.zone == zone]
        rings = [np.pi * (p.curve.point(p.curve.length)[0] ** 2 - p.curve.point(0.0)[0] ** 2) for p in pieces]
        assert structure.zone_area[index] == pytest.approx(sum(rings), rel=1e-6)


def _twice_energy(term: Term, vectors: np.ndarray) -> np.ndarray:
    return np.einsum("nm,nm->m", vectors, term.matrix @ vectors)


@FEW
@given(designs(), ORDERS)
def test_energy_shares_sum_to_one(design: Design, m: int) -> None:
    """Strain and kinetic energy by zone, with what ring and supports hold."""
    structure = build_shell(design, up_to_hz=TOP).structure(m)
    found = solve_modes(structure, TOP)
    ring = [term for term in structure.terms if term.zone < 0]
    square = (2 * np.pi * found.frequency_hz) ** 2
    held = {kind: 0 * square for kind in (STIFFNESS, MASS)}
    for term in ring:
        held[term.derivatives] = held[term.derivatives] + _twice_energy(term, found.vectors)
    strain, kinetic = held[STIFFNESS] / square, held[MASS]
    assert found.strain_share.sum(axis=1) + strain == pytest.approx(1, abs=1e-6)
    assert found.kinetic_share.sum(axis=1) + kinetic == pytest.approx(1, abs=1e-6)
    assert np.all(found.strain_share > -1e-9) and np.all(found.kinetic_share > -1e-9)


@FEW
@given(designs(), number(100, 5000))
def test_reciprocity(design: Design, frequency_hz: float) -> None:
    """Volume swept per newton at the coil = coil motion per pascal on the front face, damping included."""
    structure = build_shell(design, up_to_hz=TOP).structure(0)
    weight = multipliers(structure.terms, np.array([frequency_hz]))[:, 0]
    dynamic = sum(w * term.matrix for w, term in zip(weight, structure.terms, strict=True)).toarray()
    pressure = structure.volume.sum(axis=0)
    by_coil = pressure @ np.linalg.solve(dynamic, structure.drive.astype(complex))
    by_pressure = structure.pickup @ np.linalg.solve(dynamic, pressure.astype(complex))
    assert by_coil == pytest.approx(by_pressure, rel=1e-6)


@FEW
@given(designs(), ORDERS, number(1.0, 100.0))
def test_added_mass_never_raises_a_frequency(design: Design, m: int, times: float) -> None:
    """Rayleigh: a larger mass matrix lowers every frequency or leaves it."""
    light = replace(design, ring=replace(design.ring or Ring(1e-4)))
    heavy = replace(light, ring=replace(light.ring, mass=(1 + times) * light.ring.mass))
    before, after = (lowest(build_shell(x, up_to_hz=TOP).structure(m)) for x in (light, heavy))
    assert np.all(after <= before * (1 + 1e-7))


@FEW
@given(designs(thickest=0.15 * MM), ORDERS, number(0.3, 0.95))
def test_thinner_walls_never_raise_a_frequency(design: Design, m: int, factor: float) -> None:
    """Stretching goes as h, bending as h^3, inertia as h (the ring's stays), so K/M falls with h.

    Rotary inertia, h^3 too, spoils the proof for a mode that hardly bends: by no more than its own share of the
    kinetic energy, (h k)^2/24 for a wave of number k; 2.00003e-3 is the most that was met here. Both on one mesh, cut
    for the thicker wall.
    """
    thin = scaled_walls(design, factor)
    stations = build_shell(thin, up_to_hz=TOP).mesh
    before = lowest(build_shell(design, replace(stations, design=design)).structure(m))
    after = lowest(build_shell(thin, stations).structure(m))
    assert np.all(after <= before * (1 + 2.5e-3))


@FEW
@given(designs(), ORDERS, st.data())
def test_splitting_a_zone_changes_nothing(design: Design, m: int, data: st.DataObject) -> None:
    """A border drawn across a smooth wall is no joint: the meshes differ, the answers by their errors only."""
    index = data.draw(st.integers(0, len(design.meridian) - 1))
    split = split_design(design, index, data.draw(number(0.3, 0.7)))
    whole, parts = (build_shell(x, up_to_hz=TOP, refine=3).structure(m) for x in (design, split))
    assert lowest(parts) == pytest.approx(lowest(whole), rel=1e-3)
    assert parts.zone_area.sum() == pytest.approx(whole.zone_area.sum(), rel=1e-6)


@FEW
@given(designs(), ORDERS)
def test_reversing_the_meridian_changes_nothing_but_the_sign_of_the_front(design: Design, m: int) -> None:
    """Drawn from the outside in, the normal points the other way; frequencies are the same to round-off."""
    there, back = (build_shell(x, up_to_hz=TOP).structure(m) for x in (design, reversed_design(design)))
    assert lowest(back) == pytest.approx(lowest(there), rel=1e-6, abs=1e-3)
    assert back.zone_area.sum() == pytest.approx(-there.zone_area.sum(), rel=1e-9)
    if m == 0:
        f = np.array([300.0, 3000.0])
        assert direct_area(back, f).total == pytest.approx(-direct_area(there, f).total, rel=1e-5)


@FEWER
@given(designs(thinnest=0.05 * MM, thickest=0.08 * MM, plain=True), st.integers(0, 3))
def test_shell_and_solid_agree(design: Design, m: int) -> None:
    """One thin wall, any kinks: a corner of the size h acts within an edge layer of the size sqrt(R h).

    The two models therefore differ as sqrt(h/R); measured on a kinked dome with a free rim, 0.1 sqrt(h/R).
    """
    design = replace(design, ring=None)
    try:
        solid = build_solid(design, up_to_hz=TOP).structure(m)
    except MeshError:
        assume(False)  # a corner too sharp for a solid: refused, not answered
    shell = build_shell(design, up_to_hz=TOP, refine=2).structure(m)
    ours = lowest(shell, 3)
    theirs = solve_modes(solid, 1.2 * ours[-1]).frequency_hz[:3]
    shortest = min(piece.curve.length for piece in design.meridian)
    thickness = float(design.meridian[0].wall.thickness(0.0))
    assert ours == pytest.approx(theirs, rel=0.15 * float(np.sqrt(thickness / shortest)))
