"""A driver in words: figures in vacuum and with everything on side by side, its parameters, power, two sections,
what a face in a baffle radiates."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.arrays import Array
from diaphragm_fem.report.blocks.blocks import Block, Heading, Table, noticed
from diaphragm_fem.report.words.figures import figure_text
from diaphragm_fem.report.words.heard import (
    PLAYING,
    lost_words,
    lowest_words,
    overlap_words,
    plays_words,
    show_null,
)
from diaphragm_fem.report.words.sentences import follows, piston, steps
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.told import NOTHING, Sentences, Told
from diaphragm_fem.report.words.trust import loudness, model_notes
from diaphragm_fem.report.words.words import (
    NONE,
    digits,
    show_area,
    show_hz,
    show_level,
    show_mass,
    show_share,
)

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer
    from diaphragm_fem.answer.driver.figures import DriverFigures
    from diaphragm_fem.answer.driver.sections import Sections

Row = tuple[str, ...]
SIDES = ("figure", "in vacuum", "with everything on", "")
SIGNALS = ("parameter", "in vacuum", "with everything on", "what it is")
POWER = ("cause", "300 Hz", "1 kHz", "3 kHz", "10 kHz")
LEAST_SHARE = 1e-5  # of the power: what takes less is left out
HEADLINES = (
    "fundamental resonance", "low area", "3 dB departure", "median level", "spread", "plays", "worst null",
    "largest excursion", "efficiency", "beam narrows", "wall and air",
)  # fmt: skip
"""What the names of a driver's first figures begin with."""
LOSSES = ("mode", "loss factor", "Q", "sweeps most", "where it goes")
SWEEPS = (
    "Sweeps most: of the volume. A zone that moves against itself sweeps little, as a surround in a mode of its own, "
    "which the list of modes in vacuum names by what holds the motion."
)
MOST_CAUSES, LEAST_CAUSE = 4, 0.02  # of a mode that are named
BELOW_HZ = 8e3  # from there on a thin chamber before a bending wall is told apart
POWER_HZ = (300.0, 1e3, 3e3, 10e3)
RADIATION = ("frequency", "on the axis", "30° off", "60° off", "beam to −6 dB", "directivity index", "power radiated")
LEVELS_AT = (0.0, 30.0, 60.0)  # degrees off the axis
AT_HZ = (250.0, 500.0, 1e3, 2e3, 4e3, 8e3, 12e3, 16e3, 20e3)
WHOLE = "the half space"  # a beam that never falls by 6 dB


def moves_loaded(driver: DriverAnswer, hands_over: Told = NOTHING) -> Sentences:
    """How a driver moves with everything on: resonance, what follows the coil, steps and what makes a hand-over come
    about, where its beam narrows."""
    figures, loaded = driver.figures, driver.figures.loaded
    told: list[str | Told] = [piston(loaded), follows(loaded), steps(loaded, remedy=False), hands_over]
    if figures.baffled.get("beam_narrows_hz") is not None:
        told.append(f"The beam narrows to 90° at {show_hz(figures.baffled['beam_narrows_hz'])}.")
    return told


def side_by_side(evaluation: Answer) -> list[Row]:
    """Figures of merit in vacuum and loaded, then those that only a driver has."""
    driver = evaluation.driver
    assert driver is not None and evaluation.figures is not None
    vacuum, loaded = evaluation.figures, driver.figures.loaded
    of_steps = () if vacuum.steps else ("decoupling_hz", "handed_over_hz", "high_area_m2")
    rows = [_pair(name, vacuum, loaded) for name in _MERITS if name not in of_steps]
    for one, other in zip(vacuum.steps, loaded.steps, strict=True):
        if len(vacuum.steps) > 1:
            rows.append((f"{one.name}: decoupling", show_hz(one.decoupling_hz), show_hz(other.decoupling_hz), ""))
    return rows + _own(driver, vacuum)


def headlines(sides: Sequence[Row]) -> list[tuple[str, str]]:
    """Name and value of the first figures with everything on, of the rows of `side_by_side`."""
    return [(name, value) for name, _, value, _ in sides if name.startswith(HEADLINES) and value not in ("", NONE)]


_MERITS = (
    "fundamental_hz", "low_area_m2", "decoupling_hz", "handed_over_hz", "high_area_m2", "departure_hz",
    "even_band_octaves",
)  # fmt: skip


def _pair(name: str, vacuum: Figures, loaded: Figures) -> Row:
    words = figure_text(loaded, name)
    why = loaded.reason(name) if words == NONE else ""
    if name == "even_band_octaves" and loaded.even_band is not None:
        why = f"all on from {show_hz(loaded.even_band.from_hz)} to {show_hz(loaded.even_band.to_hz)}"
    return naming(name).words, figure_text(vacuum, name), words, why


def level_lines(figures: DriverFigures, f: Array) -> dict[str, str]:
    """What a driver's level comes to, by name, of a curve at frequencies (F,); shorter than `side_by_side`."""
    told = {naming(name).words: figure_text(figures.loaded, name) for name in ("fundamental_hz", "departure_hz")}
    if figures.median_level_db is not None:
        told["median level"] = show_level(figures.median_level_db)
        told["spread of the level"] = f"{figures.level_spread_db:.1f} dB"
        told["plays"] = plays_words(figures.plays_hz, f)
    if figures.null is not None:
        told["worst null"] = show_null(figures.null)
    if figures.excursion_m is not None:
        told["largest excursion"] = f"{digits(figures.excursion_m * 1e3, 2)} mm"
    return told


def _own(driver: DriverAnswer, vacuum: Figures) -> list[Row]:
    figures, curve, held = driver.figures, driver.curve, "held_volume_m3"
    both = figure_text(vacuum, held), figure_text(figures.loaded, held)
    rows: list[Row] = [(naming(held).words, *both, "air as soft as the diaphragm at the moduli of either resonance")]
    if figures.median_level_db is not None and figures.band_hz is not None:
        low, high = figures.band_hz
        volts = f"at {curve.voltage:g} V, {show_hz(low)} to {show_hz(high)}"
        rows.append((f"median level {curve.level_where}", "", show_level(figures.median_level_db), volts))
        rows.append(("spread of the level", "", f"{figures.level_spread_db:.1f} dB", "tenth to ninetieth percentile"))
        if figures.plays_hz is not None:
            rows.append(("plays", "", plays_words(figures.plays_hz, curve.frequency_hz), PLAYING))
    elif "median_level_db" in figures.reasons:
        rows.append((f"median level {curve.level_where}", "", NONE, figures.reasons["median_level_db"]))
    for null, place in ((figures.null_in_band, "in"), (figures.null, "above")):
        if null is not None and (place == "in" or null != figures.null_in_band):
            rows.append((f"worst null {place} the band", "", show_null(null), null.cause))
    if figures.efficiency is not None:
        words = f"{'radiated in front' if curve.radiated else 'exit'} over terminals, median"
        rows.append(("efficiency", "", f"{digits(100 * figures.efficiency, 2)} %", words))
    rows += beam_rows(driver)
    if figures.excursion_m is not None and figures.excursion_hz is not None:
        where = f"{figures.excursion_of} at {show_hz(figures.excursion_hz)}, peak, from resonance up"
        rows.append(("largest excursion", "", f"{digits(figures.excursion_m * 1e3, 2)} mm", where))
    if driver.opinion is not None:
        worst = f"largest at {show_hz(driver.opinion.worst_hz)}, face moving as one body"
        rows.append(("chamber in two dimensions differs", "", f"{driver.opinion.difference_db:.2g} dB", worst))
    if driver.wall_in_air is not None:
        below = driver.wall_in_air.differences_db[driver.wall_in_air.frequency_hz < BELOW_HZ].max(initial=0.0)
        worst = f"largest at {show_hz(driver.wall_in_air.worst_hz)}; below {show_hz(BELOW_HZ)} {below:.2g} dB"
        size = f"{driver.wall_in_air.difference_db:.2g} dB"
        rows.append(("wall and air in two dimensions as one differ", "", size, worst))
    return rows


def signal_lines(driver: DriverAnswer) -> list[Row]:
    """The usual small-signal parameters, each with its definition."""
    pair = driver.figures.vacuum_signal, driver.figures.loaded_signal
    if pair == (None, None):
        return []
    shown = (
        ("f_s", lambda s: show_hz(s.f_s), "fundamental resonance"),
        ("M_ms", lambda s: show_mass(s.M_ms), "moving mass, stiffness/(2π f_s)²"),
        (
            "C_ms",
            lambda s: f"{s.C_ms * 1e3:.3g} mm/N",
            "compliance at the coil: in vacuum at rest, else of the motion at f_s",
        ),
        ("R_ms", lambda s: f"{s.R_ms:.3g} N s/m", "loss at f_s"),
        ("S_d", lambda s: show_area(s.S_d), "low area"),
        ("Q_ms", lambda s: f"{s.Q_ms:.3g}", "2π f_s M_ms/R_ms"),
        ("Q_es", lambda s: f"{s.Q_es:.3g}", "2π f_s M_ms R_e/Bl²"),
        ("Q_ts", lambda s: f"{s.Q_ts:.3g}", "Q_ms and Q_es together"),
        ("V_as", lambda s: f"{s.V_as * 1e3:.3g} l", "κ S_d² C_ms of the same column"),
        ("η_0", lambda s: f"{digits(100 * s.eta_0, 2)} %", "ρ Bl² S_d²/(2π c R_e M_ms²), into a half-space"),
    )
    return [(name, *("none" if s is None else show(s) for s in pair), words) for name, show, words in shown]


def power_lines(driver: DriverAnswer) -> list[Row]:
    """Shares of the power at a few frequencies."""
    curve = driver.curve
    if curve.electrical_power is None:
        return []
    rows = []
    inside = [f for f in POWER_HZ if curve.frequency_hz[0] <= f <= curve.frequency_hz[-1]]
    for name, watts in curve.power.items():
        if np.max(watts / curve.electrical_power) < LEAST_SHARE:
            continue
        share = [float(np.interp(f, curve.frequency_hz, watts / curve.electrical_power)) for f in inside]
        rows.append((name, *map(show_share, share), *[""] * (len(POWER_HZ) - len(inside))))
    return rows


def loss_lines(driver: DriverAnswer) -> list[Row]:
    """Each loaded mode with its loss factor and what takes most of it."""
    modes = driver.modes
    rows: list[Row] = []
    for k, (f, total) in enumerate(zip(modes.frequency_hz, modes.loss_factor, strict=True)):
        share = sorted(((loss[k] / total, cause) for cause, loss in modes.loss.items()), reverse=True)
        words = ", ".join(f"{cause} {100 * part:.0f} %" for part, cause in share[:MOST_CAUSES] if part > LEAST_CAUSE)
        rows.append((show_hz(float(f)), digits(total, 2), digits(1 / total, 2), modes.moving[k], words))
    return rows


def section_lines(driver: DriverAnswer) -> list[Row]:
    """What two sections in one exit do, as name and words."""
    sections = driver.sections
    if sections is None:
        return []
    dips = ", ".join(show_hz(float(f)) for f in sections.minima_hz[:6]) or "none"
    alone = driver.curve.terminal_impedance
    assert alone is not None
    moved = np.abs(sections.impedance / alone - 1)
    at = int(np.argmax(moved))
    most = f"by {100 * moved[at]:.2g} % at most, at {show_hz(float(sections.frequency_hz[at]))}"
    upper, lower = (float(np.abs(r).max()) for r in (sections.reflection_upper, sections.reflection_lower))
    return [
        ("overlap without filters", overlap_words(sections)),
        ("branch: minima of its impedance", dips),
        ("largest reflection met by the upper section", f"{upper:.2g}"),
        ("largest reflection met by the lower section", f"{lower:.2g}"),
        ("first section's impedance moved by the second", most),
        ("highest level of the sum", show_level(sections.sum_db.max())),
        *_about_the_crossover(sections, driver.figures),
    ]


def _about_the_crossover(sections: Sections, figures: DriverFigures) -> list[Row]:
    """What the sum does about the crossover, its median and spread there, and where it plays by that."""
    median, spread, low, high, heard = (
        figures.summed[f"sum_{name}"]
        for name in ("median_level_db", "level_spread_db", "plays_from_hz", "plays_to_hz", "heard_octaves")
    )
    if median is None or spread is None or heard is None:
        return [("about the crossover", figures.reason("sum_median_level_db"))]
    return [
        ("lowest within an octave of the crossover", lowest_words(sections)),
        ("there below the louder section", lost_words(sections.lost)),
        ("the same with the other polarity", lost_words(sections.lost_turned)),
        ("median of the sum within an octave of the crossover", f"{show_level(median)}, spread {spread:.1f} dB"),
        ("the sum plays, against that", f"{show_hz(low)} to {show_hz(high)}, {heard:.2f} octaves heard"),
    ]


def driver_blocks(evaluation: Answer) -> list[Block]:
    """The driver: figures side by side, cautions, notes and every further table; nothing without one."""
    driver = evaluation.driver
    if driver is None:
        return []
    blocks: list[Block] = [Heading("The driver")]
    if evaluation.figures is not None:
        blocks.append(Table(SIDES, side_by_side(evaluation), words=(3,)))
    blocks += noticed("Caution", [f"{words}." for words in loudness(evaluation)])
    blocks += noticed("Note", [f"{words}." for words in model_notes(evaluation)])
    every = (
        ("Radiation from the baffle", RADIATION, radiation_lines(driver)),
        ("Small-signal parameters", SIGNALS, signal_lines(driver)),
        ("Where the power goes, of what the terminals take", POWER, power_lines(driver)),
        ("Loss of each mode with everything on, the source at 0 V", LOSSES, loss_lines(driver)),
        ("Two sections in one exit", ("what", "value"), section_lines(driver)),
    )
    for title, head, rows in every:
        if rows:
            note = SWEEPS if head is LOSSES else ""
            blocks += [Heading(title, 3), Table(head, rows, numbers_from=len(head), note=note)]
    return blocks


def beam_rows(driver: DriverAnswer) -> list[Row]:
    """The figures that only a face in a baffle has, as rows beside those in vacuum; none for other fronts."""
    figures = driver.figures
    if not figures.baffled:
        return []
    narrows, index = (figures.baffled[name] for name in ("beam_narrows_hz", "directivity_index_db"))
    reason = figures.reasons.get("beam_narrows_hz", "level 45° off the axis 6 dB down")
    rows: list[Row] = [("beam narrows to 90° at", "", show_hz(narrows), reason)]
    if index is not None:
        rows.append(("directivity index, median", "", show_level(index), "far away, against the half space"))
    if driver.air_opinion is not None:
        worst = f"largest at {show_hz(driver.air_opinion.worst_hz)}, on the axis"
        size = f"{digits(driver.air_opinion.difference_db, 2)} dB"
        rows.append(("free air on elements two thirds as long differs", "", size, worst))
    return rows


def radiation_lines(driver: DriverAnswer) -> list[Row]:
    """Levels, beam, directivity and power at a few frequencies; levels against the axis where there is no motor."""
    curve = driver.curve
    if not curve.radiated:
        return []
    front, f = curve.radiated[0], curve.frequency_hz
    driven = curve.current is not None
    levels, rows = curve.levels_at(LEVELS_AT), []
    for hz in (hz for hz in AT_HZ if f[0] <= hz <= f[-1] * (1 + 1e-9)):
        at = [float(np.interp(hz, f, levels[:, k])) for k in range(len(LEVELS_AT))]
        shown = [show_level(level) for level in at]
        k = int(np.argmin(np.abs(np.log(f / hz))))
        beam = front.beam_degrees[k]
        watts = curve.voltage**2 * float(np.interp(hz, f, front.power))
        rows.append((
            show_hz(hz), *shown, WHOLE if np.isnan(beam) else f"{beam:.0f}°",
            show_level(front.directivity_index_db[k]), show_watts(watts) if driven else NONE,
        ))  # fmt: skip
    return rows


def show_watts(value: float) -> str:
    return f"{digits(value * 1e3)} mW" if value < 0.9995 else f"{digits(value)} W"
