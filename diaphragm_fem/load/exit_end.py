"""What ends the exit: a matched tube, a horn whose mouth is a piston in a baffle, or a table of impedance.

Every function gives the acoustic impedance Z = p/U (F,) in Pa s/m3; exp(+i omega t).
"""

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.errors import ModelError
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.line import area_law, check_area_law, seen
from diaphragm_fem.load.slit import tube

AT_ONCE = 64  # frequencies of all pieces: 0.87 of the time of 256; 1e5 of a measured curve would take gigabytes
PIECES = 200  # conical pieces of a horn: second order, 1e-6 over a few wavelengths


def matched(air: Air, area: float, omega: ArrayLike) -> Complex:
    """An endless tube of `area` in m2: Z = rho c/S."""
    return np.full(np.shape(omega), air.density * air.sound_speed / area, complex)


def piston_in_baffle(air: Air, area: float, omega: ArrayLike) -> Complex:
    """A flat round mouth in an endless baffle: Z = rho c/S [1 - J1(2ka)/ka + i H1(2ka)/ka].

    Beranek and Mellow, Acoustics (J1 Bessel, H1 Struve function, a the radius of the mouth).
    """
    from scipy.special import j1, struve

    ka = np.asarray(omega, float) / air.sound_speed * np.sqrt(area / np.pi)
    return np.asarray(air.density * air.sound_speed / area * (1 - j1(2 * ka) / ka + 1j * struve(1, 2 * ka) / ka))


def horn(air: Air, area: ArrayLike, place: ArrayLike, omega: ArrayLike) -> Complex:
    """A horn of area (S,) in m2 at place (S,) in m, its mouth a piston in a baffle: impedance at its throat.

    Between stations the diameter runs straight. Wall loss as in a round tube of the local area. Raises ModelError for
    areas that fall to zero or places that do not rise.
    """
    area, place = np.asarray(area, float), np.asarray(place, float)
    check_area_law(area, place)
    omega = np.asarray(omega, float)
    fine = np.union1d(np.linspace(place[0], place[-1], PIECES + 1), place)
    fine = fine[np.concatenate(([True], np.diff(fine) > 1e-9 * (place[-1] - place[0])))]
    radius = np.interp(fine, place, np.sqrt(area / np.pi))
    along = (fine - fine[0]) / (fine[-1] - fine[0])

    def at(omega: Array) -> Complex:
        line = area_law(np.pi * radius**2, fine, lambda x: tube(air, np.interp(x, along, radius), omega))
        return seen(line, piston_in_baffle(air, float(area[-1]), omega))

    return np.concatenate([at(omega[k : k + AT_ONCE]) for k in range(0, max(len(omega), 1), AT_ONCE)])


def check_table(frequency: ArrayLike, impedance: ArrayLike, from_hz: float, up_to_hz: float) -> None:
    """Refuse a table (T,) over frequency in Hz that does not rise, has gaps, loses power the wrong way, or does not
    reach from one frequency to another."""
    frequency, impedance = np.asarray(frequency, float), np.asarray(impedance)
    if frequency.size < 2 or not (frequency[0] > 0 and np.all(np.diff(frequency) > 0)):
        raise ModelError("the frequencies of an impedance table must be above zero and rise line by line")
    if not np.all(np.isfinite(impedance)):
        raise ModelError("the impedance table has gaps: every line needs a real and an imaginary part")
    if np.any(impedance.real < 0):
        k = int(np.argmin(impedance.real))
        raise ModelError(f"a passive end has no negative resistance: the table has one at {frequency[k]:g} Hz")
    if from_hz < frequency[0] * (1 - 1e-9) or up_to_hz > frequency[-1] * (1 + 1e-9):
        raise ModelError(
            f"the impedance table runs from {frequency[0]:g} to {frequency[-1]:g} Hz and is not extrapolated; asked "
            f"for {from_hz:g} to {up_to_hz:g} Hz: extend the table or narrow the range"
        )


def tabled(frequency: ArrayLike, values: ArrayLike, omega: ArrayLike) -> Complex:
    """Complex values (F,), such as an impedance, from a table (T,) over frequency in Hz, straight over log f.

    Its ends are held: a curve is solved at some frequencies beyond those asked for (see `check_table` for these).
    """
    at = np.log(np.asarray(omega, float) / (2 * np.pi))
    return np.asarray(np.interp(at, np.log(np.asarray(frequency, float)), np.asarray(values, complex)))
