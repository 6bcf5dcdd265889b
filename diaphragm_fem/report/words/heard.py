"""What is heard of a driver in words: its level, where that is low, where it plays, what two sections send together."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.load.two_sections import WITHIN
from diaphragm_fem.report.words.figures import DEEP_NULL
from diaphragm_fem.report.words.told import NOTHING, Sentences, Told, joined
from diaphragm_fem.report.words.words import digits, show_hz, show_level

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer
    from diaphragm_fem.answer.driver.figures import DriverFigures, Null
    from diaphragm_fem.answer.driver.sections import Sections

LOUD = "loud: protect hearing"  # beside every picture of a level that is heard
TOLD_BESIDE = 3.0  # dB below a null from which another low place is told beside it
PLAYING = f"within {WITHIN:.0f} dB of that median, smoothed to a third of an octave"
FAR_ABOVE = 2.0  # times what plays: there a crossover has long taken over (common practice, no source)
BREAKS_UP = 0.05  # of its frequency: so near a break-up mode a peak of the level is its own (3.4 % on eight drivers)
SHALLOW = 3.0  # dB: what is less deep is no null to who listens (common practice, no source)


def heard(driver: DriverAnswer, plays_on: Told = NOTHING) -> tuple[Sentences, Sentences]:
    """What leaves the driver: what both of two sections send, which decides; the level of the first, or only, one and
    its low places, which lie in the median's band and not in the one in which it plays, told last, with what moves its
    end."""
    crosses = driver.sections is not None and driver.sections.crosses
    both, first = (plays_on, NOTHING) if crosses else (NOTHING, plays_on)
    return shared_exit(driver, both), [level_words(driver), *lows(driver), *plays_sentence(driver, first)]


def shared_exit(driver: DriverAnswer, plays_on: Told = NOTHING) -> Sentences:
    """What both sections send through their exit, about the crossover too, where they play by that, with what moves the
    end of it, and where either plays; nothing of a driver alone."""
    if (sections := driver.sections) is None:
        return []
    crossover, most = f"the crossover at {show_hz(sections.crossover_hz)}", show_level(sections.sum_db.max())
    overlap = f"Overlap: {overlap_words(sections)}."
    if not sections.crosses:
        return [f"Both behind {crossover}, which lies outside the range: {most} at most.", overlap]
    lost, other = lost_words(sections.lost), lost_words(sections.lost_turned, where=False)
    names = ("median_level_db", "level_spread_db", "plays_from_hz", "plays_to_hz")
    median, spread, low, high = (driver.figures.summed[f"sum_{name}"] for name in names)
    assert median is not None and low is not None and high is not None  # as both cross within the range
    play = plays_words((low, high), sections.frequency_hz)
    near = f"median {show_level(median)}, spread {spread:.1f} dB, lowest {lowest_words(sections)}"
    cancel = f"They cancel {lost}, with the other polarity {other}."
    plays = joined([f"They play {play} (−{WITHIN:.0f} dB)", plays_on], "; ").within("{}.")
    return [f"Both within an octave of {crossover}: {near}; anywhere {most} at most.", cancel, plays, overlap]


def lowest_words(sections: Sections) -> str:
    """ "121.2 dB (2.80 kHz)": the lowest of the sum about the crossover, and where."""
    hz, lowest = sections.lowest
    return f"{show_level(lowest)} ({show_hz(hz)})"


def lost_words(found: tuple[float, float], *, where: bool = True) -> str:
    """ "6.3 dB (3.92 kHz)": how far a sum lies below the louder section about the crossover, and where in Hz."""
    hz, lost = found
    return f"{lost:.1f} dB{f' ({show_hz(hz)})' * where}" if lost >= 0.05 else "nothing"


def overlap_words(sections: Sections) -> str:
    """ "1.2 octaves, 1.10 kHz to 2.53 kHz", "none, 0.2 octaves are missing between them" or why there is none to tell;
    where it leaves out the crossover, that: one of 1.3 octaves lay from 380 to 940 Hz, the crossover at 3.5 kHz."""
    if sections.overlap is None or sections.plays_hz is None:
        return f"none, {sections.reason}"
    octaves = f"{abs(sections.overlap):.1f} octaves"
    if sections.overlap < 0:
        return f"none, {octaves} are missing between them"
    low, high = sections.plays_hz
    side = "below" if high < sections.crossover_hz else "above" if low > sections.crossover_hz else ""
    return f"{octaves}, {show_hz(low)} to {show_hz(high)}{f', {side} the crossover' * bool(side)}"


def level_words(driver: DriverAnswer) -> str:
    """The median level with everything on, its band and its spread, or why there is none."""
    figures, curve = driver.figures, driver.curve
    if figures.median_level_db is None or figures.band_hz is None:
        return f"With everything on: no level, because {figures.reasons['median_level_db']}."
    low, high = (show_hz(end) for end in figures.band_hz)
    level = f"{show_level(figures.median_level_db)} {curve.level_where} at {curve.voltage:g} V"
    spread = f"spread {figures.level_spread_db:.1f} dB"
    of = "With everything on" if driver.sections is None else "The first section alone"
    return f"{of}: {level}, median from {low} to {high}, {spread}{highest(driver)}."


class Spot(NamedTuple):
    """A place of the level that is told: a word for a mark there, its frequency in Hz, what is said of it."""

    name: str
    frequency_hz: float
    words: str


def spots(driver: DriverAnswer) -> list[Spot]:
    """What of the level is told, to be marked where it is drawn: its peak, where it falls off, its worst nulls."""
    peak, lowest = _peak(driver), _lowest(driver)
    found = [Spot("highest", peak[0], _highest_words(*peak))] if peak else []
    found += [Spot("lowest", lowest[0], f"lowest in the band {_lowest_words(*lowest)}")] if lowest else []
    worst = dict.fromkeys((driver.figures.null_in_band, null_told(driver.figures)))
    return found + [_null_spot(null) for null in worst if null is not None]


def _null_spot(null: Null) -> Spot:
    name = "null" if null.depth_db >= SHALLOW else "dip"
    return Spot(name, null.frequency_hz, f"{name} {show_null(null)}: {null.cause}")


def highest(driver: DriverAnswer) -> str:
    """ ", highest +11 dB at 10.8 kHz": the peak of the level in the band of its median, against that, where it stands
    out farther than a null there lies below: of a V in its recess a hump of 11 dB was told as a spread alone."""
    peak = _peak(driver)
    return f", {_highest_words(*peak)}{' (break-up mode)' * peak_breaks_up(driver)}" if peak else ""


def peak_breaks_up(driver: DriverAnswer) -> bool:
    """Whether the peak that is told of a level is the break-up mode's: of eight of eleven faces in baffles it was, by 5
    to 19 dB, and nothing said what makes it or moves it."""
    peak, mode = _peak(driver), driver.figures.loaded.break_up_mode.frequency_hz
    return peak is not None and mode is not None and abs(peak[0] / mode - 1) < BREAKS_UP


def _highest_words(hz: float, above_db: float) -> str:
    return f"highest +{digits(above_db, 2)} dB at {show_hz(hz)}"


def _peak(driver: DriverAnswer) -> tuple[float, float] | None:
    """Hz and dB above the median."""
    f, above, inside = _in_band(driver)
    peaks = inside[(inside > 0) & (inside < len(f) - 1)]
    peaks = peaks[(above[peaks] > above[peaks - 1]) & (above[peaks] >= above[peaks + 1])]
    peak = peaks[np.argmax(above[peaks])] if len(peaks) else 0
    if not len(peaks) or above[peak] <= max(SHALLOW, _deep(driver.figures.null_in_band)):
        return None
    return float(f[peak]), float(above[peak])


def _in_band(driver: DriverAnswer) -> tuple[Array, Array, Index]:
    """Frequencies (F,) in Hz, the level (F,) above its median in dB, and which lie in its band; none without."""
    figures, f, level = driver.figures, driver.curve.frequency_hz, driver.curve.level_db
    if level is None or figures.median_level_db is None or figures.band_hz is None:
        return f, np.zeros_like(f), np.zeros(0, int)
    low, high = figures.band_hz
    return f, level - figures.median_level_db, np.flatnonzero((f >= low) & (f <= high))


def _deep(null: Null | None) -> float:
    return 0.0 if null is None else null.depth_db


def plays_sentence(driver: DriverAnswer, plays_on: Told = NOTHING) -> Sentences:
    """Where it plays, and what moves the end of that; nothing without a level."""
    if driver.figures.median_level_db is None or driver.figures.band_hz is None:
        return []
    where = plays_words(driver.figures.plays_hz, driver.curve.frequency_hz)
    return [joined([f"Plays {where} (−{WITHIN:.0f} dB)", plays_on], "; ").within("{}.")]


def plays_words(ends: tuple[float, float] | None, f: Array) -> str:
    """ "380 Hz to 2.90 kHz", "up to 3.67 kHz" where the range begins within: a driver is crossed over where its level
    ends, which is neither where its zones leave the coil nor its deepest null."""
    assert ends is not None  # as long as there is a median
    low, high = map(show_hz, ends)
    if ends[0] == ends[1]:
        return "nowhere"
    if ends[0] > f[0]:
        return f"{low} to {high}" if ends[1] < f[-1] else f"from {low} on"
    return f"up to {high}" if ends[1] < f[-1] else "over the whole range"


def lows(driver: DriverAnswer) -> list[str]:
    """Where the level is low in the band of its median, null or none, then the worst null of all above that."""
    fall, worst = falls_off(driver), null_told(driver.figures)
    if fall and driver.figures.null_in_band is None:
        return [f"{fall}{'.' if worst is None else f'; above it {_where(worst)}'}"]
    return [*nulls(driver.figures), *([f"{fall}."] if fall else [])]


def _where(null: Null, of: str = "") -> str:
    """Of a null what makes it, too; a shallow dip has no cause to speak of."""
    return f"{show_null(null)}{of}{f' ({null.cause})' * (null.depth_db >= SHALLOW)}."


def null_told(figures: DriverFigures) -> Null | None:
    """The worst null, or that in the band of the median level where the worst lies far above that and what plays."""
    worst, ends = figures.null, [band[1] for band in (figures.band_hz, figures.plays_hz) if band is not None]
    far = worst is not None and ends and worst.frequency_hz > FAR_ABOVE * max(ends)
    return figures.null_in_band if far else worst


def nulls(figures: DriverFigures) -> list[str]:
    """The worst null within the band of the median level, and the worst of all where that lies not far above it."""
    worst, inside = null_told(figures), figures.null_in_band
    if worst is None:
        return ["No null within that band."] * (figures.null is not None)
    if worst == inside:
        of = " within that band" * (worst != figures.null)
        return [f"{'Deepest dip' if worst.depth_db < SHALLOW else 'Worst null'} {_where(worst, of)}"]
    if inside is None:
        return [f"No null within that band; above it {_where(worst)}"]
    first = f"{show_null(inside)} within that band"
    if inside.depth_db < SHALLOW:
        return [f"Deepest dip {first}; above it {_where(worst)}"]
    if inside.cause == worst.cause:
        return [f"Worst nulls {first} and {show_null(worst)} above it ({worst.cause})."]
    return [f"Worst null {first} ({inside.cause}); above it {_where(worst)}"]


def falls_off(driver: DriverAnswer) -> str:
    """Where the level lies lowest in the band of its median, "" where a null there is about as deep. An end beyond the
    departure is where it plays to: it is down there, and told so."""
    lowest = _lowest(driver)
    return f"Lowest in that band: {_lowest_words(*lowest)}, no null" if lowest else ""


def _lowest_words(hz: float, above_db: float) -> str:
    return f"{digits(above_db, 2)} dB at {show_hz(hz)}"


def _lowest(driver: DriverAnswer) -> tuple[float, float] | None:
    """Hz and dB above the median, less than nothing."""
    f, above, inside = _in_band(driver)
    if not len(inside):
        return None
    lowest, figures = inside[np.argmin(above[inside])], driver.figures
    assert figures.band_hz is not None  # as long as something lies in it
    (_, high), depth = figures.band_hz, -float(above[lowest])
    plays_no_further = high > (figures.loaded.departure_hz or high) and lowest == inside[-1]
    if depth <= _deep(figures.null_in_band) + TOLD_BESIDE or plays_no_further:
        return None
    return float(f[lowest]), -depth


def show_null(null: Null) -> str:
    """ "−12 dB at 5.40 kHz" below the median level, "deeper than −40 dB at 13.3 kHz"."""
    depth = f"deeper than −{DEEP_NULL:.0f}" if null.depth_db > DEEP_NULL else digits(-null.depth_db, 2)
    return f"{depth} dB at {show_hz(null.frequency_hz)}"
