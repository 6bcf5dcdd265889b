"""Measured curves beside their predictions in words, as tables and as columns of numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.blocks.blocks import Block, Heading, Table, Words
from diaphragm_fem.report.words.words import one, show_db, show_hz, signed_digits

if TYPE_CHECKING:
    from diaphragm_fem.answer.measured import Beside


WRONG_UNIT_DB = 30.0  # of the median: no part is off by as much, a unit is by 40, 60 or 80 dB


def beside_words(beside: Beside) -> str:
    """One curve in a sentence or two."""
    f = beside.curve.frequency_hz
    low, high = beside.most_db
    worst, worst_hz = beside.worst
    text = (
        f"Measured {beside.curve.title}, {show_hz(float(f[0]))} to {show_hz(float(f[-1]))}: "
        f"{show_db(beside.median_db)} against the prediction {state_of(beside)} in the median, four fifths of it "
        f"between {show_db(low)} and {show_db(high)}, at most {show_db(worst)} at {show_hz(worst_hz)}."
    )
    if abs(beside.median_db) >= WRONG_UNIT_DB:
        factor = float(f"{10 ** (abs(beside.median_db) / 20):.2g}")
        text += f" That is a factor of {factor:,.0f}: is the unit in its file the right one?"
    if not beside.tells_peaks:
        return (
            f"{text} Its points lie {beside.octaves_apart:.2f} octaves apart in the median, too far to tell peaks by."
        )
    count, (own, theirs) = len(beside.pairs), beside.unmatched
    if beside.median_shift is None:
        none = "No peak belongs to a predicted one" if own or theirs else "Neither has a peak that stands out"
        return f"{text} {none}."
    shifts = [pair.shift for pair in beside.pairs]
    text += (
        f" {one(count, 'peak belongs', 'peaks belong')} to a predicted one, shifted by {_percent(beside.median_shift)}"
    )
    if count > 1:
        text += f" in the median ({_percent(min(shifts))} to {_percent(max(shifts))})"
    rest = [f"{n} {which}" for n, which in ((own, "measured"), (theirs, "predicted")) if n]
    return f"{text}; {' and '.join(rest)} without a partner." if rest else f"{text}."


def state_of(beside: Beside) -> str:
    return "with everything on" if beside.loaded else "in vacuum"


def measured_blocks(evaluation: Answer) -> list[Block]:
    """Every measured curve in words, and the peaks that belong together."""
    if not evaluation.measured:
        return []
    from diaphragm_fem.answer.measured import SAME_PEAK

    blocks: list[Block] = [Heading("Measured against predicted")]
    blocks += [Words(beside_words(beside)) for beside in evaluation.measured]
    told = (
        "Predicted is the design as its file has it: in vacuum, or with everything on that the file puts around it. "
        f"Peaks belong together where each is the other's nearest, within 1/{1 / SAME_PEAK:.0f} octave."
    )
    if any(beside.curve.phase for beside in evaluation.measured):
        told += " Sizes are compared; phases stand in measured.csv."
    table = peaks_table(evaluation.measured)
    peaks: list[Block] = [Heading("Peaks, measured and predicted", 3), table] if table.rows else []
    return [*blocks, Words(told), *peaks]


def peaks_table(measured: Sequence[Beside]) -> Table:
    rows = [
        (
            f"{n}", beside.curve.title, show_hz(pair.measured_hz, 4), show_hz(pair.predicted_hz, 4),
            _percent(pair.shift), show_db(pair.higher_db),
        )
        for n, beside in enumerate(measured, start=1)
        for pair in beside.pairs
    ]  # fmt: skip
    return Table(("curve", "quantity", "measured peak", "predicted", "shift", "higher by"), rows, numbers_from=2)


def nearest_words(names: Sequence[str], measured: Sequence[Sequence[Beside]]) -> list[str]:
    """Per measured curve which design comes nearest; `measured` holds the curves of each design."""
    found = []
    for of_each in zip(*measured, strict=True):
        apart = [beside.rms_db for beside in of_each]
        nearest, *others = [f"{names[d]}, {apart[d]:.1f} dB rms apart" for d in np.argsort(apart)]
        found.append(f"Nearest to the measured {of_each[0].curve.title}: {'; then '.join([nearest, *others])}.")
    return found


def nearness_table(names: Sequence[str], measured: Sequence[Sequence[Beside]]) -> Table:
    """A row per measured curve and design: how far apart they are."""
    rows = [
        (
            beside.curve.title, name, f"{beside.rms_db:.1f} dB", show_db(beside.median_db),
            " to ".join(show_db(end) for end in beside.most_db),
            "" if beside.median_shift is None else _percent(beside.median_shift), state_of(beside),
        )
        for of_each in zip(*measured, strict=True)
        for name, beside in zip(names, of_each, strict=True)
    ]  # fmt: skip
    head = ("measured", "design", "apart, rms", "median", "four fifths", "peaks shifted by", "predicted")
    return Table(head, rows, numbers_from=2, words=(6,))


def _percent(share: float) -> str:
    return f"{signed_digits(100 * share, 2)} %"
