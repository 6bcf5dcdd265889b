"""Plane waves in channels and horns as two-ports [p1; U1] = T [p2; U2], 1 the entry, 2 the exit, U toward the exit.

T has shape (F, 2, 2) and determinant 1 (reciprocity). Webster's equation: Pierce, Acoustics, sect. 7-8; two-ports of
horn pieces: Mapes-Riordan, J. Audio Eng. Soc. 41 (1993) 471 (both from memory). Valid while the section is small
against the wavelength.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.errors import ModelError
from diaphragm_fem.load.slit import Medium

CLOSED = 100.0  # nepers (870 dB) along a line: nothing comes out, and its two-port outgrows the computer's numbers


def cylinder(medium: Medium, area: float, length: float) -> Complex:
    """Channel of even area: cos qL, i Z sin qL; i sin qL/Z, cos qL. Raises ModelError as area_law does."""
    return area_law((area, area), (0.0, length), lambda _: medium)


def cone(medium: Medium, entry: ArrayLike, exit: ArrayLike, length: ArrayLike) -> Complex:
    """Conical piece between two areas in m2: p = (A e^-iqx + B e^iqx)/x from the apex.

    Areas and length may be (P, 1) for P pieces, (P, F, 2, 2).

    With s = sqrt(exit/entry) and e = (s - 1)/L = 1/x1 (zero for an even channel):
    T11 = s cos qL - e sin(qL)/q, T12 = i omega rho_e sin(qL)/(q sqrt(S1 S2)), T22 = (cos qL + e sin(qL)/q)/s,
    T21 = S1 [e (s - 1) cos qL - (e^2 + s q^2) sin(qL)/q]/(i omega rho_e).
    """
    q, push = medium.wave_number, 1j * medium.omega * medium.density
    entry, exit, length = (np.asarray(x, float) for x in (entry, exit, length))
    s = np.sqrt(exit / entry)
    e = (s - 1) / length
    cos, sin = np.cos(q * length), np.sin(q * length) / q
    return _two_port(
        s * cos - e * sin,
        push * sin / np.sqrt(entry * exit),
        entry * (e * (s - 1) * cos - (e**2 + s * q**2) * sin) / push,
        (cos + e * sin) / s,
    )


def area_law(area: ArrayLike, place: ArrayLike, medium: Callable[[Array], Medium]) -> Complex:
    """Any area law as a chain of conical pieces between stations: area (S,) in m2 at place (S,) in m.

    medium maps positions (P, 1) between 0 and 1 along the line to the air in the middle of P pieces. Second order: over
    15 mm at 20 kHz, from 0.4 to 0.9 mm wide, 10 pieces are 7e-4 off, 20 pieces 2e-4. Raises ModelError for an area
    that falls to zero, places that do not rise or walls so close that nothing passes.
    """
    area, place = np.asarray(area, float), np.asarray(place, float)
    check_area_law(area, place)
    along, length = (place - place[0]) / (place[-1] - place[0]), np.diff(place)
    steps = length[:, None]
    inside = medium((along[:-1, None] + along[1:, None]) / 2)
    decay = float(np.max(np.abs((inside.wave_number.imag * steps).sum(axis=0)), initial=0.0))
    if not decay <= CLOSED:
        raise ModelError(
            f"air does not pass a channel of {area.min() * 1e6:.3g} mm2 and {length.sum() * 1e3:.4g} mm whose walls "
            f"are so close (a wave falls by {8.686 * decay:.3g} dB): widen or shorten it"
        )
    return _end_to_end(cone(inside, area[:-1, None], area[1:, None], steps))


def _end_to_end(pieces: Complex) -> Complex:
    """One two-port (F, 2, 2) of P >= 1 of them (P, F, 2, 2), neighbours joined two by two."""
    while len(pieces) > 1:
        even = len(pieces) // 2 * 2
        pieces = np.concatenate((pieces[:even:2] @ pieces[1:even:2], pieces[even:]))
    return pieces[0]


def check_area_law(area: Array, place: Array) -> None:
    """Refuse areas that are not positive and places that do not rise."""
    if area.shape != place.shape or area.size < 2:
        raise ModelError(f"an area law needs two stations or more, each an area and a place; received {area.size}")
    if np.any(area <= 0) or not np.all(np.isfinite(area)):
        k = int(np.argmin(area))
        raise ModelError(
            f"every area of a channel or horn must be above zero, received {area[k] * 1e4:.4g} cm2 at "
            f"{place[k] * 1e3:.4g} mm: end the line before it closes"
        )
    if not np.all(np.diff(place) > 0):
        k = int(np.argmin(np.diff(place)))
        raise ModelError(
            f"the places of an area law must rise, received {place[k] * 1e3:.4g} mm and then "
            f"{place[k + 1] * 1e3:.4g} mm"
        )


def series(impedance: Complex) -> Complex:
    """An impedance (F,) in the way of the flow, such as an inertance i omega M."""
    one, zero = np.ones_like(impedance), np.zeros_like(impedance)
    return _two_port(one, impedance, zero, one)


def shunt(admittance: Complex) -> Complex:
    """An admittance (F,) beside the flow, such as that of a volume, i omega V/kappa."""
    one, zero = np.ones_like(admittance), np.zeros_like(admittance)
    return _two_port(one, zero, admittance, one)


def cascade(*pieces: Complex) -> Complex:
    """One two-port of several end to end, entry first."""
    whole = pieces[0]
    for piece in pieces[1:]:
        whole = whole @ piece
    return whole


def seen(two_port: Complex, end: Complex) -> Complex:
    """Impedance (F, ...) at the entry of a two-port (F, ..., 2, 2) that ends in `end` (F, ...)."""
    t = two_port
    return np.asarray((t[..., 0, 0] * end + t[..., 0, 1]) / (t[..., 1, 0] * end + t[..., 1, 1]))


def passed_on(two_port: Complex, end: Complex) -> Complex:
    """Pressure (F, ...) at that end over the pressure at the entry."""
    return np.asarray(end / (two_port[..., 0, 0] * end + two_port[..., 0, 1]))


def parallel(one: Complex, other: Complex | float) -> Complex:
    """Impedance of two side by side."""
    return np.asarray(one * other / (one + other))


def _two_port(t11: Complex, t12: Complex, t21: Complex, t22: Complex) -> Complex:
    found = np.empty((*np.shape(t12), 2, 2), complex)
    found[..., 0, 0], found[..., 0, 1], found[..., 1, 0], found[..., 1, 1] = t11, t12, t21, t22
    return found
