"""Cells of which much follows what leads it against the same cells with all their unknowns."""

import numpy as np
import pytest
from places import STUDIES
from scipy.sparse.linalg import spsolve
from solid_walls import disc, frequencies, motion_at_nodes, stepped_v

from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.model.solid.inside import HIGH_ABOVE, what_follows
from diaphragm_fem.model.solid.solid import build_solid
from diaphragm_fem.model.structure import Structure

DESIGN = stepped_v()


def test_the_answer_at_rest_is_the_same():
    """What is condensed at rest answers exactly there, whatever its moduli: static condensation is block elimination.

    5e-10 are left by rounding of answers that gauges from microns to millimetres make ill-conditioned.
    """
    model = build_solid(DESIGN)
    followed, plain = model.structure(0), model.whole.structure(0)
    assert followed.size < 0.4 * plain.size
    for at in (1.0, 4.0):
        coil, volume = (np.array(list(_at_rest(one, at))) for one in (followed, plain))
        np.testing.assert_allclose(coil, volume, rtol=2e-9)


def _at_rest(structure: Structure, softer: float):
    """Coil motion and volume swept at rest, the first law's material so many times softer."""
    first = structure.merged[0]
    answer = spsolve((structure.stiffness - (1 - 1 / softer) * first.matrix).tocsc(), structure.drive)
    return structure.pickup @ answer, *(structure.volume @ answer)


@pytest.mark.parametrize("m", [0, 2])
def test_modes_hardly_know_it(m):
    """Guyan's condensation is off by (f/f_1)^2 of what follows, the less of it the finer a function: 1.0e-6 of the
    highest of the modes."""
    model = build_solid(DESIGN)
    followed, plain = (frequencies(one.structure(m), 20e3) for one in (model, model.whole))
    np.testing.assert_allclose(followed, plain, rtol=4e-6)
    assert np.all(followed > (1 - 1e-9) * plain)  # a Ritz basis is stiffer


def test_modes_hardly_know_it_where_a_wire_holds_a_soft_former():
    """Copper on polyimide film: without unknowns of their own in the cells that the winding goes through 1.5e-4."""
    model = build_solid(load_design(STUDIES / "soft_dome.toml"), up_to_hz=20e3)
    followed, plain = (frequencies(one.structure(2), 10e3) for one in (model, model.whole))
    np.testing.assert_allclose(followed, plain, rtol=1e-6)


def test_its_motion_is_drawn_as_before():
    """Points inside cells move as those of the whole model do: at 900 Hz 6e-8 of the largest motion measured."""
    model = build_solid(DESIGN)
    drawn = []
    for one in (model, model.whole):
        structure = one.structure(0)
        answer = spsolve((structure.stiffness - (2 * np.pi * 900.0) ** 2 * structure.mass).tocsc(), structure.drive)
        drawn.append((structure.surface.motion_z @ answer, motion_at_nodes(one, 0)[2] @ answer))
    for followed, plain in zip(*drawn, strict=True):
        assert np.abs(followed - plain).max() < 2.5e-7 * np.abs(plain).max()


@pytest.mark.parametrize(("order", "times"), [(2, 200.0), (3, 40.0), (4, 12.0), (5, 5.0)])
def test_a_function_follows_where_shear_waves_across_its_cell_are_quick(order, times):
    """A wall of one row and height h: half a shear wave fits between its faces at sqrt(mu/rho)/(2 h) (closed form)."""
    design = disc(0.02, 1e-4)
    shapes, nowhere = build_solid(design).shapes, np.zeros(0, int)
    own = int(np.flatnonzero((shapes.orders == (order, 2)).all(axis=1))[0])
    material = design.materials[0]
    mu = material.youngs_modulus / (2 * (1 + material.poisson_ratio))
    border = np.sqrt(mu / material.density) / 2e-4 / times
    assert what_follows(shapes, 0.99 * border, nowhere)[:, :, own].all()
    assert not what_follows(shapes, 1.05 * border, nowhere)[:, :, own].any()


@pytest.mark.parametrize("thickness", [1e-4, 1e-3])  # in the second shear softens the bar by a tenth
@pytest.mark.parametrize("order", [2, 3])
def test_the_motion_across_a_cell_leads_on_one_face_where_it_bends_slowly(order, thickness):
    """A cell of length L and height h between free faces, held at its ends, as a clamped bar that yields in shear: by
    Dunkerley 1/f^2 is that of 22.373/(2 pi) h/L^2 sqrt(E/(12 rho)) (Blevins 1979, from memory) and of shear waves along
    it, sqrt(mu/rho)/(2 L)."""
    design = disc(0.02, thickness)
    model, nowhere = build_solid(design), np.zeros(0, int)
    shapes, material = model.shapes, design.materials[0]
    corners = model.section.points[:, model.section.cells[:4]]
    length = np.linalg.norm(corners[:, 1] - corners[:, 0], axis=0)
    cell, speed = int(np.argmax(length)), np.sqrt(material.youngs_modulus / material.density)
    bar = 22.373 / (2 * np.pi) * thickness / length[cell] ** 2 * speed / np.sqrt(12)
    shear = speed / np.sqrt(2 * (1 + material.poisson_ratio)) / (2 * length[cell])
    border = (bar**-2 + shear**-2) ** -0.5 / HIGH_ABOVE[order - 2]
    front = 4 + 2 * (shapes.top - 1) + order - 2
    before, beyond = (what_follows(shapes, x * border, nowhere)[cell][:, front] for x in (0.99, 1.01))
    assert before.tolist() == [True, True, True] and beyond.tolist() == [True, True, False]
