"""How long free air before a face takes: run with --benchmark-enable, one core. Nothing here asserts a time."""

from dataclasses import replace

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.answer.driver.driver import quick_figures
from diaphragm_fem.answer.driver.loaded import Vacuum, in_vacuum, load_design_on, loaded
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.load.air import moist_air
from diaphragm_fem.load.radiation import open_air
from diaphragm_fem.load.surroundings import surround
from diaphragm_fem.mesh.open_contour import OpenContour

F = np.geomspace(20.0, 20e3, 400)
pytestmark = pytest.mark.long


def test_air_before_a_flat_face(benchmark):
    """A disc of 55 mm: elements, modes, load at 400 frequencies to 20 kHz."""
    disc, air = OpenContour((), (Line((0.0, 0.0), (0.0275, 0.0)),)), moist_air()

    def whole():
        open_air.cache_clear()
        return open_air(disc, 20e3).stiffness(air, F)

    assert benchmark(whole).shape == (400, 28, 28)


@pytest.mark.parametrize("name", ["metal_dome", "straight_v"])
def test_a_baffled_face_all_in(benchmark, name):
    """Diaphragm, air and all figures of a design met for the first time."""
    design = load_design(STUDIES / f"baffled_{name}.toml")

    def whole():
        open_air.cache_clear()
        in_vacuum.cache_clear()
        return quick_figures(load_design_on(design))

    assert benchmark(whole).median_level_db > 70


@pytest.mark.parametrize("name", ["metal_dome", "straight_v"])
def test_another_wall_of_the_same_shape(benchmark, name):
    """What the air adds to a diaphragm already solved: loads joined, curve, figures; the air is kept."""
    design = load_design(STUDIES / f"baffled_{name}.toml")
    found = load_design_on(design)
    vacuum = Vacuum(found.solution, found.face)

    def again():
        return quick_figures(loaded(design, replace(vacuum), surround(design, found.face)))

    assert benchmark(again).baffled["beam_narrows_hz"] > 1e3
