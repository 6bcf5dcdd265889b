"""Strains of the fibres of a bent wall under a moment and a pull, against the curved bar of exact elasticity."""

import numpy as np
import pytest
from scipy.integrate import simpson

from diaphragm_fem.model.large_stroke.fibres import along_bend

R, YOUNG = 0.6e-3, 4e9
HALVES = [0.02e-3, 0.075e-3, 0.15e-3]  # half thicknesses in m: c/R = 1/30, 1/8, 1/4


def golovin(r, inner, outer):
    """Hoop stress at r of a bar under a moment of 1 per width that closes it: Golovin (1881), as in Timoshenko and
    Goodier, Theory of Elasticity, section 29 (from memory; the moment is checked below)."""
    ratio = np.log(outer / inner)
    n = (outer**2 - inner**2) ** 2 - 4 * inner**2 * outer**2 * ratio**2
    terms = -((inner * outer / r) ** 2) * ratio + outer**2 * np.log(r / outer) + inner**2 * np.log(inner / r)
    return 4 / n * (terms + outer**2 - inner**2)


def strains(half, membrane, bend, kappa, layers=1):
    """At the faces of a wall cut into even layers."""
    cuts = np.linspace(-half, half, layers + 1)
    height = np.stack((cuts[:-1], cuts[1:]), axis=1).ravel()[:, None, None] * np.ones((1, 1, 2))
    values = (np.full((1, 2), x) for x in (membrane, bend))
    return along_bend(*values, np.array([[kappa]]), height, np.full_like(height, YOUNG))[:, 0, 0]


@pytest.mark.parametrize("half", HALVES)
@pytest.mark.parametrize("side", [1, -1])
def test_the_inner_face_of_a_bend_sees_more(half, side):
    """Its centre lies before the front face for a positive curvature. Off by 0.4 (c/R)^2 at most; e + zeta k is off by
    2/3 of c/R, 9 % at c/R = 1/8."""
    inner, outer = R - half, R + half
    r = np.linspace(inner, outer, 20001)
    exact = golovin(r, inner, outer)
    assert abs(np.trapezoid(exact * (R - r), r)) == pytest.approx(1, rel=1e-6)
    stress = strains(half, 0.0, 1.0, side / R) * 1.5 / half**3  # of the moment 1 = E (2 c^3/3) k
    found = stress if side > 0 else -stress[::-1]
    assert np.abs(found) == pytest.approx(np.abs(exact[[-1, 0]]), rel=0.5 * (half / R) ** 2 + 1e-4)


@pytest.mark.parametrize("half", HALVES)
def test_a_stretch_is_even_across_a_bend(half):
    """As a ring that warms: no fibre sees more than another."""
    assert strains(half, 1e-3, 0.0, 1 / R) == pytest.approx(1e-3, rel=0.1 * (half / R) ** 2)


def test_layers_of_one_material_are_one_wall():
    whole, cut = (strains(HALVES[1], 1e-3, 2.0, 1 / R, layers) for layers in (1, 3))
    assert cut[[0, -1]] == pytest.approx(whole, rel=1e-12)


def test_a_straight_wall_has_its_fibres_evenly():
    assert strains(HALVES[1], 1e-3, 2.0, 0.0) == pytest.approx(1e-3 + 2.0 * HALVES[1] * np.array([-1, 1]), rel=1e-12)


@pytest.mark.parametrize("lift", [0.0, 0.06e-3])
def test_unlike_layers_share_force_and_moment_as_a_curved_bar_does(lift):
    """30 um of 70 GPa on 120 um of 1 GPa around 3 mm, the meridian within or beside them: force and moment by Simpson's
    rule over fibres of their own length (Winkler), and the shell's strains of the same force and moment."""
    e, k, kappa = 1e-3, 20.0, 1 / 3e-3
    layers = [(lift - 75e-6, lift - 45e-6, 70e9), (lift - 45e-6, lift + 75e-6, 1e9)]
    bar, law = np.zeros(2), np.zeros((2, 2))
    for rear, front, young in layers:
        zeta = np.linspace(rear, front, 2001)
        stress = young * (e + zeta * k) / (1 - zeta * kappa)
        bar += [simpson(stress, x=zeta), simpson(stress * zeta, x=zeta)]
        law += young * np.array([[(front**n - rear**n) / n for n in (i, i + 1)] for i in (1, 2)])
    membrane, bend = (np.full((1, 2), x) for x in np.linalg.solve(law, bar))
    height = np.repeat([x for rear, front, _ in layers for x in (rear, front)], 2).reshape(4, 1, 2)
    modulus = np.repeat([70e9, 70e9, 1e9, 1e9], 2).reshape(4, 1, 2)
    found = along_bend(membrane, bend, np.array([[kappa]]), height, modulus)[:, 0, 0]
    zeta = height[:, 0, 0]
    assert found == pytest.approx((e + zeta * k) / (1 - zeta * kappa), abs=1e-3 * np.abs(found).max())
