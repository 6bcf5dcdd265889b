"""Sentences that figures alone make: resonance, what follows the coil, steps, peaks and holes, bands, break-up mode."""

import re
from collections.abc import Mapping

from diaphragm_fem.analysis.figures.break_up_mode import HALF
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.response_bands import Band, Extreme
from diaphragm_fem.analysis.figures.zones import QUIET_SHARE
from diaphragm_fem.analysis.modes.label import short_name
from diaphragm_fem.answer.change.named_levers import band_judged
from diaphragm_fem.report.words.told import NOTHING, Sentences, Told
from diaphragm_fem.report.words.words import digits, join_words, show_area, show_band, show_db, show_hz

OCTAVES_WANTED = 4.0  # common practice, no source
SMOOTH_WITHIN_DB = 1.0  # of its shelf: a peak or hole smaller than this is not worth a sentence
ALSO_NAMED = 0.3  # of a mode's strain: the second zone is named beside the first
SOFTER = "A softer or wider step, or more loss in it, would help."
ZONES_NAMED = 3  # at most, until they hold half of it


def what_happens(
    figures: Figures, hands_over: Told = NOTHING, softer: Told = NOTHING
) -> tuple[Sentences, Sentences]:
    """How a part moves and how even its response is, in sentences; behind those on steps what makes a hand-over come
    about where that was found, else what the rule told there would cost."""
    lets_go = steps(figures, remedy=not hands_over)
    return [piston(figures), follows(figures), lets_go, hands_over or softer], [smooth(figures), bands(figures)]


def piston(figures: Figures) -> str:
    join = "; " if figures.fundamental_hz is None else ", "
    return f"{_resonance(figures)}{join}area {show_area(figures.low_area_m2)} at rest."


def _resonance(figures: Figures, name: str = "fundamental resonance") -> str:
    if figures.fundamental_hz is None:
        return f"No {name}: {figures.reason('fundamental_hz')}"
    return capital(f"{name} {show_hz(figures.fundamental_hz)}")


def follows(figures: Figures) -> str:
    """How far the driven zones ride with the coil, and which leaves first."""
    followed = [one for one in figures.departures if one.departure_hz is not None or one.follows]
    if not followed:
        return f"{capital(figures.reason('departure_hz'))}."
    names = [one.zone for one in followed]
    every = "Both" if len(names) == 2 else f"All {len(names)}"
    whom = f"The {names[0]} follows" if len(names) == 1 else f"{every} driven zones follow"
    first = figures.first_to_leave
    if first is None:
        return f"{whom} the coil within 3 dB up to the end of the range, {show_hz(figures.top_hz)}."
    text = f"{whom} the coil within 3 dB up to {show_hz(first.departure_hz)}"
    if len(names) > 1:
        text += f"; the {first.zone.removesuffix(' driven zone')} leaves first"
    return text + "."


def steps(figures: Figures, *, remedy: bool = True) -> str:
    """Where steps let go and whether the motion is handed over; for one that is not, what of the step would help."""
    if not figures.steps:
        return ""
    lets_go = [f"the {s.name} at {show_hz(s.decoupling_hz)}" for s in figures.steps if s.decoupling_hz]
    never = [f"the {s.name}" for s in figures.steps if not s.decoupling_hz]
    words = []
    if lets_go:
        words.append(f"{join_words(lets_go)} let{'s' if len(lets_go) == 1 else ''} go")
    if never:
        words.append(f"{join_words(never)} do{'es' if len(never) == 1 else ''} not let go in the range")
    text = capital(", ".join(words)) + "; "
    if fails := hand_over_fails(figures):
        return f"{text}{fails} {SOFTER}" if remedy else f"{text}{fails}"
    if figures.handed_over_hz is None:
        return f"{text}{figures.reason('handed_over_hz')}: there is nothing to hand over."
    text += f"from {show_hz(figures.handed_over_hz)} the motion is handed over"
    if figures.high_area_m2 is None:
        return f"{text}, right where it leaves the coil."
    left, ripple = show_area(figures.high_area_m2), digits(figures.ripple_db or 0.0, 2)
    return f"{text} to the driven zones, whose {left} stay within {ripple} dB."


def hand_over_fails(figures: Figures) -> str:
    """ "the hand-over fails: the inner flank still moves by 0.70 of the coil's motion at 4.05 kHz, above 0.3."; ""
    where it does not, or there is nothing to hand over."""
    if all(step.idle for step in figures.steps) or figures.handed_over_hz is not None:
        return ""
    why = figures.reason("handed_over_hz").replace(" beyond step ", " ").replace(f", above {QUIET_SHARE:g}; ", "; ")
    why = re.sub(r" ((?:of|times) the coil's motion at [^;,]+); ([^;]*?) still moves (?=.*\1)", r" and \2 ", why)
    return f"the hand-over fails: {why}."


def smooth(figures: Figures) -> str:
    """The highest peak and the deepest hole of the response per newton, and who makes them."""
    found = [peak for peak in figures.peaks[:1] if peak.against_shelf_db >= SMOOTH_WITHIN_DB]
    found += [hole for hole in figures.holes[:1] if hole.against_shelf_db <= -SMOOTH_WITHIN_DB]
    told = [f"{show_db(one.against_shelf_db)} at {show_hz(one.frequency_hz)}, {_made_by(one)}" for one in found]
    if not told:
        return ""
    shelf = "shelf" if figures.shelf_2_db is None else "shelves"
    return f"Response per newton against its {shelf}: {'; '.join(told)}."


def _made_by(extreme: Extreme) -> str:
    if extreme.against_zone is None:
        led = "mostly from" if extreme.with_share > HALF else "led by"
        return f"{led} the {short_name(extreme.with_zone)}"
    return f"where the {short_name(extreme.against_zone)} works against the {short_name(extreme.with_zone)}"


def bands(figures: Figures) -> str:
    if figures.even_band is None:
        return f"No even band: {figures.reason('even_band_octaves')}."
    text = f"Even within 6 dB: {show_band(figures.even_band)}"
    if figures.steps and figures.shelf_band is not None:
        text += f"; within 3 dB of its shelves: {show_band(figures.shelf_band)}"
    band = judged(figures) or figures.even_band
    enough = "fewer than"
    if band.octaves >= OCTAVES_WANTED:
        enough = "at least"
    elif band.at_least:
        enough = "the range is too narrow to tell of"
    elif round(band.octaves, 1) == OCTAVES_WANTED:  # it is shown to a tenth
        enough = "just short of"
    return f"{text}; {enough} the four octaves of common practice."


def judged(figures: Figures) -> Band | None:
    """The band that a design is judged by: that of its shelves where it has steps."""
    return figures.shelf_band if band_judged(figures.table()) == "shelf_band" else figures.even_band


def break_up(figures: Figures) -> str:
    mode = figures.break_up_mode
    if mode.frequency_hz is None:
        return f"First break-up mode {mode.reason}."
    return f"First break-up mode {show_hz(mode.frequency_hz)}, {strain_words(mode.shares)}."


def in_vacuum(figures: Figures) -> str:
    """What of a driver is said of the part alone: resonance, the band it is judged by, break-up mode."""
    band = judged(figures)
    within = "within 3 dB of its shelves" if band is figures.shelf_band else "even within 6 dB"
    resonance = _resonance(figures, "fundamental")
    told = [resonance, *([f"{within} from {show_band(band)}"] if band else []), break_up(figures)]
    return f"In vacuum: {'; '.join(one[0].lower() + one[1:] for one in told)}"


def strain_words(shares: Mapping[str, float]) -> str:
    """ "82 % of its strain in the dome and 30 % in the former"; up to three where they hold less."""
    told: list[tuple[str, float]] = []
    for pair in list(shares.items())[:ZONES_NAMED]:
        held = sum(share for _, share in told)
        if held < HALF or (len(told) == 1 and pair[1] >= ALSO_NAMED):
            told.append(pair)
    (zone, share), *others = told
    more = [f"{100 * other:.0f} % in the {name}" for name, other in others]
    return join_words([f"{100 * share:.0f} % of its strain in the {zone}", *more])


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]
