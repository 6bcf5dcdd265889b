"""Where a wall is too thick for a shell: beside its bend, its radius around, or a bending wave at the top frequency."""

from math import pi

import numpy as np

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.mesh.meridian import SAME_POINT
from diaphragm_fem.mesh.sizing import bending_wavelength, modulus_factor_at

THICK_WALL = 0.1  # of the hoop radius: first-order shell theory ends here
SHARP_CORNER = 2.0  # wall thicknesses: below it the shell cannot tell one corner radius from another
SHORT_WAVE = 10.0  # wall thicknesses per bending wavelength


def plainly_sound(piece: Piece, up_to_hz: float) -> bool:
    """Whether bounds on the safe side clear a piece of every caution: a sweep asks this a million times.

    The bounds: the thickest wall, the smallest radius that the curve's own circle or ends reach; the wavelength in
    thicknesses of one layer, 2 pi (E / (12 (1 - nu^2) rho omega^2 h^2))^(1/4), falls as the wall gets thicker.
    """
    if len(piece.wall.layers) != 1:
        return False
    (layer,) = piece.wall.layers
    material, thickness = layer.material, max(layer.begin_thickness, layer.end_thickness)
    match piece.curve:
        case Line(begin=begin, end=end):
            curvature, radius = 0.0, min(begin[0], end[0])
        case Arc(centre=centre, radius=own):
            curvature, radius = 1 / own, centre[0] - own
        case _:
            return False
    modulus = modulus_factor_at(material, up_to_hz).real * material.youngs_modulus
    stiff = modulus / (12 * (1 - material.poisson_ratio**2) * material.density)
    waves = 2 * pi * (stiff / (2 * pi * up_to_hz * thickness) ** 2) ** 0.25
    return curvature * thickness * SHARP_CORNER <= 1 and thickness <= THICK_WALL * radius and waves >= SHORT_WAVE


def too_curved(piece: Piece) -> str:
    x = np.linspace(0, 1, 11)
    kappa = np.abs(piece.curve.curvature(x * piece.curve.length)).max()
    thickness = float(piece.wall.thickness(x).max())
    if kappa * thickness * SHARP_CORNER > 1:
        return (
            f"{piece.zone.name}: a corner radius of {1e3 / kappa:.3g} mm is below {SHARP_CORNER:g} wall thicknesses "
            f"({1e3 * thickness:.3g} mm each): the shell model cannot tell it from a sharp kink"
        )
    return ""


def too_thick_hoop(piece: Piece) -> str:
    """Thickness over the hoop radius r/|n_r|, away from the axis."""
    x = np.linspace(0, 1, 11)
    x = x[piece.curve.point(x * piece.curve.length)[:, 0] > SAME_POINT]
    s = x * piece.curve.length
    slope = np.abs(piece.curve.tangent(s)[:, 1])
    ratio = float((piece.wall.thickness(x) * slope / piece.curve.point(s)[:, 0]).max())
    if ratio > THICK_WALL:
        return (
            f"{piece.zone.name}: the wall is {ratio:.2g} of its hoop radius, above {THICK_WALL:g}: too thick for the "
            "shell model, trust the solid"
        )
    return ""


def short_wave(piece: Piece, up_to_hz: float) -> str:
    """From where on a bending wave is too short for a shell; its length falls with the root of frequency, a little
    less where the modulus rises: 1 % are left after three steps."""
    x, hz = np.linspace(0, 1, 11), up_to_hz
    for _ in range(3):
        hz *= float((bending_wavelength(piece, x, hz) / piece.wall.thickness(x)).min() / SHORT_WAVE) ** 2
        if hz >= up_to_hz:
            return ""
    return (
        f"{piece.zone.name}: above {show_frequency(hz, computed=True)} a bending wave is shorter than {SHORT_WAVE:g} "
        "wall thicknesses: the shell model loses accuracy there"
    )
