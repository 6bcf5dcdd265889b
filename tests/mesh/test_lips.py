"""A thick wall that a thin one holds by its middle: drawn square, cut soundly, and truly enough."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from solid_walls import COIL, FILM, FOIL, MM, lowest, part, wall_piece, wound_former
from sound_section import check_sound

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import Layer, Wall
from diaphragm_fem.mesh.section import mesh_section
from diaphragm_fem.model.solid.shapes import Orders
from diaphragm_fem.model.solid.solid import build_solid

RUBBER = Material("rubber", 1100.0, 60e6, 0.48, LossFactor((0.1,)))


def thin_in_thick(rise: float = 0.0, turned: bool = False, former: bool = False) -> Design:
    """A film of 30 um that holds rubber of 180 um, with a kink where they meet, the film inside or outside."""
    walls = [(30e-6, FILM), (180e-6, RUBBER)][:: -1 if turned else 1]
    lines = [Line((10 * MM, rise * MM), (14 * MM, 0.0)), Line((14 * MM, 0.0), (17 * MM, rise * MM))]
    pieces = [wall_piece(line, *wall) for line, wall in zip(lines, walls, strict=True)]
    return part(pieces, CLAMPED, CLAMPED, 1, former=wound_former(14 * MM, 0.0) if former else ())


@pytest.mark.parametrize("former", [False, True])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("rise", [0.0, 1.5])
def test_lips_are_cut(rise, turned, former):
    design = thin_in_thick(rise, turned, former)
    section = mesh_section(design)
    assert not len(section.plan.united)
    check_sound(section)
    ways = np.array([(x.begin, x.at(0.5), x.end) for run in section.plan.middle for x in run])
    assert ways.min() > -1e-9 and ways.max() < 1 + 1e-9  # the mid-line leaves a cell where it enters the next


def test_both_walls_end_square():
    section = mesh_section(thin_in_thick())
    area = build_solid(section.design, section).shapes.weight.sum(axis=1)
    piece = np.array(section.plan.piece)
    for k, (thickness, length) in enumerate(((30e-6, 4 * MM), (180e-6, 3 * MM))):
        assert area[piece == k].sum() == pytest.approx(thickness * length, rel=1e-9, abs=0)


@pytest.mark.parametrize("rows", [2, 3])
@pytest.mark.parametrize("turned", [False, True])
def test_lips_are_cut_in_rows(turned, rows):
    """Another wall with layers cuts all in rows: the thick one still ends square, held by its middle, its lips free."""
    meridian = thin_in_thick(turned=turned).meridian
    layers = tuple(Layer(FILM, x, x) for x in (20e-6, 30e-6, 25e-6)[:rows])
    layered = replace(meridian[1], curve=Line((17 * MM, 0.0), (19 * MM, 0.0)), wall=Wall(layers))
    section = mesh_section(part([*meridian, layered], CLAMPED, CLAMPED))
    check_sound(section)
    assert len(section.plan.singular) == 2
    own = build_solid(section.design, section).shapes.weight.sum(axis=1)[np.array(section.plan.piece) == 0]
    assert own.sum() == pytest.approx((180e-6 if turned else 30e-6) * 4 * MM, rel=1e-9, abs=0)


def test_a_former_reaches_up_beside_a_lip():
    """Union of three rectangles: the film's half of the former's top lies 75 um higher than the rubber's."""
    design = thin_in_thick(former=True)
    section = mesh_section(design)
    own = np.array([piece.zone == COIL for piece in (*design.meridian, *design.former)])[np.array(section.plan.piece)]
    area = build_solid(design, section).shapes.weight.sum(axis=1)[own].sum()
    assert area == pytest.approx(80e-6 * 5 * MM - 40e-6 * (15e-6 + 90e-6), rel=1e-9, abs=0)


def test_a_short_roll_with_lips_at_both_ends():
    roll = Arc((15 * MM, 0.0), 1 * MM, np.pi, -np.pi)
    lines = [Line((14 * MM, -2 * MM), (14 * MM, 0.0)), Line((16 * MM, 0.0), (16 * MM, -2 * MM))]
    pieces = [wall_piece(lines[0], 40e-6, FILM), wall_piece(roll, 0.3 * MM, RUBBER), wall_piece(lines[1], 40e-6, FILM)]
    check_sound(mesh_section(part(pieces, CLAMPED, CLAMPED)))


def test_modes_hardly_change_with_finer_functions():
    """Orders 5 and 9 in the short cells: measured 0.05 % of a frequency, 0.29 % without smaller cells at the
    corners. One cell across such a jump was 13 % off."""
    design = thin_in_thick()
    usual, fine = (lowest(build_solid(design, orders=x).structure(0), 8) for x in (Orders(), Orders(short=9)))
    assert np.abs(usual / fine - 1).max() < 1.5e-3


@pytest.mark.parametrize("thick", [0.1 * MM, 0.2 * MM])
def test_the_layers_of_a_former_beside_a_lip_lie_one_beside_the_other(thick):
    """The inner one inside the drive circle, in both columns of the recess above the rest of its top as well."""
    soft, layers = (
        replace(FILM, name="soft", youngs_modulus=5e6),
        (Layer(FOIL, 40e-6, 40e-6), Layer(FILM, 40e-6, 40e-6)),
    )
    ends = [(r * MM, 0.0) for r in (12, 15.98, 16, 20)]
    walls = [(50e-6, FILM), (50e-6, FILM), (thick, soft)]
    meridian = [wall_piece(Line(a, b), *own) for (a, b), own in zip(pairwise(ends), walls, strict=True)]
    former = wall_piece(Line((16 * MM, 0.0), (16 * MM, -3 * MM)), Wall(layers), zone=COIL)
    section = mesh_section(part(meridian, CLAMPED, CLAMPED, 2, former=(former,)))
    own = np.flatnonzero(np.array(section.plan.piece) == 3)
    middle = section.points[:, section.cells[8, own]]
    assert (middle[1] > -25e-6 - thick / 4).any()  # there is a recess
    assert (np.array(section.plan.layer)[own] == (middle[0] > 16 * MM)).all()


@pytest.mark.parametrize("inner", [False, True])
def test_a_former_is_upright_on_both_sides_beside_a_lip_that_leans(inner):
    """Walls rise by 35 degrees through the joint. Where all of the recess leans as the lip does, a notch is left in the
    former's other side: break-up modes of ten ordinary domes are 0.4 to 1.7 % off those of united pieces, now 0.2."""
    soft, slope = replace(FILM, name="soft", youngs_modulus=5e6), np.tan(np.radians(35))
    ends, walls = [(r * MM, (r - 16) * slope * MM) for r in (12, 16, 20)], [(50e-6, FILM), (0.1 * MM, soft)]
    if inner:
        ends, walls = [(32 * MM - r, z) for r, z in ends[::-1]], walls[::-1]
    meridian = [wall_piece(Line(a, b), *own) for (a, b), own in zip(pairwise(ends), walls, strict=True)]
    former = wall_piece(Line((16 * MM, 0.0), (16 * MM, -3 * MM)), 0.12 * MM, FILM, zone=COIL)
    section = mesh_section(part(meridian, CLAMPED, CLAMPED, 1, former=(former,)))
    r, z = section.points[:, np.unique(section.cells[:4, np.array(section.plan.branch)])]
    aside = (r - 16 * MM) * (1 if inner else -1)
    above = z > -0.15 * MM  # its first whole cells begin at -0.175 mm
    assert (above & (np.abs(aside - 60e-6) < 1e-9)).sum() == 3  # its top and both levels of the recess
