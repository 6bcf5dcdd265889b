"""What to change: how every figure answers to a tenth more of every lever."""

from collections.abc import Mapping, Sequence

from diaphragm_fem.answer.better import better
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.sheets.names import fitted, folded_to, shorten_apart
from diaphragm_fem.report.sheets.sheet import Box, Sheet
from diaphragm_fem.report.sheets.style import RULE, SIDES, SMALL, SOFT_INK, TEXT, mixed, side_colour
from diaphragm_fem.report.words.figures import (
    FAINT,
    JUMP,
    bare_change,
    change_notes,
    changed_figures,
    changed_in,
    changed_label,
    largest_change,
)  # fmt: skip
from diaphragm_fem.report.words.words import one

LEFT, RIGHT, HEAD = 10.0, 287.0, 186.0
NOTES, NOTE = 23.4, 3.3  # mm: where notes begin above the key, and from one to the next
KEYS = 78.0  # width of the column of keys, mm
LEAST, TALLEST = 3.8, 7.5  # height of a row, mm: below the least its letters would touch the next
LEAST_TINT, MOST_TINT = 0.06, 0.42


def changes_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """A row per lever and a column per figure: what it changes, tinted by better and worse, deeper where it is more."""
    found = evaluation.sensitivities
    assert found is not None  # the listing has looked
    names = changed_figures(found)
    width = (RIGHT - LEFT - KEYS) / max(len(names), 1)
    largest = {name: largest_change(found, name) for name in names}
    notes = change_notes(evaluation)[::-1]
    rows = _strongest(found, largest, int((HEAD - NOTES - NOTE * (len(notes) + 1) - 1.5) / LEAST))
    if left := len(found.rows) - len(rows):
        notes.append(f"In what_to_change.csv alone: {one(left, 'lever')} of less effect")
    height = min((HEAD - NOTES - NOTE * len(notes) - 1.5) / max(len(rows), 1), TALLEST)
    for j, name in enumerate(names):
        words = folded_to(changed_label(name), width - 2.5, SMALL)
        for line, text in enumerate(reversed(words[:4])):
            sheet.text(LEFT + KEYS + (j + 1) * width - 2, HEAD + 1.5 + 3.2 * line, text, size=SMALL, ha="right")
    sheet.line(LEFT, HEAD + 0.4, RIGHT, HEAD + 0.4, width=0.9)
    keys = shorten_apart([row.lever.key for row in rows], KEYS - 2, SMALL)
    for i, (row, key) in enumerate(zip(rows, keys, strict=True)):
        top = HEAD - i * height
        middle = top - height / 2 - 0.35 * SMALL / 2.83
        sheet.text(LEFT, middle, key, size=SMALL)
        if row.reason and not row.change:
            why = fitted(f"refused: {row.reason}", RIGHT - LEFT - KEYS, SMALL)
            sheet.text(LEFT + KEYS, middle, why, size=SMALL, color=SOFT_INK)
        for j, name in enumerate(names):
            told = bare_change(found, row, name, largest[name])
            box = (LEFT + KEYS + j * width, top - height, width, height)
            _cell(sheet, row, name, told, largest[name], box, middle)
        sheet.line(LEFT, top - height, RIGHT, top - height, colour=RULE, width=0.3)
    _key(sheet, notes)
    return f"one step of +10 % each, by the shell on one mesh{changed_in(evaluation)}"


def _strongest(found: Sensitivities, largest: Mapping[str, float], most: int) -> list[Sensitivity]:
    """At most so many rows in their order, by the share that each has in the largest change of any figure."""

    def share(row: Sensitivity) -> float:
        if row.lost:
            return 1.0
        return max((abs(row.change.get(name) or 0.0) / size for name, size in largest.items() if size), default=0.0)

    kept = sorted(range(len(found.rows)), key=lambda i: -share(found.rows[i]))[:most]
    return [found.rows[i] for i in sorted(kept)]


def _cell(sheet: Sheet, row: Sensitivity, name: str, words: str, largest: float, box: Box, middle: float) -> None:
    left, bottom, width, height = box
    change = row.change.get(name)
    if change is None:
        sheet.text(left + width - 2, middle, words, size=SMALL, ha="right", color=SOFT_INK)
        return
    jump = words.endswith(JUMP)
    if abs(change) > FAINT * largest and not jump:
        share = LEAST_TINT + (MOST_TINT - LEAST_TINT) * abs(change) / largest
        colour = mixed("#ffffff", side_colour(better(name) * change), share)
        sheet.box(left + 0.5, bottom + 0.25, width - 1.0, height - 0.5, colour, zorder=0)
    weight = "bold" if largest and abs(change) > 0.5 * largest and not jump else "normal"
    sheet.text(left + width - 2, middle, words or "–", size=SMALL, ha="right", weight=weight)


def _key(sheet: Sheet, more: Sequence[str]) -> None:
    left = LEFT
    for colour, words in SIDES:
        sheet.box(left, 19.5, 5.0, 3.0, mixed("#ffffff", colour, MOST_TINT), zorder=0)
        sheet.text(left + 6.5, 20.0, words, size=TEXT)
        left += 34.0
    words = "the deeper the tint, the nearer the largest change of its column, jumps aside; over half of it in bold"
    sheet.text(left + 12, 20.0, words, size=SMALL, color=SOFT_INK)
    for n, words in enumerate(more):
        words = fitted(words, RIGHT - left - 12, SMALL)
        sheet.text(left + 12, NOTES + NOTE * n, words, size=SMALL, color=SOFT_INK)
