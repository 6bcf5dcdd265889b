"""How long an element may be: bending waves, edge effects and curvature decide."""

from collections.abc import Sequence
from functools import lru_cache
from math import ceil, inf
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.curve import Curve, traced
from diaphragm_fem.design.meridian.wall import Layer
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import MeshError

ELEMENTS_PER_WAVELENGTH = 7.0
MORE_WHERE_HOOPS_HOLD = 0.3  # more of them by this share where hoop and bending hold a wave half each
FULL_UP_TO_LOSS = 0.15  # above it errors count less, as a peak is lower: they may grow with the loss, sixth order
ELEMENTS_PER_EDGE_LENGTH = 1.2
GROWTH_FROM_EDGE = 0.35  # an element may be longer by this share of its distance from the nearest piece end
SHORTEST_IN_THICKNESSES = 3.0  # a shell knows nothing shorter than a few wall thicknesses, as at a cone's tip
SHORT_PIECE_IN_THICKNESSES = 10.0  # below it, as in a corner, the allowed length hardly varies along the piece
ALONG, FEW = np.linspace(0, 1, 25), slice(None, None, 12)  # where the allowed length is asked, in short pieces of few
TYPICAL_POISSON_RATIO = 0.3  # in the decay length, which hardly depends on it
LARGEST_TURN = np.pi / 5  # of the tangent within one element
STIFF = 30.0  # times the softest rigidity: a curved element resists rocking a little, which softer walls must not feel
STIFF_IN_FOUR = 1e3  # times the softest rigidity: cut into LEAST_ELEMENTS at least, as formers and windings are
LEAST_ELEMENTS = 4
SHORTEST_NEW = 0.02  # of the others: an element that comes in as a piece grows, below which it is left out
GROWTH_OF_NEW = 4.0  # times what the piece grows by, until it is as long as the others
LARGEST_TAPER = 0.3  # of a wall's thickness, by which it may change within one element
LEAST_SHARE_OF_PIECE = 0.005  # of its length: no element is cut shorter than this for a small hole's sake
MOST_ELEMENTS = 400  # on a piece; formed parts need some ten, thin soft rubber a hundred or two
NO_LAYER = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, inf)  # where a piece has fewer layers than another; loss counts by the least
LARGEST_SHARE_OF_RADIUS = 0.1  # near a small hole a mode of order m changes within r/m, and coarse elements lock there


class _Layers(NamedTuple):
    """Layers of P pieces, L at most: thickness in m at both ends, Young's modulus in Pa and Poisson ratio, how many
    times that modulus they have, density in kg/m3 (L, P), and the least loss factor (P,)."""

    begin: Array
    end: Array
    modulus: Array
    nu: Array
    factor: Array
    density: Array
    loss: Array


class _Walls(NamedTuple):
    """Walls of P pieces at Q fractions: thickness in m, bending rigidity in N m, mass per area in kg/m2 and stiffness
    per width in N/m (P, Q)."""

    thickness: Array
    rigidity: Array
    mass: Array
    stretching: Array


def _layers(pieces: Sequence[Piece], frequency_hz: float | None = None) -> _Layers:
    """The moduli are those of a frequency, or the reference ones, without loss."""
    stacks = [[_layer(x, frequency_hz) for x in piece.wall.layers] for piece in pieces]
    most = max(len(own) for own in stacks)
    found = _Layers(*np.array([own + [NO_LAYER] * (most - len(own)) for own in stacks]).T)
    return found._replace(loss=found.loss.min(axis=0))


def _layer(layer: Layer, frequency_hz: float | None) -> tuple[float, ...]:
    """One number of each field of `_Layers`."""
    material = layer.material
    factor = 1.0 if frequency_hz is None else modulus_factor_at(material, frequency_hz)
    elastic = material.youngs_modulus, material.poisson_ratio, factor.real
    return layer.begin_thickness, layer.end_thickness, *elastic, material.density, factor.imag / factor.real


def _walls(layers: _Layers, fraction: Array) -> _Walls:
    """Walls at fractions 0...1 (Q,) of every piece.

    Layers are taken about the middle of the stack: D = sum E (h z^2 + h^3/12)/(1 - nu^2), close enough to size
    an element by. All pieces at once: 1.0 instead of 2.4 ms for the 24 of a stepped V.
    """
    begin, end, modulus, nu, factor, density = (x[..., None] for x in layers[:6])
    modulus = factor * modulus
    plane = modulus / (1 - nu**2)
    h = begin + (end - begin) * fraction
    whole = h.sum(axis=0)
    middle = np.cumsum(h, axis=0) - (h + whole) / 2
    rigidity = (plane * (h * middle**2 + h**3 / 12)).sum(axis=0)
    return _Walls(whole, rigidity, (density * h).sum(axis=0), (modulus * h).sum(axis=0))


@lru_cache(maxsize=1024)
def modulus_factor_at(material: Material, frequency_hz: float) -> complex:
    """E*(f)/E at a frequency in Hz: kept, for every wall of a design asks at the same."""
    return complex(material.modulus_factor(frequency_hz))


def bending_rigidity(piece: Piece, fraction: float) -> float:
    """Bending rigidity in N m at a fraction 0...1 of a piece, at the reference moduli."""
    return float(_walls(_layers((piece,)), np.array([fraction])).rigidity[0, 0])


def bending_wavelength(piece: Piece, fraction: Array, frequency_hz: float) -> Array:
    """Wavelength (Q,) of free bending waves on a flat strip, 2 pi (D/(mu omega^2))^(1/4), in metres.

    Source: Cremer, Heckl and Petersson, Structure-Borne Sound (2005), ch. 3 (equation recalled, from memory).
    """
    wall = _walls(_layers((piece,), frequency_hz), fraction)
    return np.asarray(2 * np.pi * (wall.rigidity / (wall.mass * (2 * np.pi * frequency_hz) ** 2))[0] ** 0.25)


def edge_effect_length(piece: Piece, fraction: Array) -> Array:
    """Decay length sqrt(R h)/(3 (1 - nu^2))^(1/4) of the bending edge effect, R the hoop radius of curvature r/|n_r|.

    Infinite where the wall is flat. Source: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells (1959),
    section 114 (cylindrical shell, beta).
    """
    s = fraction * piece.curve.length
    return _edge_length(
        _bent(piece.curve.point(s)[..., 0], piece.curve.tangent(s)[..., 1]), piece.wall.thickness(fraction)
    )


def _bent(radius: Array, t_z: Array) -> Array:
    """Curvature |n_r|/r of the hoop, 0 where the wall is flat; on the axis rounding may fall on either side."""
    slope, radius = np.abs(t_z), np.maximum(radius, 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return np.where(slope > 0, slope / radius, 0.0)


def _edge_length(bent: Array, thickness: Array) -> Array:
    with np.errstate(divide="ignore", over="ignore"):
        decay = np.sqrt(thickness / bent) / (3 * (1 - TYPICAL_POISSON_RATIO**2)) ** 0.25
    return np.maximum(decay, SHORTEST_IN_THICKNESSES * thickness)


def _longest(curves: Sequence[Curve], layers: _Layers, whole: Array, frequency_hz: float, stiffer: Array) -> Array:
    """Longest allowed elements (P, Q) in metres ALONG curves of lengths `whole` (P, 1); `layers` at the frequency,
    `stiffer` (P,) than the softest of their part.

    What hoops hold is E h/R^2 over mu omega^2, the share 0...1 of the stiffness that hoop tension gives a wave.
    """
    s = ALONG * whole
    at = traced(curves, np.arange(len(curves)), s)
    radius, kappa = at.r, at.kappa
    wall, bent = _walls(layers, ALONG), _bent(radius, at.t_z)
    inertia = wall.mass * (2 * np.pi * frequency_hz) ** 2
    held = np.minimum(wall.stretching / inertia * bent**2, 1.0)
    per_wave = ELEMENTS_PER_WAVELENGTH * (1 + MORE_WHERE_HOOPS_HOLD * 4 * held * (1 - held))
    per_wave *= (FULL_UP_TO_LOSS / np.maximum(layers.loss, FULL_UP_TO_LOSS))[:, None] ** (1 / 6)
    wave = 2 * np.pi * (wall.rigidity / inertia) ** 0.25 / per_wave
    edge = _edge_length(bent, wall.thickness) / ELEMENTS_PER_EDGE_LENGTH + GROWTH_FROM_EDGE * np.minimum(s, whole - s)
    few_walls = SHORTEST_IN_THICKNESSES * wall.thickness
    with np.errstate(divide="ignore"):
        most = LARGEST_TURN * np.minimum(1.0, (STIFF / np.maximum(stiffer, 1.0)) ** (1 / 8))
        turn = most[:, None] / np.abs(kappa)
        # walls taper evenly
        change = np.abs(wall.thickness[:, -1:] - wall.thickness[:, :1])
        taper = np.maximum(LARGEST_TAPER * wall.thickness * whole / change, few_walls)
    # round a small hole a mode changes within the radius; there is no limit on a piece that reaches the axis
    ring = np.maximum(LARGEST_SHARE_OF_RADIUS * radius, np.maximum(LEAST_SHARE_OF_PIECE * whole, few_walls))
    ring[radius.min(axis=1) < LEAST_SHARE_OF_PIECE * 1e-3 * whole[:, 0]] = inf
    return np.asarray(np.minimum.reduce([wave, edge, turn, taper, ring]))


def stations(
    meridian: Sequence[Piece], frequency_hz: float, refine: int = 1, former: Sequence[Piece] = ()
) -> list[Array]:
    """Arc lengths (N+1,) of the element ends along each piece, equally many per allowed length, `refine` times denser;
    those of the meridian, the softest of which no other may hold by its elements' own faults, then those of the former.

    Raises MeshError where a piece would need more than MOST_ELEMENTS.
    """
    pieces = (*meridian, *former)
    layers = _layers(pieces, frequency_hz)
    plain = _walls(layers._replace(factor=np.ones_like(layers.factor)), ALONG[FEW])
    ends = plain.rigidity[:, ::2]
    stiffer = ends.max(axis=1) / ends[: len(meridian)].min()
    share = np.minimum(stiffer / STIFF_IN_FOUR, 1.0) ** 4  # none comes suddenly
    share[len(meridian) :] = 1.0
    curves = [piece.curve for piece in pieces]
    lengths = np.array([curve.length for curve in curves])
    long = lengths > SHORT_PIECE_IN_THICKNESSES * plain.thickness[:, 1]
    every, found = lengths[:, None] / _longest(curves, layers, lengths[:, None], frequency_hz, stiffer), {}
    for places, some in ((slice(None), np.flatnonzero(long)), (FEW, np.flatnonzero(~long))):
        fraction, density = ALONG[places], every[some, places]
        needed = np.zeros(density.shape)
        needed[:, 1:] = np.cumsum((density[:, 1:] + density[:, :-1]) / 2 * np.diff(fraction), axis=1)
        fewest = np.maximum(LEAST_ELEMENTS * share[some], 1.0)
        needed *= np.maximum(fewest / needed[:, -1], 1.0)[:, None]
        for p, row in zip(some.tolist(), needed, strict=True):
            found[p] = _cut(pieces[p], fraction, row, refine, frequency_hz)
    return [found[p] for p in range(len(pieces))]


def _cut(piece: Piece, fraction: Array, needed: Array, refine: int, frequency_hz: float) -> Array:
    """Element ends along a piece that needs so many elements (Q,) up to each fraction of it."""
    most = float(needed[-1])
    if not most <= MOST_ELEMENTS:
        raise MeshError(
            f"'{piece.zone.name}' would need {most:.0f} elements along its {show(piece.curve.length)} for a wall "
            f"of {show(float(piece.wall.thickness(0.5)))} up to {show_frequency(frequency_hz)}, and at most "
            f"{MOST_ELEMENTS} are cut: is the thickness right, and the top frequency?"
        )
    ends = _spread(most)
    if len(ends) == 2 and refine == 1:  # half of the pieces of a stepped V
        return np.array([0.0, piece.curve.length])
    lopsided = abs(2 * sum(ends) / len(ends) - most) > 1e-9 * most
    if lopsided and _runs_inward(piece):  # cut alike whichever way it is drawn
        ends = [most - x for x in ends[::-1]]
    if refine > 1:
        ends = np.interp(np.arange(refine * (len(ends) - 1) + 1) / refine, np.arange(len(ends)), ends).tolist()
    return np.interp(ends, needed, fraction) * piece.curve.length


def _runs_inward(piece: Piece) -> bool:
    """Whether a piece begins at the larger radius, or the higher where both are the same."""
    (r, z), (to_r, to_z) = (end.point for end in piece.curve.ends)
    return (round(r, 9), round(z, 9)) > (round(to_r, 9), round(to_z, 9))


def _spread(needed: float) -> list[float]:
    """Element ends along 0...needed, in allowed lengths. Where one element more is needed it comes in short, in
    the middle of the piece, and soon grows to the size of the others: an answer that felt the old count does not jump.
    """
    count = ceil(needed - SHORTEST_NEW / GROWTH_OF_NEW)
    if count == 1:
        return [0.0, needed]
    new = min(GROWTH_OF_NEW * (needed - (count - 1)), needed / count)
    other, half = (needed - new) / (count - 1), count // 2
    return [k * other for k in range(half + 1)] + [needed - k * other for k in range(count - half - 1, -1, -1)]
