"""Figures of thin clamped and free plates driven at a circle, against Bessel closed forms.

A clamped plate of radius a: m = 0 resonances at k a = 3.196, 6.306 (Leissa, Vibration of Plates (1969), table 2.1),
k^4 = omega^2 rho h/D. By reciprocity the volume under a unit force on the circle b is the deflection of b under unit
pressure, which at frequency k goes with J0(kb) I1(ka) + I0(kb) J1(ka) - J0(ka) I1(ka) - I0(ka) J1(ka) (derived here
from w = A J0 + C I0 - p/(D k^4) with w = w' = 0 at a): its zeros are the holes of the response. At rest the deflection
under pressure is p (a^2 - r^2)^2/(64 D), its volume pi p a^6/(192 D), and that of the circle b under a force P on it
P/(8 pi D) (2 b^2 ln(b/a) + (1 + b^2/a^2)(a^2 - b^2)/2) (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells
(1959), articles 16 and 17).

Published break-up frequencies of metal domes together with their geometry, which would be a check nearer to the trade,
were looked for twice in 2026-11, in journals and theses: what was found measures or pictures shapes of domes and cones,
or solves domes that radiate, and leaves out the wall's thickness, its rise or the coil; none gives all of them.
"""

import numpy as np
import pytest
from figures_cases import figures_from
from scipy.optimize import brentq
from scipy.special import i0, i1, j0, j1

from diaphragm_fem.analysis.static import AIR_STIFFNESS
from diaphragm_fem.design.design import Ring
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE
from diaphragm_fem.verify.bench import RADIUS, build_shell, part, piece, plate_scale, substance

THIN, PLACE = 1e-3, 0.8
NU, E = 0.3, 70e9
BENDING = E * (THIN * RADIUS) ** 3 / 12 / (1 - NU**2)


def driven_plate(edge, loss=1e-3, mass=1e-9):
    """A disc driven by a ring of hardly any mass at 0.8 of its radius."""
    wall = substance(NU, E, eta=loss)
    b = PLACE * RADIUS
    pieces = [
        piece(Line((0.0, 0.0), (b, 0.0)), THIN * RADIUS, wall),
        piece(Line((b, 0.0), (RADIUS, 0.0)), THIN * RADIUS, wall),
    ]
    top = 46 * plate_scale(THIN)
    design = part("plate", pieces, None, edge, 1, Ring(mass))
    return build_shell(design, up_to_hz=2 * top).structure(0), top


def pressure_at_the_circle(ka):
    kb = PLACE * ka
    return j0(kb) * i1(ka) + i0(kb) * j1(ka) - j0(ka) * i1(ka) - i0(ka) * j1(ka)


@pytest.fixture(scope="module")
def clamped():
    structure, top = driven_plate(CLAMPED)
    return figures_from(structure, top, 2 * plate_scale(THIN))


def test_the_break_up_mode_is_the_second_bending_mode(clamped):
    """The first is the fundamental. Leissa prints 39.771; the mesh for twice the range leaves 1e-4."""
    assert clamped.fundamental_hz == pytest.approx(10.2158 * plate_scale(THIN), rel=1e-5)
    assert clamped.break_up_mode_hz == pytest.approx(39.771 * plate_scale(THIN), rel=4e-4)
    assert clamped.break_up_mode.shares == {"wall": pytest.approx(1.0)}


def test_the_first_bending_mode_of_a_free_plate():
    """9.003 for nu = 0.3 (Leissa (1969), table 2.5 prints 9.084 for 0.33; here the root of the free-edge equation)."""

    def free_edge(x):
        a, b = j0(x) - (1 - NU) * j1(x) / x, i0(x) - (1 - NU) * i1(x) / x
        return a * i1(x) + b * j1(x)

    exact = brentq(free_edge, 2.5, 3.5) ** 2
    structure, top = driven_plate(FREE)
    found = figures_from(structure, top, 0.5 * plate_scale(THIN))
    assert exact == pytest.approx(9.003, abs=2e-3)
    assert found.fundamental_hz is None and found.break_up_mode_hz == pytest.approx(exact * plate_scale(THIN), rel=5e-5)
    assert found.free_volume_m3 is None and found.held_volume_m3 > 0


def test_the_deepest_hole_is_the_zero_of_the_response(clamped):
    """k a = 4.9704: x^2 = 24.705, below the break-up mode over 1.5 and above 1.5 times the fundamental."""
    zero = brentq(pressure_at_the_circle, 4.0, 5.5) ** 2
    assert 1.5 * 10.2158 < zero < 39.771 / 1.5
    assert clamped.deepest_hole_hz == pytest.approx(zero * plate_scale(THIN), rel=1e-4)
    assert clamped.holes[0].level_db < -40


def test_equivalent_volume_in_closed_form(clamped):
    """Free: rho c^2 pi a^6/(192 D). Held: less rho c^2 V_b^2/C_b with V_b volume per force, C_b compliance, at b."""
    a, b = RADIUS, PLACE * RADIUS
    free = AIR_STIFFNESS * np.pi * a**6 / (192 * BENDING)
    swept = (a**2 - b**2) ** 2 / (64 * BENDING)
    gives = (2 * b**2 * np.log(b / a) + (1 + b**2 / a**2) * (a**2 - b**2) / 2) / (8 * np.pi * BENDING)
    assert clamped.stiffness_n_per_m == pytest.approx(1 / gives, rel=9e-5)
    assert clamped.low_area_m2 == pytest.approx(swept / gives, rel=6e-6)
    assert clamped.free_volume_m3 == pytest.approx(free, rel=9e-5)
    # a third of the free volume is left: what the mesh leaves of both
    assert clamped.held_volume_m3 == pytest.approx(free - AIR_STIFFNESS * swept**2 / gives, rel=1.1e-4)
