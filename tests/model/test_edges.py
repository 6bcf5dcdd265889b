"""An edge that is held across its wall and free to move around."""

from math import inf

import numpy as np
import pytest

from diaphragm_fem.analysis.modes.eigen import eigenpairs_below
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import FREE, Edge
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid
from diaphragm_fem.verify.references.ritz_shell import RitzShell, ShellPiece

WALL, TUBE = 0.1e-3, Line((12.5e-3, 0.0), (12.5e-3, 12e-3))


@pytest.mark.parametrize("build", [build_shell, build_solid])
def test_a_tube_held_across_its_edge_slides_around_as_a_thin_shell_does(build):
    """Kirchhoff-Love theory (Love, Mathematical Theory of Elasticity, ch. XXIV) by series. Where the edge slides around
    by v its face turns by -v t_z/r with it; with no turn at all shell and solid were 0.8 % too high."""
    metal = load_materials()["aluminium alloy"]
    design = Design("tube", (Piece(TUBE, Zone("wall"), plain_wall(metal, WALL)),), FREE, Edge(inf, 0.0, inf, 0.0))
    wall = ShellPiece(TUBE, WALL, metal.youngs_modulus, metal.poisson_ratio, metal.density)
    exact = float(RitzShell([wall], (), ("r", "z"), 1, "thin", 24).frequencies(1, -1.0)[0])
    structure = build(design, up_to_hz=20e3).structure(1)
    square = eigenpairs_below(structure.stiffness, structure.mass, (1.5 * exact) ** 2).squares[0]
    assert np.sqrt(square) == pytest.approx(exact, rel=1.5e-3)


@pytest.mark.parametrize("build", [build_shell, build_solid])
def test_a_wall_that_is_nearly_flat_and_held_along_the_axis_alone_shifts_sideways(build):
    """u = 1, v = -1, q = 0: nothing turns and nothing is strained. With q = -t_z v/r there it was 37 Hz."""
    metal, ring = load_materials()["aluminium alloy"], Line((6e-3, 0.0), (12.5e-3, 0.12e-3))
    design = Design("ring", (Piece(ring, Zone("wall"), plain_wall(metal, WALL)),), FREE, Edge(0.0, 0.0, inf, 0.0))
    structure = build(design, up_to_hz=20e3).structure(1)
    hz = eigenpairs_below(structure.stiffness, structure.mass, (2 * np.pi * 4e3) ** 2).frequency_hz
    assert structure.rigid_modes == 1 and hz[0] < 0.3 and hz[1] > 1e3


@pytest.mark.parametrize("lean", [1e-4, 0.017])
@pytest.mark.parametrize("build", [build_shell, build_solid])
def test_a_wall_that_is_nearly_upright_and_held_along_the_radius_alone_rocks(build, lean):
    """u = z, v = -z, w = -r, b = 1, q = -t_r about its held edge: the turn of a rigid body. With q = -t_z v/r there it
    was 71 Hz."""
    metal, length = load_materials()["aluminium alloy"], 6e-3
    wall = Line((6e-3, 0.0), (6e-3 + length * np.sin(lean), length * np.cos(lean)))
    design = Design("tube", (Piece(wall, Zone("wall"), plain_wall(metal, WALL)),), FREE, Edge(inf, 0.0, 0.0, 0.0))
    structure = build(design, up_to_hz=20e3).structure(1)
    hz = eigenpairs_below(structure.stiffness, structure.mass, (2 * np.pi * 40e3) ** 2).frequency_hz
    assert structure.rigid_modes == 1 and hz[0] < 0.3 and hz[1] > 1e4
