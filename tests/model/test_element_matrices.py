"""One element of the shell against vectors in space, in long double: it shares neither the strains of the textbooks nor
their integrals over the circle.

A point of the wall lies at X(s, theta) + zeta n and moves by U + zeta d, d = b t + q e_th. Its strains are E = (G . W)
of tangents G and their changes W, by differences. Their slope through the wall and the mean curvature times the
membrane strain make the change of curvature of the best first-order theory (Koiter, Proc. IUTAM Symp. Theory of Thin
Elastic Shells (1960) 12; Budiansky and Sanders, Progress in Applied Mechanics (1963) 129; both from memory).
"""

from dataclasses import dataclass

import numpy as np
import pytest

from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import FREE
from diaphragm_fem.mesh.meridian import mesh_meridian
from diaphragm_fem.model.shell.numbering import FIELDS
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.verify.bench import part, piece, substance

Real = np.longdouble
BEGIN, LENGTH, ANGLE, THICK = 20e-3, 2e-3, 0.6, 0.3e-3
NU, E, RHO = 0.35, 3e9, 1200.0
STEP = Real(1e-4)  # of length and thickness, and in theta: of the fourth order, 1e-16 is left
THETA = 2 * np.pi * np.arange(16, dtype=Real) / 16


@dataclass(frozen=True)
class Meridian:
    """An arc of a curvature in 1/m, or a straight line: r, z and angle at s in m."""

    curvature: float

    @property
    def curve(self):
        r, z = (float(x) for x in self.at(Real(LENGTH))[:2])
        if not self.curvature:
            return Line((BEGIN, 0.0), (r, z))
        radius = 1 / self.curvature
        centre = (BEGIN - radius * np.sin(ANGLE), radius * np.cos(ANGLE))
        return Arc(centre, abs(radius), ANGLE - np.sign(radius) * np.pi / 2, LENGTH * self.curvature)

    def at(self, s):
        angle = ANGLE + self.curvature * s
        if not self.curvature:
            return BEGIN + s * np.cos(Real(ANGLE)), s * np.sin(Real(ANGLE)), angle
        chord = (np.sin(angle) - np.sin(Real(ANGLE))) / self.curvature, -np.cos(angle) + np.cos(Real(ANGLE))
        return BEGIN + chord[0], chord[1] / self.curvature, angle


def axes(angle, theta):
    """e_r, e_th, e_z and t, n (3, T)."""
    out, around = (np.cos(theta), np.sin(theta), 0 * theta), (-np.sin(theta), np.cos(theta), 0 * theta)
    r, o, z = np.array(out), np.array(around), np.array([[0], [0], [1]], Real) + 0 * theta
    return r, o, z, np.cos(angle) * r + np.sin(angle) * z, np.cos(angle) * z - np.sin(angle) * r


def functions(s):
    """Quadratic functions (3,) of begin, end and middle."""
    x = s / Real(LENGTH)
    return np.array([(1 - x) * (1 - 2 * x), x * (2 * x - 1), 4 * x * (1 - x)])


def wall(meridian, m, s, theta, zeta):
    """Places (3, T) in the wall, and how they move (15, 3, T) with each local function of order m."""
    r, z, angle = meridian.at(s)
    e_r, e_th, e_z, t, n = axes(angle, theta)
    cos, sin = np.cos(m * theta), np.sin(m * theta)
    moves = np.array([cos * e_r, sin * e_th, cos * e_z, zeta * cos * t, zeta * sin * e_th])
    return r * e_r + z * e_z + zeta * n, (moves[:, None] * functions(s)[:, None, None]).reshape(15, *e_r.shape)


def slope(of, step):
    """Derivative of what `of` gives at 0, by central differences of the fourth order."""
    near, far = ([a - b for a, b in zip(of(k * step), of(-k * step), strict=True)] for k in (1, 2))
    return [(8 * a - b) / (12 * step) for a, b in zip(near, far, strict=True)]


def spread_at(meridian, s, zeta):
    """Area (T,) of the wall at a height per s and theta."""
    (g_s,) = slope(lambda d: wall(meridian, 0, s + d, THETA, zeta)[:1], STEP * Real(LENGTH))
    (g_o,) = slope(lambda d: wall(meridian, 0, s, THETA + d, zeta)[:1], STEP)
    return np.sqrt((g_s**2).sum(axis=0) * (g_o**2).sum(axis=0))


def strains(meridian, m, s):
    """The eight strains (8, 15, T) of the local functions."""
    angle = meridian.at(s)[2]
    _, e_th, _, t, n = axes(angle, THETA)

    def at_height(zeta):
        g_s, w_s = slope(lambda d: wall(meridian, m, s + d, THETA, zeta), STEP * Real(LENGTH))
        g_o, w_o = slope(lambda d: wall(meridian, m, s, THETA + d, zeta), STEP)
        long, wide = np.sqrt((g_s**2).sum(axis=0)), np.sqrt((g_o**2).sum(axis=0))
        (ss, so), (os, oo) = np.einsum("afxt,bxt->abft", (w_s, w_o), (g_s, g_o))
        across = [(w * n).sum(axis=1) / size for w, size in ((w_s, long), (w_o, wide))]
        return ss / long**2, oo / wide**2, (so + os) / long / wide, *across, long + 0 * ss, wide + 0 * oo

    e_s, e_th_, g, *across, long, wide = at_height(Real(0))
    k_s, k_th, k_sth, *_, longer, wider = slope(at_height, STEP * Real(THICK))
    c_s, c_th = longer / long, wider / wide
    _, turned = wall(meridian, m, s, THETA, Real(1))
    turned = turned - wall(meridian, m, s, THETA, Real(0))[1]  # the motion of the director alone
    shear = [x + (turned * way).sum(axis=1) for x, way in zip(across, (t, e_th), strict=True)]
    return np.array([e_s, e_th_, g, k_s + c_s * e_s, k_th + c_th * e_th_, k_sth + (c_s + c_th) / 2 * g, *shear])


def law():
    plane = np.array([[1, NU, 0], [NU, 1, 0], [0, 0, (1 - NU) / 2]], Real) * E / (1 - Real(NU) ** 2)
    found = np.zeros((8, 8), Real)
    found[:3, :3], found[3:6, 3:6] = plane * THICK, plane * Real(THICK) ** 3 / 12
    found[6, 6] = found[7, 7] = Real(5) / 6 * E / (2 * (1 + Real(NU))) * THICK
    return found


def gauss(points):
    """Gauss's rule on the element in long double, its zeros polished by Newton's method."""
    x = np.polynomial.legendre.leggauss(points)[0].astype(Real)
    legendre = np.polynomial.Legendre.basis(points).convert(kind=np.polynomial.Polynomial).coef.astype(Real)
    value, rate = (
        lambda y, c=c: sum(a * y**k for k, a in enumerate(c))
        for c in (legendre, legendre[1:] * np.arange(1, points + 1))
    )
    for _ in range(3):
        x = x - value(x) / rate(x)
    return (x + 1) / 2 * LENGTH, LENGTH / (1 - x**2) / rate(x) ** 2


def rocking(meridian):
    """A turn of everything (15,) by the local functions, e_y cross X: u = z, v = -z, w = -r, b = 1, q = -cos angle."""
    r, z, angle = np.array([meridian.at(Real(s)) for s in (0.0, LENGTH, LENGTH / 2)]).T
    return np.concatenate((z, -z, -r, np.ones(3, Real), -np.cos(angle)))


def stiffness(meridian, m):
    """Two points along, as the element has it, and all around; the middle node's b takes with it what a rocking of all
    would be strained by."""
    found = np.zeros((15, 15), Real)
    for s, weight in zip(*gauss(2), strict=True):
        every = strains(meridian, m, s)
        if m == 1:
            every[:, 11] -= np.einsum("cft,f->ct", every, rocking(meridian))
        found += weight * meridian.at(s)[0] * np.einsum("cft,cd,dgt->fg", every, law(), every) * 2 * np.pi / len(THETA)
    return found


def mass(meridian, m):
    """Of a wall that moves as two sheets at h/sqrt(12) before and behind its middle would; bulges as `wave_inertia`."""
    found, whole = np.zeros((15, 15), Real), Real(0)
    for s, weight in zip(*gauss(3), strict=True):
        share = weight * meridian.at(s)[0] * RHO * THICK * 2 * np.pi / len(THETA)
        for side in (-1, 1):
            _, moves = wall(meridian, m, s, THETA, side * Real(THICK) / np.sqrt(Real(12)))
            found += share / 2 * np.einsum("fxt,gxt->fg", moves, moves)
        whole += share * len(THETA) / (2 if m else 1)
    bulge = np.array([1, 1, -2], Real)
    for k in range(3):
        if m or k != 1:
            found[3 * k : 3 * k + 3, 3 * k : 3 * k + 3] += whole / 15 * np.outer(bulge, bulge)
    return found


@pytest.mark.parametrize("m", range(4))
@pytest.mark.parametrize("curvature", [0.0, 150.0, -150.0], ids=["cone", "hollow", "domed"])
def test_an_element_is_what_vectors_in_space_make_of_it(curvature, m):
    """Entry by entry against the roots of both diagonal ones: rounding of double numbers is left."""
    meridian = Meridian(curvature)
    design = part("one", [piece(meridian.curve, THICK, substance(nu=NU, E=E, rho=RHO))], FREE, FREE)
    mesh = mesh_meridian(design).recut([np.array([0.0, design.meridian[0].curve.length])])
    shell = build_shell(design, mesh)
    structure, unknown = shell.structure(m), shell.line.order_terms(m).numbering.unknown
    live = unknown >= 0
    assert live.sum() == (3 if m == 0 else len(FIELDS)) * 3
    for found, exact in ((structure.stiffness, stiffness(meridian, m)), (structure.mass, mass(meridian, m))):
        ours, exact = found.toarray()[unknown[live]][:, unknown[live]], exact[live][:, live]
        size = np.sqrt(np.outer(exact.diagonal(), exact.diagonal()))
        np.testing.assert_allclose((ours / size).astype(float), (exact / size).astype(float), rtol=0, atol=1e-11)


@pytest.mark.parametrize("m", [0, 2])
@pytest.mark.parametrize("curvature", [150.0, -150.0], ids=["hollow", "domed"])
def test_what_moves_and_turns_evenly_weighs_what_its_section_does(curvature, m):
    """Each motion with its rotation alike at all three nodes: the integral over the wall of rho, which is longer by
    (1 + zeta c_s)(1 + zeta c_th) outside, times both. Its first moment sits at the nodes, so no more is its own."""
    meridian = Meridian(curvature)
    design = part("one", [piece(meridian.curve, THICK, substance(nu=NU, E=E, rho=RHO))], FREE, FREE)
    mesh = mesh_meridian(design).recut([np.array([0.0, design.meridian[0].curve.length])])
    shell = build_shell(design, mesh, corrected=True)
    found, unknown = shell.structure(m).mass.toarray(), shell.line.order_terms(m).numbering.unknown.reshape(5, 3)
    half = Real(THICK) / np.sqrt(Real(12))
    for motion, turn in (("u", "b"), ("w", "b"), ("v", "q"))[: 3 if m else 2]:
        rows = [FIELDS.index(name) for name in (motion, turn)]
        ours, exact = found[np.ix_(*unknown[rows])].sum(), Real(0)
        for s, weight in zip(*gauss(3), strict=True):
            for zeta in (-half, half):
                moves = wall(meridian, m, s, THETA, zeta)[1].reshape(5, 3, 3, -1).sum(axis=1)
                weighs = RHO * THICK / 2 * spread_at(meridian, s, zeta) * (moves[rows[0]] * moves[rows[1]]).sum(axis=0)
                exact += weight * weighs.sum() * 2 * np.pi / len(THETA)
        assert float(ours / exact) == pytest.approx(1.0, rel=1e-9)
