"""How long an element may be: bending waves, edge effects and curvature decide."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import inf

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.curve import Line
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material import Material
from diaphragm_fem.design.units import show
from diaphragm_fem.errors import MeshError

Array = NDArray[np.float64]

ELEMENTS_PER_WAVELENGTH = 7.0
MORE_WHERE_HOOPS_HOLD = 0.3  # more of them by this share where hoop and bending hold a wave half each
FULL_UP_TO_LOSS = 0.15  # above it errors count less, as a peak is lower: they may grow with the loss, sixth order
ELEMENTS_PER_EDGE_LENGTH = 1.2
GROWTH_FROM_EDGE = 0.35  # an element may be longer by this share of its distance from the nearest piece end
SHORTEST_IN_THICKNESSES = 3.0  # a shell knows nothing shorter than a few wall thicknesses, as at a cone's tip
SHORT_PIECE_IN_THICKNESSES = 10.0  # below it, as in a corner, the allowed length hardly varies along the piece
ALONG_SHORT, ALONG_LONG = np.linspace(0, 1, 3), np.linspace(0, 1, 25)  # where the allowed length is asked
TYPICAL_POISSON_RATIO = 0.3  # in the decay length, which hardly depends on it
LARGEST_TURN = np.pi / 5  # of the tangent within one element
STIFF = 30.0  # times the softest rigidity: a curved element resists rocking a little, which softer walls must not feel
STIFF_IN_FOUR = 1e3  # times the softest rigidity: cut into LEAST_ELEMENTS at least, as formers and windings are
LEAST_ELEMENTS = 4
LARGEST_TAPER = 0.3  # of a wall's thickness, by which it may change within one element
LEAST_SHARE_OF_PIECE = 0.005  # of its length: no element is cut shorter than this for a small hole's sake
MOST_ELEMENTS = 400  # on a piece; formed parts need some ten, thin soft rubber a hundred or two
LARGEST_SHARE_OF_RADIUS = 0.1  # near a small hole a mode of order m changes within r/m, and coarse elements lock there


def bending_rigidity(piece: Piece, fraction: Array, frequency_hz: float | None = None) -> tuple[Array, Array]:
    """Bending rigidity in N m and mass per area in kg/m2 at fractions 0...1 of a piece.

    Layers are taken about the middle of the stack: D = sum E (h z^2 + h^3/12)/(1 - nu^2), close enough to size
    an element by. E is the storage modulus at a frequency, the reference modulus where none is given.
    """
    whole = piece.wall.thickness(fraction)
    bottom = -whole / 2
    rigidity, mass = np.zeros_like(whole), np.zeros_like(whole)
    for layer in piece.wall.layers:
        h, material = layer.thickness(fraction), layer.material
        middle = bottom + h / 2
        rise = 1.0 if frequency_hz is None else _modulus_factor(material, frequency_hz).real
        plane = rise * material.youngs_modulus / (1 - material.poisson_ratio**2)
        rigidity += plane * (h * middle**2 + h**3 / 12)
        mass += material.density * h
        bottom = bottom + h
    return rigidity, mass


@lru_cache(maxsize=1024)
def _modulus_factor(material: Material, frequency_hz: float) -> complex:
    return complex(material.modulus_factor(frequency_hz))


def bending_wavelength(piece: Piece, fraction: Array, frequency_hz: float) -> Array:
    """Wavelength of free bending waves on a flat strip, 2 pi (D/(mu omega^2))^(1/4), in metres.

    Source: Cremer, Heckl and Petersson, Structure-Borne Sound (2005), ch. 3 (equation recalled, from memory).
    """
    rigidity, mass = bending_rigidity(piece, fraction, frequency_hz)
    return np.asarray(2 * np.pi * (rigidity / (mass * (2 * np.pi * frequency_hz) ** 2)) ** 0.25)


def edge_effect_length(piece: Piece, fraction: Array) -> Array:
    """Decay length sqrt(R h)/(3 (1 - nu^2))^(1/4) of the bending edge effect, R the hoop radius of curvature r/|n_r|.

    Infinite where the wall is flat. Source: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells (1959),
    section 114 (cylindrical shell, beta).
    """
    return _edge_length(_bent(piece, fraction * piece.curve.length), piece.wall.thickness(fraction))


def _bent(piece: Piece, s: Array) -> Array:
    """Curvature |n_r|/r of the hoop, 0 where the wall is flat; on the axis rounding may fall on either side."""
    slope, radius = np.abs(piece.curve.tangent(s)[..., 1]), np.maximum(piece.curve.point(s)[..., 0], 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return np.where(slope > 0, slope / radius, 0.0)


def _edge_length(bent: Array, thickness: Array) -> Array:
    with np.errstate(divide="ignore", over="ignore"):
        decay = np.sqrt(thickness / bent) / (3 * (1 - TYPICAL_POISSON_RATIO**2)) ** 0.25
    return np.maximum(decay, SHORTEST_IN_THICKNESSES * thickness)


def element_length(piece: Piece, fraction: Array, frequency_hz: float, stiffer: float = 1.0) -> Array:
    """Longest allowed element in metres at fractions 0...1 of a piece; `stiffer` than the softest of its part.

    What hoops hold is E h/R^2 over mu omega^2, the share 0...1 of the stiffness that hoop tension gives a wave.
    """
    s = fraction * piece.curve.length
    thickness, bent = piece.wall.thickness(fraction), _bent(piece, s)
    rigidity, mass = bending_rigidity(piece, fraction, frequency_hz)
    inertia = mass * (2 * np.pi * frequency_hz) ** 2
    factors = [_modulus_factor(layer.material, frequency_hz) for layer in piece.wall.layers]
    loss = min(factor.imag / factor.real for factor in factors)
    stretch = [factor.real * x.material.youngs_modulus for factor, x in zip(factors, piece.wall.layers, strict=True)]
    hoop = sum(E * layer.thickness(fraction) for E, layer in zip(stretch, piece.wall.layers, strict=True))
    held = np.minimum(hoop / inertia * bent**2, 1.0)
    per_wave = ELEMENTS_PER_WAVELENGTH * (1 + MORE_WHERE_HOOPS_HOLD * 4 * held * (1 - held))
    per_wave *= (FULL_UP_TO_LOSS / max(loss, FULL_UP_TO_LOSS)) ** (1 / 6)
    wave = 2 * np.pi * (rigidity / inertia) ** 0.25 / per_wave
    from_end = np.minimum(s, piece.curve.length - s)
    edge = _edge_length(bent, thickness) / ELEMENTS_PER_EDGE_LENGTH + GROWTH_FROM_EDGE * from_end
    few_walls = SHORTEST_IN_THICKNESSES * thickness
    length = np.minimum(np.minimum(wave, edge), _ring_length(piece, s, few_walls))
    if not isinstance(piece.curve, Line):
        with np.errstate(divide="ignore"):
            turn = LARGEST_TURN * min(1.0, (STIFF / max(stiffer, 1.0)) ** (1 / 8)) / np.abs(piece.curve.curvature(s))
        length = np.minimum(length, turn)
    change = abs(float(thickness[-1] - thickness[0]))
    if change > 0:  # walls taper evenly
        length = np.minimum(length, np.maximum(LARGEST_TAPER * thickness * piece.curve.length / change, few_walls))
    return np.asarray(length)


def _ring_length(piece: Piece, s: Array, few_walls: Array) -> Array:
    """Longest element that follows a mode round a small hole; no limit on a piece that reaches the axis."""
    radius = piece.curve.point(s)[..., 0]
    if radius.min() < LEAST_SHARE_OF_PIECE * 1e-3 * piece.curve.length:
        return np.full(s.shape, np.inf)
    least = np.maximum(LEAST_SHARE_OF_PIECE * piece.curve.length, few_walls)
    return np.maximum(LARGEST_SHARE_OF_RADIUS * radius, least)


def softest_rigidity(pieces: Sequence[Piece]) -> float:
    """Least bending rigidity in N m met at the ends of some pieces."""
    return min(min(_end_rigidities(piece)) for piece in pieces)


def _end_rigidities(piece: Piece) -> list[float]:
    """As `bending_rigidity` at both ends, in plain numbers: asked of every piece of every case of a sweep."""
    found = []
    for thickness in ([x.begin_thickness for x in piece.wall.layers], [x.end_thickness for x in piece.wall.layers]):
        rigidity, bottom = 0.0, -sum(thickness) / 2
        for h, layer in zip(thickness, piece.wall.layers, strict=True):
            plane = layer.material.youngs_modulus / (1 - layer.material.poisson_ratio**2)
            rigidity += plane * (h * (bottom + h / 2) ** 2 + h**3 / 12)
            bottom += h
        found.append(rigidity)
    return found


def stations(piece: Piece, frequency_hz: float, refine: int = 1, softest: float = inf, least: int = 1) -> Array:
    """Arc lengths (N+1,) of the element ends along a piece, equally many per allowed length, `refine` times denser.

    softest is the least rigidity in N m that the piece must not hold by its elements' own faults, least the fewest
    elements. Raises MeshError where a piece would need more than MOST_ELEMENTS.
    """
    stiffer = max(_end_rigidities(piece)) / softest
    least = LEAST_ELEMENTS if stiffer > STIFF_IN_FOUR else least
    long = piece.curve.length > SHORT_PIECE_IN_THICKNESSES * float(piece.wall.thickness(0.5))
    fraction = ALONG_LONG if long else ALONG_SHORT
    density = piece.curve.length / element_length(piece, fraction, frequency_hz, stiffer)
    steps = (density[1:] + density[:-1]) / 2 * np.diff(fraction)
    needed = np.concatenate(([0.0], np.cumsum(steps)))
    if not needed[-1] <= MOST_ELEMENTS:
        raise MeshError(
            f"'{piece.zone.name}' would need {needed[-1]:.0f} elements along its {show(piece.curve.length)} for a wall "
            f"of {show(float(piece.wall.thickness(0.5)))} up to {frequency_hz:g} Hz, and at most {MOST_ELEMENTS} are "
            "cut: is the thickness right, and the top frequency?"
        )
    count = refine * max(least, int(np.ceil(needed[-1] - 1e-9)))
    wanted = np.arange(count + 1) * (needed[-1] / count)
    return np.interp(wanted, needed, fraction) * piece.curve.length
