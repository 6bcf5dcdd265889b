"""Designs that share an assembly must answer as designs that do not: the same model by two ways."""

from dataclasses import replace

import numpy as np
import pytest

from diaphragm_fem.answer.quick import quick_of
from diaphragm_fem.answer.wall_family import wall_family
from diaphragm_fem.design.curve import Arc, Line
from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.edge import CLAMPED
from diaphragm_fem.design.material import LossFactor, Material
from diaphragm_fem.design.wall import Layer, Wall, plain_wall
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.design.zone import Role, Zone
from diaphragm_fem.errors import StudyError
from diaphragm_fem.model.shell import build_shell

STIFF = Material("stiff film", 1360.0, 5.2e9, 0.38, LossFactor((0.015,)))
METAL = Material("light metal", 2700.0, 70e9, 0.33, LossFactor((0.001,)))
SOFT = Material("soft film", 1150.0, 60e6, 0.47, LossFactor((0.1, 0.4), (100.0, 1e4)))
CONE, SURROUND = Zone("cone", Role.DRIVEN, "outer"), Zone("surround", Role.SURROUND, "outer")


@pytest.fixture(scope="module")
def base():
    """A cone with a half-roll and a ring coil, its wall tapering: nothing special beyond two zones."""
    cone = Piece(Line((12e-3, 0.0), (25e-3, 7e-3)), CONE, plain_wall(STIFF, 80e-6, 60e-6))
    roll = Piece(Arc((27e-3, 7e-3), 2e-3, np.pi, -np.pi), SURROUND, plain_wall(SOFT, 120e-6))
    return Design("cone", (cone, roll), outer_edge=CLAMPED, joint=0, ring=Ring(0.5e-3, 2e3))


@pytest.fixture(scope="module")
def family(base):
    samples = [
        {"cone": WallChoice(material, scale), "surround": WallChoice(SOFT, second)}
        for material in (STIFF, METAL)
        for scale in (0.5, 1.0, 2.0)
        for second in (0.7, 1.5)
    ]
    return wall_family(base, samples)


def test_terms_add_up_to_the_assembled_matrices(base, family):
    """The split into terms is exact: only rounding may differ."""
    walls = {"cone": WallChoice(METAL, 1.7), "surround": WallChoice(SOFT, 0.8)}
    plain = build_shell(with_walls(base, walls), family.mesh).structure(0)
    split = family.structure(walls, full=True)
    for name in ("stiffness", "mass"):
        a, b = getattr(plain, name), getattr(split, name)
        assert abs(a - b).max() < 1e-10 * abs(a).max(), name


@pytest.mark.parametrize("material, scale, second", [(STIFF, 0.8, 1.1), (METAL, 1.4, 0.9), (STIFF, 1.9, 0.75)])
def test_small_basis_against_the_full_matrices(family, material, scale, second):
    """At walls that did not make the basis: frequencies to 1e-3 and the area curve to 1 % of the low area."""
    walls = {"cone": WallChoice(material, scale), "surround": WallChoice(SOFT, second)}
    small, full = (quick_of(family.structure(walls, full=full), 20e3) for full in (False, True))
    assert len(small.solution.mode_hz) == len(full.solution.mode_hz)
    np.testing.assert_allclose(small.solution.mode_hz, full.solution.mode_hz, rtol=1e-3)
    assert small.figures.low_area_m2 == pytest.approx(full.figures.low_area_m2, rel=1e-4)
    assert small.figures.fundamental_hz == pytest.approx(full.figures.fundamental_hz, rel=1e-4)
    assert small.figures.departure_hz == pytest.approx(full.figures.departure_hz, rel=1e-2)


def test_e_times_c_raises_every_frequency_by_its_root(base):
    """Similarity: K proportional to E, all in one material and no other spring; exact up to rounding."""
    stiff = replace(STIFF, name="twice", youngs_modulus=2 * STIFF.youngs_modulus)
    bare = replace(base, ring=None)
    family = wall_family(bare, [{zone: WallChoice(STIFF, 1.0) for zone in ("cone", "surround")}])
    walls = [{zone: WallChoice(material, 1.0) for zone in ("cone", "surround")} for material in (STIFF, stiff)]
    one, two = (quick_of(family.structure(choice), 20e3).solution.mode_hz for choice in walls)
    np.testing.assert_allclose(two, np.sqrt(2) * one[: len(two)], rtol=1e-8)


def test_refusals(base, family):
    with pytest.raises(StudyError, match="no zone is called"):
        family.structure({"rim": WallChoice(STIFF, 1.0)})
    laminate = Wall((Layer(STIFF, 3e-5, 3e-5), Layer(METAL, 1e-5, 1e-5)))
    with pytest.raises(StudyError, match="only walls of one layer"):
        wall_family(replace(base, meridian=(replace(base.meridian[0], wall=laminate), base.meridian[1])), [])
