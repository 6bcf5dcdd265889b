"""Two sections in one exit: the first driver as it stands, a lower one that joins through a branch of slots."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path

import numpy as np

from diaphragm_fem.analysis.curve.sampling import extremes, scanned
from diaphragm_fem.answer.driver.curve import DriverCurve, decibels, driver_curve
from diaphragm_fem.answer.driver.loaded import Loaded, ended, load_design_on
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.driver import Driver, Exit, Motor, SecondSection
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.errors import MeshError, ModelError
from diaphragm_fem.load.exit_end import tabled
from diaphragm_fem.load.line import cylinder, parallel, seen, shunt
from diaphragm_fem.load.slit import slit, unwalled
from diaphragm_fem.load.surroundings import end_of
from diaphragm_fem.load.two_sections import (
    SharedExit,
    Source,
    both_play,
    crossover,
    lost_about,
    lowest_about,
    minima,
    share_exit,
)

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

    @property
    def crosses(self) -> bool:
        """Whether the crossover lies within the range: what the sum does about it is not known elsewhere."""
        return bool(self.frequency_hz[0] <= self.crossover_hz <= self.frequency_hz[-1])

    @property
    def lowest(self) -> tuple[float, float]:
        """Where in Hz the sum is lowest within an octave of the crossover, and that level."""
        return lowest_about(self.frequency_hz, self.sum_db, self.crossover_hz)

    @property
    def lost(self) -> tuple[float, float]:
        """Where in Hz the sections cancel most there, and by how many dB."""
        return self._lost(self.sum_db)

    @property
    def lost_turned(self) -> tuple[float, float]:
        """The same with the other polarity."""
        return self._lost(self.turned_db)

    def _lost(self, whole: Array) -> tuple[float, float]:
        parts = self.filtered_upper_db, self.filtered_lower_db
        return lost_about(self.frequency_hz, parts, whole, self.crossover_hz)


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


@dataclass(frozen=True)
class Together:
    """What two sections do in one exit, per volt (9, F) over frequency_hz (F,): pressures of the upper and the lower
    one alone, both behind the crossover, the reflections that they meet, the branch's impedance, the first section's
    current and its coil's excursion."""

    frequency_hz: Array
    answers: Complex

    @property
    def watched(self) -> Complex:
        """Both sums (2, F), with the one polarity and with the other."""
        upper, lower = self.answers[2:4]
        return np.stack((upper + lower, upper - lower))

    def joined(self, other: Together) -> Together:
        frequency, first = np.unique(np.append(self.frequency_hz, other.frequency_hz), return_index=True)
        return Together(frequency, np.hstack((self.answers, other.answers))[:, first])


@dataclass(frozen=True, eq=False)
class Pair:
    """Two sections in one exit, made once to be asked at any frequencies. line: rho c/S of the exit; lower: the second
    section as a source at frequencies (F,), seen from the junction."""

    first: Loaded
    second: SecondSection
    exit: Exit
    motor: Motor
    line: float
    ends: tuple[Loaded, Loaded]
    lower: Callable[[Array], Source]

    def at(self, f: Array) -> Together:
        """Solved at frequencies (F,): the first driver into any end, the lower section as a source, and what both send
        through the exit. The channels meet, the first section's exit runs on to the junction, what ends it is there."""
        air, omega = self.first.around.still, 2 * np.pi * f
        onward = cylinder(unwalled(air, omega), np.pi * self.exit.diameter**2 / 4, self.second.distance)
        twice, lower, beyond = ended_twice(self.ends, f, self.line), self.lower(f), end_of(self.exit, air, omega)
        here = np.broadcast_to(np.eye(2, dtype=complex), (len(f), 2, 2))
        shared = share_exit(twice.source.through(onward), lower, here, beyond, self.line)
        met = seen(onward, parallel(beyond, lower.impedance))
        one, two = twice.curves
        coil = (twice.into(met, both) for both in ((one.current, two.current), (one.excursion, two.excursion)))
        return Together(f, np.stack((
            shared.upper, shared.lower, *_filtered(self.second, shared, f),
            shared.reflection_upper, shared.reflection_lower, shared.branch, *coil,
        )))  # fmt: skip

    def scan(self) -> Together:
        """At every frequency it takes to know both sums: a lower section has peaks where the first one is even."""
        solution = self.first.solution
        return scanned(self.at, (), solution.from_hz, solution.up_to_hz).joined(self.at(self._octaves))

    def bends(self) -> Array:
        """Frequencies in Hz at which a curve must be solved to tell peaks and dips of both sums, and the lowest about
        the crossover."""
        scan = self.scan()
        return np.concatenate((self._octaves, *(scan.frequency_hz[extremes(np.abs(one))] for one in scan.watched)))

    @property
    def _octaves(self) -> Array:
        """Where the octaves to both sides of the crossover end, in Hz, as far as the range goes."""
        ends = np.array([0.5, 2.0]) * self.second.crossover.frequency
        return ends.clip(self.first.solution.from_hz, self.first.solution.up_to_hz)


def pair_of(found: Loaded) -> Pair | None:
    """A driver and its second section; None where there is none."""
    driver = found.around.driver
    second, exit, motor = driver.second_section, driver.exit, driver.motor
    if second is None or exit is None or motor is None:
        return None
    air = found.around.still
    line = float(4 * air.density * air.sound_speed / (np.pi * exit.diameter**2))
    return Pair(found, second, exit, motor, line, both_ended(found, line), _lower(second, found, line))


def sections_of(pair: Pair, together: Together, band_hz: tuple[float, float] | None) -> Sections:
    """Both sections and their sum. band_hz: that of the first one's median, so that it plays here as it does alone:
    judged above the crossover a dome played from 298 Hz here, from 649 Hz there."""
    f, volt, filters = together.frequency_hz, pair.motor.voltage, pair.second.crossover
    *pressures, reflection_upper, reflection_lower, branch, current, excursion = together.answers
    upper, lower, *filtered = (decibels(one * volt) for one in pressures)
    one_polarity, other = (decibels(one * volt) for one in together.watched)
    plays, reason = None, ""
    try:
        upper_band = band_hz or (filters.frequency, OCTAVE * filters.frequency)
        plays = both_play(f, upper, lower, upper_band, (float(f[0]), filters.frequency))
    except ModelError as error:
        reason = str(error)
    return Sections(
        f, upper, lower, filtered[0], filtered[1], one_polarity, other, filters.frequency, reflection_upper,
        reflection_lower, np.abs(branch) / pair.line, minima(f, branch), plays, reason,
        1 / current - pair.motor.source_resistance, excursion,
    )  # fmt: skip


def _filtered(second: SecondSection, shared: SharedExit, f: Array) -> tuple[Complex, Complex]:
    """Pressures (F,) in Pa per volt of upper and lower section behind the crossover."""
    filters = second.crossover
    low, high = crossover(f, filters.frequency, filters.order)
    turned = filters.polarity * 10 ** (filters.level / 20) * np.exp(-2j * np.pi * f * filters.delay)
    return shared.upper * high, shared.lower * low * turned


def both_ended(found: Loaded, line: float) -> tuple[Loaded, Loaded]:
    """A driver with rho c/S = line and with a quarter of it at the end of its channels."""
    return ended(found, line), ended(found, line / 4)


def ended_twice(ends: tuple[Loaded, Loaded], f: Array, line: float) -> EndedTwice:
    """A driver (`both_ended`) at frequencies (F,)."""
    one, two = (driver_curve(end, f, power=False) for end in ends)
    return EndedTwice((line, line / 4), (one, two))


def _lower(second: SecondSection, found: Loaded, line: float) -> Callable[[Array], Source]:
    """The second section at frequencies (F,), seen from the junction: through its chamber and its branch of slots."""
    alone = _of_file(second, found, line) if second.file else partial(_tabled, second)
    air, area = found.around.still, second.count * second.slot_area

    def seen_from_junction(f: Array) -> Source:
        omega = 2 * np.pi * f
        source = alone(f).through(shunt(np.asarray(1j * omega * second.volume / air.bulk_modulus)))
        return source.through(cylinder(slit(air, second.slot_width, omega), area, second.slot_length))

    return seen_from_junction


def _of_file(second: SecondSection, found: Loaded, line: float) -> Callable[[Array], Source]:
    """A second section of a file of its own as a source at the end of its channels, in the air of the first."""
    own = load_design(Path(second.file))
    driver = own.driver or Driver()
    if driver.motor is None or driver.front is None:
        raise ModelError(f"{second.file}: a second section needs a [motor], a [front] and an [exit] of its own")
    if driver.second_section is not None:
        raise ModelError(f"{second.file}: has a [second_section] itself, and two share an exit: take one out")
    own = replace(own, driver=replace(driver, climate=found.around.driver.climate))
    try:
        asked = _known(own, found.solution.up_to_hz, found.vacuum.corrected, line)
    except MeshError as problem:  # of its gap or slots, which are not those of the first
        raise MeshError(f"{second.file}: {problem}") from None
    return lambda f: asked(f.tobytes())


@lru_cache(maxsize=2)
def _known(own: Design, up_to_hz: float, corrected: bool, line: float) -> Callable[[bytes], Source]:
    """A driver as a source at frequencies (F,), given as bytes: the cases of a study share a second section, and begin
    to scan it at the same ones."""
    ends = both_ended(load_design_on(own, up_to_hz=up_to_hz, corrected=corrected), line)
    return lru_cache(maxsize=4)(lambda f: ended_twice(ends, np.frombuffer(f), line).source)


def _tabled(second: SecondSection, f: Array) -> Source:
    given = np.array(second.frequency)
    if f[0] < given[0] * (1 - 1e-9) or f[-1] > given[-1] * (1 + 1e-9):
        raise ModelError(
            f"second_section.table runs from {given[0]:g} to {given[-1]:g} Hz and is not extrapolated; asked for "
            f"{f[0]:g} to {f[-1]:g} Hz: extend the table or narrow the range"
        )
    return Source(*(tabled(given, values, 2 * np.pi * f) for values in (second.blocked_pressure, second.impedance)))
