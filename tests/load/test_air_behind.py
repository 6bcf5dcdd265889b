"""The mass of the air in a rear chamber, on a flat disc: before an endless wall and in a tube that it fills."""

import numpy as np
import pytest
from scipy.sparse import eye_array
from scipy.special import j0, jn_zeros

from diaphragm_fem.load import air_behind
from diaphragm_fem.load.air_behind import mass_behind
from diaphragm_fem.model.shell.front_face import Face

RADIUS = 0.01  # m


def flat_disc(points: int = 200) -> tuple[Face, np.ndarray]:
    """A face of even rings, and their areas."""
    r = (np.arange(points) + 0.5) / points * RADIUS
    length = np.full(points, RADIUS / points)
    return Face(np.stack((r, 0 * r), axis=1), r, length, eye_array(points)), 2 * np.pi * r * length


@pytest.mark.parametrize("order", [1, 2, 3])
def test_zernike_shapes_have_nearly_the_mass_they_have_before_an_endless_wall(order: int) -> None:
    # m = 2 rho a^3/((2 n + 1)^2 - 1/4) for the velocity R_2n(r/a): 2 pi rho times the integral of J_(2n+1)(k)^2/k^2.
    # The transform is that of Aarts and Janssen, J. Acoust. Soc. Am. 126 (2009) 1776, the integral in Watson, Theory of
    # Bessel Functions (1922), 13.41 (both from memory); n = 0 is the piston's 8/3. Box and rings: 0.6 %.
    face, area = flat_disc()
    shape = np.polynomial.legendre.Legendre.basis(order)(2 * (face.place / RADIUS) ** 2 - 1)  # R_2n(x) = P_n(2 x^2 - 1)
    found = (shape * area) @ mass_behind(face) @ (shape * area)
    assert found == pytest.approx(2 * RADIUS**3 / ((2 * order + 1) ** 2 - 0.25), rel=0.01)


def test_waves_that_a_tube_does_not_carry_have_their_mass(monkeypatch: pytest.MonkeyPatch) -> None:
    # rho/alpha coth(alpha L) per area for J0(alpha r), J1(alpha a) = 0, before a hard tube of length L: separation of
    # variables, Morse and Ingard, Theoretical Acoustics (1968), 9.2 (from memory). Even rings are 1 % off.
    monkeypatch.setattr(air_behind, "WIDE", 1.0)
    face, area = flat_disc()
    for alpha in jn_zeros(1, 3) / RADIUS:
        shape = j0(alpha * face.place)
        found = (shape * area) @ mass_behind(face) @ (shape * area)
        assert found == pytest.approx(area @ shape**2 / alpha / np.tanh(alpha * RADIUS), rel=0.01)


def test_even_motion_has_none_and_no_motion_less_than_none() -> None:
    face, area = flat_disc(60)
    mass = mass_behind(face)
    assert np.abs(mass @ area).max() < 1e-12 * np.abs(mass).max() * area.sum()
    assert np.linalg.eigvalsh(mass).min() > -1e-12 * np.linalg.eigvalsh(mass).max()
