"""Area curves and coil force against direct solves where a reduced structure is easily wrong."""

from pathlib import Path

import numpy as np
import pytest
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from diaphragm_fem.analysis.area import direct_area, solve_area
from diaphragm_fem.analysis.grid import scan_frequencies
from diaphragm_fem.analysis.reduced import Reduced
from diaphragm_fem.analysis.reduction import reduce_structure
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.read import load_design
from diaphragm_fem.model.shell import build_shell

STUDIES = Path(__file__).parents[2] / "studies"
SHIPPED = ["straight_v", "stepped_v", "soft_dome", "metal_dome"]


def direct_force(structure, frequency):
    """Coil force per metre by one factorisation for each frequency."""
    found = []
    for f in frequency:
        stiffness = sum(part.stiffness * (1 + 1j * part.loss(np.array([f]))[0]) for part in structure.parts)
        motion = splu(csc_matrix(stiffness - (2 * np.pi * f) ** 2 * structure.mass)).solve(
            structure.drive.astype(complex)
        )
        found.append(1 / (structure.pickup @ motion))
    return np.array(found)


@pytest.mark.parametrize("name", SHIPPED)
def test_the_coil_force_holds_where_stiffness_and_inertia_cancel(name):
    design = load_design(STUDIES / f"{name}.toml")
    structure = build_shell(design).structure(0)
    near = quick(design).merit.fundamental_hz * np.linspace(0.9, 1.1, 21)
    frequency = np.concatenate((near, np.geomspace(30, 20e3, 40)))
    force = solve_area(structure, frequency).coil_force
    np.testing.assert_allclose(force, direct_force(structure, frequency), rtol=5e-3)


@pytest.mark.parametrize("name", ["straight_v", "stepped_v", "soft_dome"])
def test_a_design_without_any_loss_has_figures_and_numbers_everywhere(name):
    lossless = {"value": 0.0, "kind": "assumed", "source": "a test"}
    design = load_design(STUDIES / f"{name}.toml")
    names = [material.name for material in design.materials]
    changes = {f'materials."{one}".loss_factor': lossless for one in names}
    found = quick(load_design(STUDIES / f"{name}.toml", changes))
    assert np.isfinite(found.area.total).all() and np.isfinite(found.area.frequency_hz).all()
    small = {f'materials."{one}".loss_factor': {**lossless, "value": 1e-6} for one in names}
    near = quick(load_design(STUDIES / f"{name}.toml", small))
    for figure in ("fundamental_hz", "stiffness_n_per_m", "moving_mass_kg", "low_area_m2", "break_up_hz"):
        assert found.merit.figures()[figure] == pytest.approx(near.merit.figures()[figure], rel=1e-3), figure


def test_a_lossless_system_can_be_solved_directly_at_its_resonance():
    lossless = {"value": 0.0, "kind": "assumed", "source": "a test"}
    design = load_design(STUDIES / "straight_v.toml")
    changes = {f'materials."{one.name}".loss_factor': lossless for one in design.materials}
    structure = build_shell(load_design(STUDIES / "straight_v.toml", changes)).structure(0)
    pole = reduce_structure(structure, 20e3).blocked_poles[0][:3]
    assert np.isfinite(direct_area(structure, pole)).all()


def test_the_scan_stands_on_poles_that_uneven_losses_sharpen():
    """Two modes that a lossy zone couples: one pole keeps nearly all the loss and leaves the other almost none."""
    squares = (2 * np.pi * np.array([5000.0, 5010.0])) ** 2
    loss = np.zeros((3, 3))
    loss[1:, 1:] = 0.1 * np.sqrt(np.outer(squares, squares))  # of rank one: what moves against it is nearly lossless
    reduced = Reduced(np.eye(3), 1.0, np.ones((1, 3)), squares[0], 0.1 * squares, squares, loss, (), 20e3)
    sharp = min(reduced.damped_poles[1])
    assert sharp < 0.1 * min(reduced.blocked_poles[1])
    place = reduced.damped_poles[0][np.argmin(reduced.damped_poles[1])]
    scan = scan_frequencies(reduced, 20.0, 20e3)
    assert np.abs(scan / place - 1).min() < 0.6 * sharp


def test_a_loss_factor_that_leaps_is_solved_frequency_by_frequency():
    leap = {"value": [0.001, 0.9], "frequency": ["900 Hz", "1000 Hz"], "kind": "assumed", "source": "a test"}
    design = load_design(STUDIES / "stepped_v.toml", {'materials."PEN film".loss_factor': leap})
    structure = build_shell(design).structure(0)
    assert not reduce_structure(structure, 20e3)._blends
    assert reduce_structure(build_shell(load_design(STUDIES / "stepped_v.toml")).structure(0), 20e3)._blends
    frequency = np.geomspace(200, 20e3, 60)
    exact = direct_area(structure, frequency)
    found = solve_area(structure, frequency, absolute=False).zone
    assert np.abs(found - exact).max() < 5e-3 * np.abs(exact.sum(axis=0)).max()
