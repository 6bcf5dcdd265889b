"""Sizes and masses of zones by elementary geometry."""

from math import atan2, pi

import pytest

from diaphragm_fem.design.design import Design, Piece, Winding
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.zone_sizes import piece_mass, zone_sizes

FILM = load_materials()["PEN film"]
CONE, FORMER = Zone("cone", Role.DRIVEN), Zone("former", Role.COIL)


def test_a_cone_has_its_extents_angle_and_mass() -> None:
    """Pappus: the mass of a thin conical wall is rho t times the slant length times 2 pi the mean radius."""
    piece = Piece(Line((0.01, 0.0), (0.04, 0.04)), CONE, plain_wall(FILM, 80e-6))
    (size,) = zone_sizes(Design("cone", (piece,)))
    assert (size.width, size.height) == pytest.approx((0.03, 0.04))
    assert size.angle == pytest.approx(atan2(4, 3))
    assert size.mass == pytest.approx(FILM.density * 80e-6 * 0.05 * 2 * pi * 0.025, rel=1e-12)


def test_a_tapering_wall_weighs_its_integral() -> None:
    """Thickness from a to b over radii from r to R on a flat ring: 2 pi rho integral of t(r) r dr, by hand."""
    a, b, r, big = 40e-6, 100e-6, 0.01, 0.03
    piece = Piece(Line((r, 0.0), (big, 0.0)), CONE, plain_wall(FILM, a, b))
    slope = (b - a) / (big - r)
    by_hand = 2 * pi * FILM.density * ((a - slope * r) * (big**2 - r**2) / 2 + slope * (big**3 - r**3) / 3)
    assert piece_mass(piece) == pytest.approx(by_hand, rel=1e-12)


def test_a_half_roll_has_no_angle_and_weighs_by_pappus() -> None:
    """A half circle of radius a about radius R: length pi a, centroid at R, so mass rho t 2 pi^2 a R."""
    middle, a = 0.02, 0.002
    roll = Arc((middle, 0.0), a, pi, -pi)
    (size,) = zone_sizes(Design("roll", (Piece(roll, CONE, plain_wall(FILM, 50e-6)),)))
    assert size.angle is None
    assert (size.width, size.height) == pytest.approx((2 * a, a), rel=1e-3)  # 33 points on the arc
    assert size.mass == pytest.approx(FILM.density * 50e-6 * 2 * pi**2 * a * middle, rel=1e-9)


def test_a_winding_counts_to_the_former_that_carries_it() -> None:
    wound = Piece(Line((0.01, 0.0), (0.01, -0.004)), FORMER, plain_wall(FILM, 75e-6), Winding(1e-3, 0.0))
    bare = piece_mass(Piece(wound.curve, FORMER, wound.wall))
    assert piece_mass(wound) == pytest.approx(bare + 1e-3)
