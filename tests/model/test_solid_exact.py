"""The solid model against exact elasticity; benchmarks and plates stand on the ladder, in the rung "solids"."""

import numpy as np
import pytest
from solid_walls import STEEL, frequencies, sphere, tube

from diaphragm_fem.design.meridian.edge import Edge
from diaphragm_fem.model.solid.solid import build_solid

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
