"""Words on a picture drawn as outlines that are kept: letters are found, laid out and filled once, not at every place.

The library hints, renders and places every letter anew, in Python, and lays each text out twice. A line of text is one
path here. Letters that the sheets' own face lacks, such as Chinese and Japanese ones, are of a font of this machine
that has them, or a question mark, which the sheet then explains.
"""

import re
from collections.abc import Iterator
from functools import lru_cache, partial
from itertools import chain
from typing import Any, NamedTuple

import numpy as np
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, fontManager, get_font
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D

from diaphragm_fem.arrays import Array

OWN = "DejaVu Sans"
USUAL = ("400", "normal", "regular")
ABSENT = "?"
REMARK = f"{ABSENT} is a letter that no font of this machine has"


def families(words: str) -> list[str]:
    """The families that have the letters of some words, our own first."""
    found = [OWN]
    for letter in _strange(words):
        if (family := _family_of(letter)) and family not in found:
            found.append(family)
    return found


def spelled(words: str) -> str:
    """The words, a question mark for each letter that no font has."""
    for letter in _strange(words):
        if _family_of(letter) is None:
            words = words.replace(letter, ABSENT)
    return words


def give_letters(figure: Figure) -> bool:
    """Give the words of a figure fonts that have their letters; whether some are left that none has."""
    absent = False
    for text in _texts(figure):
        words = text.get_text()
        if not words.isascii() and any(_strange(words)):
            text.set_fontfamily(families(words))
            if (shown := spelled(words)) != words:
                text.set_text(shown)
                absent = True
    return absent


def _texts(figure: Figure) -> Iterator[Text]:
    """The words of a figure but for its ticks, which are made as they are drawn: to ask for them takes 50 ms."""
    keys = [*figure.legends, *(key for axes in figure.axes if (key := axes.get_legend()))]
    children = chain(figure.texts, *(axes.get_children() for axes in figure.axes))
    yield from (one for one in children if isinstance(one, Text))
    for axes in figure.axes:
        yield from (axes.xaxis.label, axes.yaxis.label)
    for key in keys:
        yield from (*key.get_texts(), key.get_title())


def _strange(words: str) -> Iterator[str]:
    """The letters that our own face lacks, each once."""
    if not words.isascii():
        for letter in dict.fromkeys(words):
            if not letter.isascii() and not letter.isspace() and not _has(OWN, letter):
                yield letter


@lru_cache(maxsize=4096)
def _family_of(letter: str) -> str | None:
    """The first family on this machine that has a letter, but for the one that has a box for every letter there is."""
    usual = {one.name for one in fontManager.ttflist if one.style == "normal" and str(one.weight) in USUAL}
    for family in sorted(usual):
        try:
            if "lastresort" not in family.replace(" ", "").lower() and _has(family, letter):
                return family
        except (OSError, RuntimeError, ValueError):  # a file that is no font, or is gone
            continue
    return None


def _has(family: str, letter: str) -> bool:
    """Whether a family's upright face of usual weight has a letter."""
    face = findfont(FontProperties(family=family), fallback_to_default=False)
    return bool(get_font(face).get_char_index(ord(letter)))


PIECES = re.compile(r"\d|\s|[^\d\s]+")  # figures and blanks stand alone, all else as it is laid out with its neighbours
Face = tuple[tuple[str, ...], str, Any]  # families, style, weight


class Lettered(NamedTuple):
    """Outline of some words from where they begin, its codes, their width, and how far they reach up and down; all in
    points at the size of `text_to_path`."""

    points: Array
    codes: Array
    width: float
    top: float
    bottom: float


def letter_by_outlines(renderer: RendererAgg) -> None:
    """Have a renderer of pictures draw and measure words by their outlines."""
    renderer.draw_text = partial(_draw, renderer)
    renderer.get_text_width_height_descent = partial(_measure, renderer)


def _draw(
    renderer: RendererAgg, gc: Any, x: float, y: float, words: str, prop: FontProperties, angle: float,
    ismath: bool = False, mtext: Any = None,
) -> None:  # fmt: skip
    found = _lettered(words, _face(prop))
    if len(found.points):
        place = Affine2D().scale(_scale(renderer, prop)).rotate_deg(angle).translate(x, renderer.height - y)
        gc.set_linewidth(0.0)
        gc.set_snap(False)  # else a T or a dash moves to the nearest pixel
        renderer.draw_path(gc, Path(found.points, found.codes), place, gc.get_rgb())


def _measure(renderer: RendererAgg, words: str, prop: FontProperties, ismath: bool) -> tuple[float, float, float]:
    """Width, height and descent in pixels."""
    found, scale = _lettered(words, _face(prop)), _scale(renderer, prop)
    return scale * found.width, scale * (found.top - found.bottom), -scale * found.bottom


def _face(prop: FontProperties) -> Face:
    return tuple(prop.get_family()), prop.get_style(), prop.get_weight()


def _scale(renderer: RendererAgg, prop: FontProperties) -> float:
    return float(prop.get_size_in_points() * renderer.dpi / 72 / text_to_path.FONT_SCALE)


@lru_cache(maxsize=1024)
def _lettered(words: str, face: Face) -> Lettered:
    words = spelled(words)  # those of ticks are made as they are drawn
    face = (tuple(dict.fromkeys((*face[0], *families(words)))), *face[1:])
    pieces = [_piece(piece, face) for piece in PIECES.findall(words)]
    begins = np.cumsum([0.0, *(piece.width for piece in pieces)])
    points = [piece.points + np.array([begin, 0.0]) for piece, begin in zip(pieces, begins[:-1], strict=True)]
    return Lettered(
        np.concatenate([np.empty((0, 2)), *points]),
        np.concatenate([np.empty(0, Path.code_type), *(piece.codes for piece in pieces)]),
        float(begins[-1]),
        max((piece.top for piece in pieces), default=0.0),
        min((piece.bottom for piece in pieces), default=0.0),
    )


@lru_cache(maxsize=4096)
def _piece(words: str, face: Face) -> Lettered:
    found, codes = text_to_path.get_text_path(_properties(face), words)
    points = np.asarray(found, float).reshape(-1, 2)
    top, bottom = (float(points[:, 1].max()), float(points[:, 1].min())) if len(points) else (0.0, 0.0)
    # between noughts, which draw nothing nearer, so that blanks count too
    width = _width(f"0{words}0", face) - _width("00", face)
    return Lettered(points, np.asarray(codes, Path.code_type), width, max(top, 0.0), min(bottom, 0.0))


@lru_cache(maxsize=4096)
def _width(words: str, face: Face) -> float:
    return float(text_to_path.get_text_width_height_descent(words, _properties(face), False)[0])


@lru_cache(maxsize=64)
def _properties(face: Face) -> FontProperties:
    families, style, weight = face
    return FontProperties(family=families, style=style, weight=weight, size=text_to_path.FONT_SCALE)
