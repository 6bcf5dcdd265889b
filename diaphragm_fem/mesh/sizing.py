"""How long an element may be: bending waves, edge effects and curvature decide."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.units import show
from diaphragm_fem.errors import MeshError

Array = NDArray[np.float64]

ELEMENTS_PER_WAVELENGTH = 6.0
ELEMENTS_PER_EDGE_LENGTH = 1.2
GROWTH_FROM_EDGE = 0.35  # an element may be longer by this share of its distance from the nearest piece end
SHORTEST_IN_THICKNESSES = 3.0  # a shell knows nothing shorter than a few wall thicknesses, as at a cone's tip
SHORT_PIECE_IN_THICKNESSES = 10.0  # below it, as in a corner, the allowed length hardly varies along the piece
ALONG_SHORT, ALONG_LONG = np.linspace(0, 1, 3), np.linspace(0, 1, 25)  # where the allowed length is asked
TYPICAL_POISSON_RATIO = 0.3  # in the decay length, which hardly depends on it
LARGEST_TURN = np.pi / 5  # of the tangent within one element
LEAST_SHARE_OF_PIECE = 0.005  # of its length: no element is cut shorter than this for a small hole's sake
MOST_ELEMENTS = 400  # on a piece; formed parts need some ten, thin soft rubber a hundred or two
LARGEST_SHARE_OF_RADIUS = 0.1  # near a small hole a mode of order m changes within r/m, and coarse elements lock there


def bending_rigidity(piece: Piece, fraction: Array) -> tuple[Array, Array]:
    """Bending rigidity in N m and mass per area in kg/m2 at fractions 0...1 of a piece.

    Layers are taken about the middle of the stack: D = sum E (h z^2 + h^3/12)/(1 - nu^2), close enough to size
    an element by.
    """
    whole = piece.wall.thickness(fraction)
    bottom = -whole / 2
    rigidity, mass = np.zeros_like(whole), np.zeros_like(whole)
    for layer in piece.wall.layers:
        h, material = layer.thickness(fraction), layer.material
        middle = bottom + h / 2
        rigidity += material.youngs_modulus / (1 - material.poisson_ratio**2) * (h * middle**2 + h**3 / 12)
        mass += material.density * h
        bottom = bottom + h
    return rigidity, mass


def bending_wavelength(piece: Piece, fraction: Array, frequency_hz: float) -> Array:
    """Wavelength of free bending waves on a flat strip, 2 pi (D/(mu omega^2))^(1/4), in metres.

    Source: Cremer, Heckl and Petersson, Structure-Borne Sound (2005), ch. 3 (equation recalled, from memory).
    """
    rigidity, mass = bending_rigidity(piece, fraction)
    return np.asarray(2 * np.pi * (rigidity / (mass * (2 * np.pi * frequency_hz) ** 2)) ** 0.25)


def edge_effect_length(piece: Piece, fraction: Array) -> Array:
    """Decay length sqrt(R h)/(3 (1 - nu^2))^(1/4) of the bending edge effect, R the hoop radius of curvature r/|n_r|.

    Infinite where the wall is flat. Source: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells (1959),
    section 114 (cylindrical shell, beta).
    """
    s = fraction * piece.curve.length
    slope = np.abs(piece.curve.tangent(s)[..., 1])
    radius = np.maximum(piece.curve.point(s)[..., 0], 0.0)  # on the axis rounding may fall on either side
    thickness = piece.wall.thickness(fraction)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        decay = np.sqrt(radius * thickness / slope) / (3 * (1 - TYPICAL_POISSON_RATIO**2)) ** 0.25
    return np.where(slope > 0, np.maximum(decay, SHORTEST_IN_THICKNESSES * thickness), np.inf)


def element_length(piece: Piece, fraction: Array, frequency_hz: float) -> Array:
    """Longest allowed element in metres at fractions 0...1 of a piece."""
    s = fraction * piece.curve.length
    wave = bending_wavelength(piece, fraction, frequency_hz) / ELEMENTS_PER_WAVELENGTH
    from_end = np.minimum(s, piece.curve.length - s)
    edge = edge_effect_length(piece, fraction) / ELEMENTS_PER_EDGE_LENGTH + GROWTH_FROM_EDGE * from_end
    with np.errstate(divide="ignore"):
        turn = LARGEST_TURN / np.abs(piece.curve.curvature(s))
    return np.minimum(np.minimum(wave, edge), np.minimum(turn, _ring_length(piece, s, fraction)))


def _ring_length(piece: Piece, s: Array, fraction: Array) -> Array:
    """Longest element that follows a mode round a small hole; no limit on a piece that reaches the axis."""
    radius = piece.curve.point(s)[..., 0]
    if radius.min() < LEAST_SHARE_OF_PIECE * 1e-3 * piece.curve.length:
        return np.full(s.shape, np.inf)
    few_walls = SHORTEST_IN_THICKNESSES * piece.wall.thickness(fraction)
    least = np.maximum(LEAST_SHARE_OF_PIECE * piece.curve.length, few_walls)
    return np.maximum(LARGEST_SHARE_OF_RADIUS * radius, least)


def stations(piece: Piece, frequency_hz: float, refine: int = 1) -> Array:
    """Arc lengths (N+1,) of the element ends along a piece, equally many per allowed length, `refine` times denser.

    Raises MeshError where a piece would need more than MOST_ELEMENTS.
    """
    long = piece.curve.length > SHORT_PIECE_IN_THICKNESSES * float(piece.wall.thickness(0.5))
    fraction = ALONG_LONG if long else ALONG_SHORT
    density = piece.curve.length / element_length(piece, fraction, frequency_hz)
    steps = (density[1:] + density[:-1]) / 2 * np.diff(fraction)
    needed = np.concatenate(([0.0], np.cumsum(steps)))
    if not needed[-1] <= MOST_ELEMENTS:
        raise MeshError(
            f"'{piece.zone.name}' would need {needed[-1]:.0f} elements along its {show(piece.curve.length)} for a wall "
            f"of {show(float(piece.wall.thickness(0.5)))} up to {frequency_hz:g} Hz, and at most {MOST_ELEMENTS} are "
            "cut: is the thickness right, and the top frequency?"
        )
    count = refine * max(1, int(np.ceil(needed[-1] - 1e-9)))
    wanted = np.arange(count + 1) * (needed[-1] / count)
    return np.interp(wanted, needed, fraction) * piece.curve.length
