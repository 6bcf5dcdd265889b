"""Degenerate and hard designs against answers found another way: closed forms, symmetry and similarity."""

from math import inf

import numpy as np
import pytest

from diaphragm_fem.analysis.modes.modes import Modes, solve_modes
from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, Edge
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid
from diaphragm_fem.verify.references import plates
from diaphragm_fem.verify.references.statics import sliding_annulus_stiffness

NU = 0.3
METAL = Material("metal", 2000.0, 200e9, NU, LossFactor((0.0,)))
PLATE, SURROUND, TUBE = Zone("plate"), Zone("surround", Role.SURROUND, "outer"), Zone("tube")
MM = 1e-3


def flat(inner: float, outer: float, thickness: float, inner_edge=FREE, outer_edge=CLAMPED) -> Design:
    """A flat disc (inner = 0) or annulus of metal; all in metres."""
    piece = Piece(Line((inner, 0.0), (outer, 0.0)), PLATE, plain_wall(METAL, thickness))
    return Design("flat", (piece,), None if inner == 0 else inner_edge, outer_edge)


def dome(thickness: float, edge: Edge) -> Design:
    """A hemisphere of 20 mm mid radius, from the pole to the equator."""
    arc = Arc((0.0, 0.0), 20 * MM, np.pi / 2, -np.pi / 2)
    return Design("hemisphere", (Piece(arc, PLATE, plain_wall(METAL, thickness)),), None, edge)


def plate_hz(squares: np.ndarray, radius: float, thickness: float) -> np.ndarray:
    """Frequency from x^2 = omega a^2 sqrt(rho h/D)."""
    rigidity = METAL.youngs_modulus * thickness**3 / (12 * (1 - NU**2))
    return squares / (2 * np.pi * radius**2) * np.sqrt(rigidity / (METAL.density * thickness))


def modes_of(design: Design, m: int, up_to_hz: float, refine: int = 2) -> Modes:
    """Shell modes on twice the elements of the default mesh, whose highest mode is some 0.15 % too high."""
    return solve_modes(build_shell(design, up_to_hz=up_to_hz, refine=refine).structure(m), up_to_hz)


# Parts that nothing holds


@pytest.mark.parametrize("model", [build_shell, build_solid])
@pytest.mark.parametrize(("m", "rigid"), [(0, 1), (1, 2), (2, 0)])
@pytest.mark.parametrize("shape", ["dome", "disc", "annulus"])
def test_free_parts_keep_their_rigid_motions(model, m: int, rigid: int, shape: str) -> None:
    """An axial shift for m = 0, a sideways shift and a rocking for m = 1, nothing else, on the axis or not."""
    design = {
        "dome": dome(0.3 * MM, FREE),
        "disc": flat(0, 10 * MM, 0.2 * MM, outer_edge=FREE),
        "annulus": flat(4 * MM, 10 * MM, 0.2 * MM, outer_edge=FREE),
    }[shape]
    structure = model(design, up_to_hz=20e3).structure(m)
    assert structure.rigid_modes == rigid
    stiffness, mass = structure.stiffness.toarray(), structure.mass.toarray()
    shift = (2 * np.pi * 1e3) ** 2
    from scipy.linalg import eigh

    inverse = eigh(mass, stiffness + shift * mass, eigvals_only=True)
    squares = 1 / inverse[::-1][:4] - shift
    # Round-off of K over M is some 1e-11 of the shift; the first elastic mode lies above 1 kHz squared.
    assert np.all(np.abs(squares[:rigid]) < 1e-4 * shift)
    assert np.all(squares[rigid:] > 0.5 * shift)
    found = solve_modes(structure, 60e3)
    assert np.all(found.frequency_hz > 700.0)


# Extremes of stiffness and thickness


@pytest.mark.parametrize("ratio", [1e3, 1e5, 1e7])
def test_stiff_disc_on_a_very_soft_surround(ratio: float) -> None:
    """A rigid mass on the surround's own spring: annulus with both slopes held, Timoshenko (1959), chapter 3.

    The light surround adds 0.06 % to the mass; the disc gives by the ratio of bending stiffness: under 0.1 %.
    """
    thickness, edge, outer = 0.2 * MM, 10 * MM, 14 * MM
    soft = Material("soft", 2.0, METAL.youngs_modulus / ratio, NU, LossFactor((0.0,)))
    pieces = (
        Piece(Line((0.0, 0.0), (edge, 0.0)), PLATE, plain_wall(METAL, thickness)),
        Piece(Line((edge, 0.0), (outer, 0.0)), SURROUND, plain_wall(soft, thickness)),
    )
    design = Design("disc on a surround", pieces, None, CLAMPED, joint=1, ring=Ring(1e-3))
    rigidity = soft.youngs_modulus * thickness**3 / (12 * (1 - NU**2))
    spring = sliding_annulus_stiffness(edge, outer, rigidity)
    mass = METAL.density * np.pi * edge**2 * thickness + 1e-3
    lumped = np.sqrt(spring / mass) / (2 * np.pi)
    found = modes_of(design, 0, 3e3)
    # Shear makes the surround softer by some (thickness/width)^2 = 0.25 %; the disc bends by up to 10/ratio.
    assert found.frequency_hz[0] == pytest.approx(lumped, rel=0.005 + 10 / ratio)
    assert found.residual[0] < 3e-12 * ratio + 1e-8  # round-off grows with the spread of stiffness: 1.4e-12, measured


# Modes close together, and many


def drum(half: bool, edge: Edge = FREE) -> Design:
    """Two equal discs closed by a stiff tube, whole or cut at its middle."""
    radius, length = 20 * MM, 30 * MM
    sheet, stiff = plain_wall(METAL, 0.1 * MM), plain_wall(METAL, 1.0 * MM)
    lower = Piece(Line((0.0, 0.0), (radius, 0.0)), PLATE, sheet)
    if half:
        wall = Piece(Line((radius, 0.0), (radius, length / 2)), TUBE, stiff)
        return Design("half a drum", (lower, wall), None, edge)
    wall = Piece(Line((radius, 0.0), (radius, length)), TUBE, stiff)
    upper = Piece(Line((radius, length), (0.0, length)), PLATE, sheet)
    return Design("drum", (lower, wall, upper), None, None)


@pytest.mark.parametrize("m", [0, 1, 2])
def test_near_double_modes_are_both_found(m: int) -> None:
    """Two skins that hardly feel each other: each pair is a symmetric and an antisymmetric mode of half the drum."""
    top = 12e3
    whole = modes_of(drum(False), m, top)
    mirrors = (Edge(axial=inf, rotation=inf), Edge(radial=inf, circumferential=inf))
    halves = [modes_of(drum(True, edge), m, top).frequency_hz for edge in mirrors]
    expected = np.sort(np.concatenate(halves))
    assert len(whole) == len(expected)
    assert whole.frequency_hz == pytest.approx(expected, rel=2e-6)
    pairs = np.diff(whole.frequency_hz)[::2] / whole.frequency_hz[::2]
    assert pairs.min() < {0: 3e-3, 1: 3e-3, 2: 5e-5}[m]  # they are near-double indeed
    mass = build_shell(drum(False), up_to_hz=top, refine=2).structure(m).mass
    assert np.allclose(whole.vectors.T @ (mass @ whole.vectors), np.eye(len(whole)), atol=1e-6)


def test_a_hundred_modes() -> None:
    """The first hundred axisymmetric modes of a clamped disc, none missing: J_0 I_1 + I_0 J_1 = 0 (Leissa 1969).

    The highest wave is 200 thicknesses long: shear and rotary inertia take 0.02 %.
    """
    radius, thickness, count = 50 * MM, 5e-6, 100
    exact = plate_hz(plates.circular_plate("C", 0, count + 1, NU), radius, thickness)
    top = (exact[count - 1] + exact[count]) / 2
    found = modes_of(flat(0, radius, thickness), 0, top)
    assert len(found) == count
    assert found.frequency_hz == pytest.approx(exact[:count], rel=1e-3)
