"""Two sections in one exit: the first driver as it stands, a lower one that joins through a branch of slots."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from diaphragm_fem.analysis.curve.sampling import extremes, scanned
from diaphragm_fem.answer.driver.curve import DriverCurve, decibels, driver_curve
from diaphragm_fem.answer.driver.loaded import Loaded, ended, load_design_on
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.driver.driver import Driver, Exit, SecondSection
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.errors import MeshError, ModelError
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.exit_end import tabled
from diaphragm_fem.load.line import cylinder, parallel, seen, shunt
from diaphragm_fem.load.slit import open_air, slit
from diaphragm_fem.load.surroundings import end_of
from diaphragm_fem.load.two_sections import SharedExit, Source, both_play, crossover, minima, share_exit

OCTAVE = 2.0  # times the crossover: the band of an upper section without a median (common practice, no source)


@dataclass(frozen=True)
class Sections:
    """Over frequency_hz (F,), at the rated voltage of the first section, dB re 20 uPa at the exit.

    upper_db, lower_db: each section alone, without filters; filtered_* and sum_db behind the crossover at crossover_hz,
    turned_db the sum with the other polarity; reflections (F,) that each path meets at the junction; branch (F,) the
    size of the branch's impedance over rho c/S, its minima at minima_hz; plays_hz: from where the upper and up to where
    the lower section plays (`both_play`), None with its reason where that does not exist. The upper's own band is that
    of its median alone, or an octave from the crossover where it has none; the lower's runs up to the crossover.
    impedance (F,) in ohm and excursion (F,) in m/V: the first section's coil with the second one present, its source
    silent.
    """

    frequency_hz: Array
    upper_db: Array
    lower_db: Array
    filtered_upper_db: Array
    filtered_lower_db: Array
    sum_db: Array
    turned_db: Array
    crossover_hz: float
    reflection_upper: Complex
    reflection_lower: Complex
    branch: Array
    minima_hz: Array
    plays_hz: tuple[float, float] | None
    reason: str
    impedance: Complex
    excursion: Complex

    @property
    def overlap(self) -> float | None:
        """Octaves in which both play; negative where a hole lies between them."""
        return None if self.plays_hz is None else float(np.log2(self.plays_hz[1] / self.plays_hz[0]))


@dataclass(frozen=True, eq=False)
class EndedTwice:
    """A driver's curves with two resistances ends (2,) in Pa s/m3 at the end of its channels: all that it does into any
    other end Z follows. What it sends is p = p_b Z/(Z + Z_s); any other answer per volt is (A Z + B)/(Z + Z_s)."""

    ends: tuple[float, float]
    curves: tuple[DriverCurve, DriverCurve]

    @property
    def source(self) -> Source:
        """Blocked pressure per volt behind an impedance."""
        (a, b), (one, two) = self.ends, (curve.exit_pressure for curve in self.curves)
        assert one is not None and two is not None
        inner = (two - one) / (one / a - two / b)
        return Source(one * (a + inner) / a, inner)

    def into(self, end: Complex, answers: tuple[Complex | None, Complex | None]) -> Complex:
        """An answer (F,) into an end (F,), from what it is (F,) into the two ends."""
        (a, b), inner, (one, two) = self.ends, self.source.impedance, answers
        assert one is not None and two is not None
        first, second = one * (a + inner), two * (b + inner)
        slope = (first - second) / (a - b)
        return np.asarray((first + slope * (end - a)) / (end + inner))


def sections_of(found: Loaded, curve: DriverCurve, band_hz: tuple[float, float] | None) -> Sections | None:
    """Both sections and their sum; None where there is no second one. band_hz: that of the first one's median, so that
    it plays here as it does alone: judged above the crossover a dome played from 298 Hz here, from 649 Hz there."""
    driver = found.around.driver
    second, exit, motor = driver.second_section, driver.exit, driver.motor
    if second is None or exit is None or motor is None:
        return None
    f, air, volt, filters = curve.frequency_hz, found.around.still, motor.voltage, second.crossover
    twice, lower, shared, onward = _joined(found, second, exit, f)
    parts = _filtered(second, shared, f, volt)
    levels = decibels(shared.upper * volt), decibels(shared.lower * volt)
    one_polarity, other = decibels(parts[0] + parts[1]), decibels(parts[0] - parts[1])
    beyond = end_of(exit, air, 2 * np.pi * f)
    met = seen(onward, parallel(beyond, lower.impedance))
    one, two = twice.curves
    current, excursion = twice.into(met, (one.current, two.current)), twice.into(met, (one.excursion, two.excursion))
    plays, reason = None, ""
    try:
        upper_band = band_hz or (filters.frequency, OCTAVE * filters.frequency)
        plays = both_play(f, *levels, upper_band, (float(f[0]), filters.frequency))
    except ModelError as error:
        reason = str(error)
    return Sections(
        f, *levels, decibels(parts[0]), decibels(parts[1]), one_polarity, other, filters.frequency,
        shared.reflection_upper, shared.reflection_lower, np.abs(shared.branch) / _line(exit, air),
        minima(f, shared.branch), plays, reason, 1 / current - motor.source_resistance, excursion,
    )  # fmt: skip


@dataclass(frozen=True)
class _Sums:
    """Both sums (2, F) in Pa over frequency_hz (F,), to be scanned."""

    frequency_hz: Array
    watched: Complex

    def joined(self, other: _Sums) -> _Sums:
        frequency, first = np.unique(np.append(self.frequency_hz, other.frequency_hz), return_index=True)
        return _Sums(frequency, np.hstack((self.watched, other.watched))[:, first])


def dips_about_crossover(found: Loaded) -> Array:
    """Frequencies in Hz of the peaks and dips of both sums within an octave of the crossover, and that octave's ends,
    where a curve must be solved to tell the lowest; none of a driver alone. Between points of the first section's own
    scan the shipped two sections fell 3.5 dB deeper, to an end of the octave 0.45 dB.
    """
    driver = found.around.driver
    second, exit, motor = driver.second_section, driver.exit, driver.motor
    if second is None or exit is None or motor is None:
        return np.zeros(0)

    def solved(f: Array) -> _Sums:
        one, other = _filtered(second, _joined(found, second, exit, f)[2], f, motor.voltage)
        return _Sums(f, np.stack((one + other, one - other)))

    crossing = second.crossover.frequency
    low, high = max(crossing / 2, found.solution.from_hz), min(2 * crossing, found.solution.up_to_hz)
    if not low < high:
        return np.zeros(0)
    scan = scanned(solved, (), low, high)
    return np.concatenate(([low, high], *(scan.frequency_hz[extremes(np.abs(one))] for one in scan.watched)))


def _line(exit: Exit, air: Air) -> float:
    """rho c/S of an exit."""
    return float(4 * air.density * air.sound_speed / (np.pi * exit.diameter**2))


def _joined(
    found: Loaded, second: SecondSection, exit: Exit, f: Array
) -> tuple[EndedTwice, Source, SharedExit, Complex]:
    """At frequencies (F,): the first driver into any end, the lower section as a source, what both send through the
    exit, and the two-port (F, 2, 2) on which the first one's exit runs on to the junction."""
    air, omega, line = found.around.still, 2 * np.pi * f, _line(exit, found.around.still)
    onward = cylinder(open_air(air, omega), np.pi * exit.diameter**2 / 4, second.distance)
    # the channels meet, the first section's exit runs on to the junction, and what ends it stands there
    twice, lower = ended_twice(found, f, line), _lower(second, found, f, line)
    here = np.broadcast_to(np.eye(2, dtype=complex), (len(f), 2, 2))
    shared = share_exit(twice.source.through(onward), lower, here, end_of(exit, air, omega), line)
    return twice, lower, shared, onward


def _filtered(second: SecondSection, shared: SharedExit, f: Array, volt: float) -> tuple[Complex, Complex]:
    """Pressures (F,) in Pa of upper and lower section behind the crossover."""
    filters = second.crossover
    low, high = crossover(f, filters.frequency, filters.order)
    turned = filters.polarity * 10 ** (filters.level / 20) * np.exp(-2j * np.pi * f * filters.delay)
    return shared.upper * high * volt, shared.lower * low * turned * volt


def ended_twice(found: Loaded, f: Array, line: float) -> EndedTwice:
    """A driver at frequencies (F,) with rho c/S = line and with a quarter of it at the end of its channels."""
    ends = line, line / 4
    one, two = (driver_curve(ended(found, end), f, power=False) for end in ends)
    return EndedTwice(ends, (one, two))


def _lower(second: SecondSection, found: Loaded, f: Array, line: float) -> Source:
    """The second section seen from the junction, through its chamber and its branch of slots."""
    air, omega = found.around.still, 2 * np.pi * f
    if second.file:
        own = load_design(Path(second.file))
        driver = own.driver or Driver()
        if driver.motor is None or driver.front is None:
            raise ModelError(f"{second.file}: a second section needs a [motor], a [front] and an [exit] of its own")
        if driver.second_section is not None:
            raise ModelError(f"{second.file}: has a [second_section] itself, and two share an exit: take one out")
        own = replace(own, driver=replace(driver, climate=found.around.driver.climate))
        try:
            other = load_design_on(own, up_to_hz=found.solution.up_to_hz, corrected=found.vacuum.corrected)
        except MeshError as problem:  # of its gap or slots, which are not those of the first
            raise MeshError(f"{second.file}: {problem}") from None
        source = ended_twice(other, f, line).source
    else:
        source = _tabled(second, f)
    source = source.through(shunt(np.asarray(1j * omega * second.volume / air.bulk_modulus)))
    area = second.count * second.slot_area
    return source.through(cylinder(slit(air, second.slot_width, omega), area, second.slot_length))


def _tabled(second: SecondSection, f: Array) -> Source:
    given = np.array(second.frequency)
    if f[0] < given[0] * (1 - 1e-9) or f[-1] > given[-1] * (1 + 1e-9):
        raise ModelError(
            f"second_section.table runs from {given[0]:g} to {given[-1]:g} Hz and is not extrapolated; asked for "
            f"{f[0]:g} to {f[-1]:g} Hz: extend the table or narrow the range"
        )
    return Source(*(tabled(given, values, 2 * np.pi * f) for values in (second.blocked_pressure, second.impedance)))
