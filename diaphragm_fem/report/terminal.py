"""Blocks as lines of a terminal: a table too wide for it is folded, unfolded or set in parts, never garbled."""

from bisect import bisect_left
from collections.abc import Sequence
from textwrap import wrap

from rich.cells import cell_len
from rich.text import Text

from diaphragm_fem.report.blocks.blocks import Block, Heading, Notices, Picture, Points, Table, Words
from diaphragm_fem.report.blocks.pages import with_units

QUIET, LOUD, ALARM = "bright_black", "bold", "red"
GAP = 2  # blanks between columns
MOST_LINES = 2  # of one cell
INDENT = 4  # of what is told below its row
SHORT = 8  # a column of words no wider than this stays beside the others
FIRST_LINES = 24 - 2  # of a screen, less those on what was written
NARROWEST = 20  # letters: a terminal of less breaks lines by itself


def block_lines(blocks: Sequence[Block], width: int) -> list[Text]:
    """All lines of a page at that width; pictures are left to the page."""
    width = max(width, NARROWEST)
    lines: list[Text] = []
    previous = ""
    for block in blocks:
        match block:
            case Heading():
                lines.append(Text(block.words, style=LOUD))
                continue
            case Words():
                lines += _folded(block.text, width)
            case Points():
                lines += [line for point in block.lines for line in _folded(f"- {point}", width, 2)]
            case Notices():
                if previous == Notices.kind:
                    lines.pop()  # the blank between them
                lines += [x for line in block.lines for x in _folded(f"{block.lead}: {line}", width, 2, ALARM)]
            case Table():
                lines += table_lines(block, width)
                lines += [Text(""), *_folded(block.note, width)] if block.note else []
            case Picture():
                continue
        lines.append(Text(""))
        previous = block.kind
    return lines[:-1] if lines and not lines[-1].plain else lines


def _folded(words: str, width: int, indent: int = 0, style: str = "") -> list[Text]:
    lines = [x for part in words.replace("`", "'").split("\n") for x in _wrapped(part, width, indent) or [""]]
    return [Text(line, style=style) for line in lines]


def _wrapped(words: str, width: int, indent: int = 0) -> list[str]:
    """Lines of whole words; only a word that is longer than a line is broken, and a path never is."""
    held = with_units(words)  # a unit stays with its number
    lines = wrap(held, width, subsequent_indent=" " * indent, break_on_hyphens=False, break_long_words="/" not in words)
    return [line.replace("\u00a0", " ") for line in lines]


def table_lines(table: Table, width: int) -> list[Text]:
    """A table no wider than `width` whose cells take two lines at most.

    Where its columns do not fit, long words go below their row; what is left too wide is set in parts, one below the
    other, each with the columns that name its rows.
    """
    below: list[int] = []
    while True:
        beside = [j for j in range(len(table.head)) if j not in below]
        widths = _widths(table, beside, width)
        if widths is not None:
            return _rows(table, beside, widths, below, width)
        longest = _longest_words(table, beside)
        if longest is None:
            return _in_parts(table, beside, below, width)
        below = sorted([*below, longest])


def _cells(table: Table, column: int) -> list[str]:
    return [table.head[column], *(str(row[column]) for row in table.rows)]


def _widths(table: Table, columns: Sequence[int], width: int) -> list[int] | None:
    """Widths of columns that fit together: their own where there is room, else folded; None where they do not fit."""
    room = width - GAP * (len(columns) - 1)
    whole = [max(map(cell_len, _cells(table, j)), default=0) for j in columns]
    if sum(whole) <= room:
        return whole
    found = [least_width(_cells(table, j)) for j in columns]
    if sum(found) > room:
        return None
    spare = room - sum(found)
    for k in sorted(range(len(columns)), key=lambda k: whole[k] - found[k]):  # the nearly fitting ones first
        taken = min(spare, whole[k] - found[k])
        found[k], spare = found[k] + taken, spare - taken
    return found


def least_width(cells: Sequence[str]) -> int:
    """The narrowest column whose cells take two lines at most, without a broken word."""
    low = max((cell_len(word) for cell in cells for word in with_units(cell).split(" ")), default=1)
    high = max((cell_len(cell) for cell in cells), default=1)
    long = [cell for cell in cells if cell_len(cell) > low]
    return low + bisect_left(range(low, high), True, key=lambda w: all(len(_wrapped(c, w)) <= MOST_LINES for c in long))


def _longest_words(table: Table, columns: Sequence[int]) -> int | None:
    """The widest column of words behind the first one, which names the row; None where only numbers are left."""
    words = [j for j in columns if j and not table.is_number[j] and least_width(_cells(table, j)) > SHORT]
    return max(words, key=lambda j: least_width(_cells(table, j)), default=None)


def _in_parts(table: Table, beside: Sequence[int], below: Sequence[int], width: int) -> list[Text]:
    """As many columns at a time as fit behind those that name the rows."""
    naming = [j for j in beside if j < max(table.numbers_from, 1)]
    rest = [j for j in beside if j not in naming]
    lines: list[Text] = []
    while rest:
        fitting = 1
        while fitting < len(rest) and _widths(table, [*naming, *rest[: fitting + 1]], width) is not None:
            fitting += 1
        part = [*naming, *rest[:fitting]]
        widths = _widths(table, part, width) or [least_width(_cells(table, j)) for j in part]
        rest = rest[fitting:]
        lines += [*([Text("")] if lines else []), *_rows(table, part, widths, below if not rest else (), width)]
    return lines


def _rows(table: Table, columns: Sequence[int], widths: Sequence[int], below: Sequence[int], width: int) -> list[Text]:
    right = [table.is_number[j] for j in columns]
    lines = _row([table.head[j] for j in columns], widths, right, QUIET)
    for row in table.rows:
        lines += _row([str(row[j]) for j in columns], widths, right)
        for j in below:
            told = f"{table.head[j]}: {row[j]}" if row[j] else ""
            lines += [Text(" " * INDENT + line, style=QUIET) for line in _wrapped(told, width - INDENT)]
    return lines


def _row(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool], style: str = "") -> list[Text]:
    """The lines of one row; the head's stand at its foot."""
    folded = [_wrapped(cell, max(w, 1)) or [""] for cell, w in zip(cells, widths, strict=True)]
    count = max(map(len, folded))
    lines = []
    for n in range(count):
        parts = []
        for lines_of, w, to_right in zip(folded, widths, right, strict=True):
            place = n - (count - len(lines_of)) if style else n
            words = lines_of[place] if 0 <= place < len(lines_of) else ""
            blanks = " " * max(w - cell_len(words), 0)
            parts.append(blanks + words if to_right else words + blanks)
        lines.append(Text((" " * GAP).join(parts).rstrip(), style=style))
    return lines
