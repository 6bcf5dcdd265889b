"""A4 sheets with a title block like a workshop drawing: every figure opens, is filled and is saved here."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.transforms import Affine2D, Transform

from diaphragm_fem import __version__
from diaphragm_fem.design.files.whole_file import whole_file
from diaphragm_fem.report.sheets.lettering import REMARK, give_letters, letter_by_outlines
from diaphragm_fem.report.sheets.names import fitted, folded_to, on_two_lines
from diaphragm_fem.report.sheets.style import DPI, INK, MM, RULE, SMALL, SOFT_INK, TITLE, drawing_style, text_width
from diaphragm_fem.report.stamp import Stamp

FOOT = 6.0  # mm, of the title block
LINES_OF = {1: (9.2,), 2: (11.0, 7.0), 3: (12.2, 9.2, 6.2)}  # mm: where one, two and three lines stand in it

Box = tuple[float, float, float, float]
"""On a sheet in mm: left and lower edge, width and height."""


@dataclass(frozen=True)
class Sheet:
    """An A4 sheet measured in millimetres from its lower left corner."""

    figure: Figure
    width: float
    height: float

    def axes(self, left: float, bottom: float, width: float, height: float, **kw: Any) -> Axes:
        return self.figure.add_axes(
            (left / self.width, bottom / self.height, width / self.width, height / self.height), **kw
        )

    def to_scale(self, box: Box, across: Sequence[float], up: Sequence[float]) -> Transform:
        """From coordinates within `across` and `up` to the middle of a box, as large as it holds, to one scale."""
        left, bottom, width, height = box
        scale = min(width / (across[1] - across[0]), height / (up[1] - up[0]))
        centred = Affine2D().translate(-sum(across) / 2, -sum(up) / 2).scale(scale)
        placed = centred.translate(left + width / 2, bottom + height / 2).scale(1 / self.width, 1 / self.height)
        return placed + self.figure.transFigure

    def text(self, left: float, bottom: float, words: str, **kw: Any) -> Any:
        return self.figure.text(left / self.width, bottom / self.height, words, **kw)

    def lines(self, left: float, y: float, words: Iterable[str], step: float, **kw: Any) -> float:
        """Lines of text from y downward; returns the height of the next."""
        for line in words:
            self.text(left, y, line, **kw)
            y -= step
        return y

    def points(self, left: float, y: float, points: Iterable[str], width: float, indent: float) -> None:
        """Small remarks from y downward, each folded to `width` mm, its further lines set in."""
        for words in points:
            first, *further = folded_to(words, width - indent, SMALL)
            y = self.lines(left, y, [first], 3.4, size=SMALL, color=SOFT_INK)
            y = self.lines(left + indent, y, further, 3.4, size=SMALL, color=SOFT_INK) - 1.0

    def line(
        self, left: float, bottom: float, right: float, top: float, *, colour: str = RULE, width: float = 0.6, **kw: Any
    ) -> None:
        across, up = [left / self.width, right / self.width], [bottom / self.height, top / self.height]
        self.figure.add_artist(Line2D(across, up, color=colour, lw=width, **kw))

    def box(self, left: float, bottom: float, width: float, height: float, colour: str, **kw: Any) -> None:
        corner = (left / self.width, bottom / self.height)
        across, up = width / self.width, height / self.height
        self.figure.add_artist(
            Rectangle(corner, across, up, color=colour, lw=0, transform=self.figure.transFigure, **kw)
        )

    def legend(self, left: float, bottom: float, handles: Sequence[Artist] | None, **kw: Any) -> None:
        """The key, its upper left corner (or another, `loc`) at a point."""
        at = (left / self.width, bottom / self.height)
        self.figure.legend(handles=handles, bbox_to_anchor=at, **{"loc": "upper left", **kw})


@dataclass(frozen=True)
class Listed:
    """One sheet of the table in `listing.py`.

    name: of its file; subject: in its title block and under it on a page; draw: fills an empty sheet with what there
    is to see of an answer, and returns the title block's remark on how it was made; title: whose answer it is;
    needs: whether an answer has what the sheet shows.
    """

    name: str
    subject: str
    draw: Callable[[Sheet, Any], str]
    title: Callable[[Any], str]
    needs: Callable[[Any], bool] = lambda _: True
    portrait: bool = False


def draw_sheet(listed: Listed, answer: Any, stamp: Stamp | None = None) -> Sheet:
    """The sheet of an answer, opened, filled and titled in the drawing style whatever the caller's settings are."""
    with drawing_style():
        sheet = blank_sheet(portrait=listed.portrait)
        remark = listed.draw(sheet, answer)
        _title_block(sheet, listed.subject, listed.title(answer), remark, stamp or Stamp())
        if give_letters(sheet.figure):
            sheet.text(0.62 * (sheet.width - 20) + 13, FOOT - 3.2, REMARK, size=SMALL, color=SOFT_INK)
    return sheet


def blank_sheet(*, portrait: bool = False) -> Sheet:
    width, height = (210.0, 297.0) if portrait else (297.0, 210.0)
    figure = Figure(figsize=(width * MM, height * MM), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    return Sheet(figure, width, height)


def _title_block(sheet: Sheet, subject: str, name: str, remark: str, stamp: Stamp) -> None:
    """At the foot: what is shown, of what, from which file; how it was made, and by which program."""
    left, right, foot, head = 10.0, sheet.width - 10.0, FOOT, 15.0
    first, second = left + 0.27 * (right - left), left + 0.62 * (right - left)
    sheet.line(left, head, right, head, colour=INK, width=1.1)
    for edge in (first, second):
        sheet.line(edge, foot, edge, head)
    upper, lower = (11.0, 7.0) if stamp.words or remark else (9.6, 9.6)
    sheet.text(left, 9.2, fitted(subject, (first - left - 2) / 1.13, TITLE), size=TITLE, weight="bold")
    room = second - first - 5
    size = TITLE if text_width(name, TITLE) <= room else SMALL  # rather small than cut
    of_what = [*on_two_lines(name, room, size), *([fitted(stamp.words, room, SMALL)] if stamp.words else [])]
    for y, words in zip(LINES_OF[len(of_what)], of_what, strict=True):
        sheet.text(first + 3, y, words, size=size if words is of_what[0] else SMALL)
    sheet.text(second + 3, upper, fitted(remark, right - second - 3, SMALL), size=SMALL)
    made = f"{stamp.date}  diaphragm_fem {__version__}".strip()
    sheet.text(right, lower if remark else 9.2, made, size=SMALL, ha="right")


def save_sheet(sheet: Sheet, path: Path) -> Path:
    """Write the sheet as PNG or PDF, by the ending of its name; equal sheets give equal bytes."""
    path.parent.mkdir(parents=True, exist_ok=True)
    made = f"diaphragm_fem {__version__}"
    with whole_file(path) as draft:
        if path.suffix == ".png":
            canvas: Any = sheet.figure.canvas
            letter_by_outlines(canvas.get_renderer())
            sheet.figure.savefig(draft, dpi=DPI, pil_kwargs={"compress_level": 2}, metadata={"Software": made})
        else:
            sheet.figure.savefig(draft, metadata={"Creator": made, "CreationDate": None})
    return path
