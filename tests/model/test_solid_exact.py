"""The solid model against exact elasticity and published benchmarks."""

import numpy as np
import pytest
from scipy.special import jv
from solid_walls import STEEL, disc, frequencies, part, sphere, tube, wall_piece

from diaphragm_fem.design.meridian.curve import Arc
from diaphragm_fem.design.meridian.edge import Edge
from diaphragm_fem.mesh.section import mesh_section
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.model.solid.solid import Orders, build_solid

SPEED = np.sqrt(STEEL.youngs_modulus / STEEL.density)

# Free hollow sphere, mean radius 1, nu = 0.3: lowest frequencies omega R sqrt(rho/E) of n = 2, 3, 4, 5, 6 from the
# exact determinant in spherical Bessel functions (Lamb, Proc. London Math. Soc. 14 (1882) 50; computed).
EXACT_SPHERE = {
    0.01: (0.734851, 0.870444, 0.924493, 0.952607, 0.970972),
    0.05: (0.736455, 0.880491, 0.957150, 1.030199, 1.123082),
    0.1: (0.741377, 0.910200, 1.047486, 1.225050, 1.462575),
}


@pytest.mark.parametrize("thickness", EXACT_SPHERE)
@pytest.mark.parametrize("m", [0, 1, 2])
def test_hollow_sphere_meets_exact_elasticity(thickness, m):
    """A sphere's mode of degree n shows in every order m <= n at one frequency."""
    exact = np.array(EXACT_SPHERE[thickness])
    model = build_solid(sphere(1.0, thickness), up_to_hz=1.5 * exact[-1] * SPEED / (2 * np.pi))
    found = 2 * np.pi * frequencies(model.structure(m), 1.3 * exact[-1] * SPEED / (2 * np.pi)) / SPEED
    nearest = found[np.abs(found[:, None] - exact).argmin(axis=0)]
    # 5e-5: the cells' biquadratic geometry and order; m >= 1 also holds torsional modes, hence the nearest
    np.testing.assert_allclose(nearest, exact, rtol=5e-5)


def test_thick_tube_meets_fv41():
    """NAFEMS FV41 free cylinder, The Standard NAFEMS Benchmarks, TNSB Rev. 3 (1990): modes 2 to 6 without torsion."""
    published = [243.53, 377.41, 394.11, 397.72, 405.28]
    found = frequencies(build_solid(tube(2.0, 0.4, 10.0), up_to_hz=500).structure(0), 410)
    np.testing.assert_allclose(found, published, rtol=4e-4)  # the published target's own distance from converged values


def test_thick_sphere_breathes_as_fv42():
    """NAFEMS FV42, sphere of radii 1.8 and 6 m: breathing modes, exact: tan-like equation of j1 and y1.

    sigma_rr = 0 at both radii with u = A j1(kr) + B y1(kr), k = omega/c_L (Lamb 1882); solved here.
    """
    a, b, nu = 1.8, 6.0, 0.3
    c = SPEED * np.sqrt((1 - nu) / ((1 + nu) * (1 - 2 * nu)))
    exact = _breathing_roots(a, b, nu)[:2] * c / (2 * np.pi)
    np.testing.assert_allclose(exact, [369.91, 838.03], rtol=1e-4)  # the benchmark's values, from memory
    ball = sphere(3.9, 4.2)
    section = mesh_section(ball, grading=Grading(up_to_hz=3000, turn=0.3))
    structure = build_solid(ball, section, orders=Orders(7, 7, 7)).structure(0)
    found = frequencies(structure, 900)
    assert np.abs(found[:, None] / exact - 1).min(axis=0) == pytest.approx(0, abs=2e-5)  # geometry of the cells


def _breathing_roots(a, b, nu):
    from scipy.optimize import brentq
    from scipy.special import spherical_jn, spherical_yn

    def stress(f, k, r):  # (1 - nu) u' + 2 nu u/r up to a factor
        return (1 - nu) * k * f(1, k * r, derivative=True) + 2 * nu * f(1, k * r) / r

    def determinant(k):
        return stress(spherical_jn, k, a) * stress(spherical_yn, k, b) - stress(spherical_jn, k, b) * stress(
            spherical_yn, k, a
        )

    grid = np.linspace(0.05, 3, 600)
    value = np.array([determinant(k) for k in grid])
    return np.array([brentq(determinant, grid[i], grid[i + 1]) for i in np.flatnonzero(value[1:] * value[:-1] < 0)])


def test_pressurised_tube_meets_lame():
    """Lame's thick tube in plane strain: u(r) = (1+nu)/E p a^2/(b^2-a^2) ((1-2nu) r + b^2/r) (Timoshenko and Goodier,
    Theory of Elasticity, art. 28; equation from memory)."""
    a, b, length, p = 0.8, 1.2, 0.5, 1e6
    guided = Edge(axial=np.inf, rotation=np.inf)
    structure = build_solid(tube(1.0, 0.4, length, inner=guided, outer=guided)).structure(0)
    volume = structure.volume.sum(axis=0)  # the front face of a rising line looks toward the axis: the bore
    from scipy.sparse.linalg import spsolve

    u = spsolve(structure.stiffness.tocsc(), -p * volume)
    e, nu = STEEL.youngs_modulus, STEEL.poisson_ratio

    def exact(r):
        return (1 + nu) / e * p * a**2 / (b**2 - a**2) * ((1 - 2 * nu) * r + b**2 / r)

    assert -volume @ u / (2 * np.pi * a * length) == pytest.approx(exact(a), rel=1e-6)
    np.testing.assert_allclose(structure.surface.motion_r @ u, exact(1.0), rtol=1e-5)  # 1/r in a polynomial of degree 5


def test_thin_clamped_disc_meets_plate_theory():
    """lambda^2 = omega a^2 sqrt(rho h/D) of the clamped disc, n = 0 and 1, roots of J_n I_n' - I_n J_n' = 0
    (Leissa, Vibration of Plates, NASA SP-160 (1969), ch. 2)."""
    radius, h = 1.0, 0.004
    rigidity = STEEL.youngs_modulus * h**3 / 12 / (1 - STEEL.poisson_ratio**2)
    unit = np.sqrt(rigidity / (STEEL.density * h)) / radius**2 / (2 * np.pi)
    for m, squares in ((0, (10.21583, 39.77115)), (1, (21.26040, 60.82867))):
        for square in squares:  # the typed roots satisfy the equation
            x = np.sqrt(square)
            from scipy.special import iv

            assert jv(m, x) * iv(m + 1, x) + iv(m, x) * jv(m + 1, x) == pytest.approx(0, abs=2e-5 * iv(m, x))
        found = frequencies(build_solid(disc(radius, h), up_to_hz=80 * unit).structure(m), 1.05 * squares[-1] * unit)
        np.testing.assert_allclose(found / unit, squares, rtol=4e-4)  # shear and rotary inertia, about (lambda h/a)^2


def test_hemisphere_with_a_mirror_is_half_a_sphere():
    """A mirror at the equator (axial motion and rotation held) keeps the even modes of the whole sphere."""
    mirror = Edge(axial=np.inf, rotation=np.inf)
    half = part([wall_piece(Arc((0.0, 0.0), 1.0, np.pi / 2, -np.pi / 2), 0.1)], None, mirror)
    found = frequencies(build_solid(half, up_to_hz=1500).structure(0), 1.5 * SPEED / (2 * np.pi))
    exact = np.array(EXACT_SPHERE[0.1])[[0, 2, 4]]
    np.testing.assert_allclose(2 * np.pi * found[:3] / SPEED, exact, rtol=5e-5)  # as for the whole sphere
