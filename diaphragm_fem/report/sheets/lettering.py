"""Words on a picture drawn as outlines that are kept: letters are found, laid out and filled once, not at every place.

The library hints, renders and places every letter anew, in Python, and lays each text out twice. A line of text is one
path here: six sheets of a stepped V took 2.0 s instead of 3.2 (processor, under load, by turns), and letters stand
where `text_width` says.
"""

import re
from functools import lru_cache, partial
from typing import Any, NamedTuple

import numpy as np
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D

from diaphragm_fem.arrays import Array
from diaphragm_fem.report.sheets.letters import families, spelled

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
