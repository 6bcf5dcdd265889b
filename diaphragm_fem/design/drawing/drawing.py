"""A free meridian from a drawing: its mid-line as it is drawn, or the middle between its two faces."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

from diaphragm_fem.design.drawing.chain import JOIN, Chain, chains_of, gap_between
from diaphragm_fem.design.drawing.dxf import Drawing, layer_names, read_drawing
from diaphragm_fem.design.drawing.face_pair import Middle
from diaphragm_fem.design.drawing.two_faces import middle_of
from diaphragm_fem.design.meridian.outline import Outline, Point, Stretch, begin, end
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.design.profile.free_meridian import SHARP, corner_at_kinks, roles_unsaid, zone_named
from diaphragm_fem.design.spec.profile import FreeProfile
from diaphragm_fem.errors import DesignError, echo, plain

FACES = (" front face", " rear face", " end face")  # what this program's own drawings add to a zone's name
BESIDE = ("axis", "dimensions", "coil")  # layers of theirs that are no part of the wall
ON_THE_AXIS = "lies along the axis; leave the layer of the axis out, by naming the part's own in profile.layers"


def draw_from_file(profile: FreeProfile, path: Path, wall_of: Callable[[str, float, float], Wall]) -> Outline:
    """The outline that a drawing shows; `wall_of` gives the wall of a zone whose thickness at both ends (m) was drawn.

    Raises DesignError with coordinates where the drawing is not one chain (a mid-line), or not two faces.
    """
    layers = tuple((profile.layers or {}).items())
    as_drawn = _shown(path, _state(path), profile.drawn == "two faces", profile.drawing_unit, profile.origin, layers)
    shown = _thicker(as_drawn, profile.thickness_factor) if profile.thickness_factor else as_drawn
    place = f"profile.file: {plain(str(path))}"
    stretches = [
        Stretch(one.curve, zone_named(one.layer), place, wall_of(one.layer, *one.thickness) if one.thickness else None)
        for one in shown
    ]
    corner = corner_at_kinks(profile)
    corners = tuple(SHARP if a.sloped or b.sloped else corner for a, b in pairwise(shown))
    return Outline(tuple(stretches), corners, notes=roles_unsaid(stretches, (), "names that do in profile.layers"))


def _thicker(shown: Sequence[Middle], factors: Mapping[str, float]) -> list[Middle]:
    """Pieces whose faces are moved apart about their middle, by zone; halves of a slope that stands for a shoulder meet
    as thick as one another. Raises DesignError for a zone that is not drawn."""
    zones = list(dict.fromkeys(one.layer for one in shown))
    if unknown := [name for name in factors if name not in zones]:
        raise DesignError(
            f"profile.thickness_factor: no zone is called {echo(unknown[0])}; drawn are {', '.join(zones)}"
        )
    ends = [[factors.get(one.layer, 1.0) * wall for wall in one.thickness] for one in shown]
    for k, (a, b) in enumerate(pairwise(shown)):
        if a.sloped and b.sloped:
            ends[k][1] = ends[k + 1][0] = (ends[k][0] + ends[k + 1][1]) / 2
    return [replace(one, thickness=(first, last)) for one, (first, last) in zip(shown, ends, strict=True)]


def _state(path: Path) -> tuple[int, int]:
    """What changes when a file does: the cases of a study read one drawing again and again, 0.1 s each."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return 0, 0
    return found.st_mtime_ns, found.st_size


@lru_cache(maxsize=8)
def _shown(
    path: Path,
    state: tuple[int, int],
    faces: bool,
    unit: str | None,
    origin: Point | None,
    layers: tuple[tuple[str, str], ...],
) -> tuple[Middle, ...]:
    """The pieces of the mid-line that a drawing shows, each with its zone's name for a layer; no thickness where the
    mid-line alone is drawn."""
    place = f"profile.file: {plain(str(path))}"
    names = {name.lower(): zone for name, zone in layers}
    seen: set[str] = set()

    def wanted(layer: str) -> bool:
        seen.add(layer.lower())
        if names:
            return layer.lower() in names
        return layer.lower() not in BESIDE and (faces or not _ends_in_face(layer))

    drawing = read_drawing(path, unit, origin or (0.0, 0.0), wanted)
    for layer in names:
        if layer not in seen:
            there = ", ".join(echo(name) for name in layer_names(path)[:20])
            raise DesignError(f"{place}: nothing is drawn on a layer {echo(layer)}; the drawing has {there}")
    if faces and not names and any(_ends_in_face(drawn.layer) for drawn in drawing.curves):
        drawing = replace(drawing, curves=tuple(drawn for drawn in drawing.curves if _ends_in_face(drawn.layer)))

    def zone_of(layer: str) -> str:
        if names:
            return names[layer.lower()]
        return layer[: len(layer) - len(_ends_in_face(layer))] if faces else layer

    chains = chains_of(drawing, place)
    if faces:
        found = middle_of(chains, drawing, place)
    else:
        found = [Middle(drawn.curve, drawn.layer, ()) for drawn in _mid_line(chains, drawing, place).parts]
    for one in found:
        (r0, _), (r1, _) = at = begin(one.curve), end(one.curve)
        if max(r0, r1) < JOIN:
            raise DesignError(f"{place}: the curve from {drawing.place(at[0])} to {drawing.place(at[1])} {ON_THE_AXIS}")
    return tuple(replace(one, layer=zone_of(one.layer)) for one in found)


def _ends_in_face(layer: str) -> str:
    return next((ending for ending in FACES if layer.lower().endswith(ending)), "")


def _mid_line(chains: list[Chain], drawing: Drawing, place: str) -> Chain:
    """The one open chain, from the inner edge outward."""
    if len(chains) > 1:
        raise DesignError(
            f"{place}: the mid-line must be one chain from the axis or inner edge to the outer edge, but the curves "
            f"make {len(chains)}; {gap_between(chains, drawing)}: close the gap, or name the part's own layers in "
            "profile.layers"
        )
    chain = chains[0]
    first, last = chain.ends
    if chain.closed:
        raise DesignError(
            f"{place}: a mid-line is open, but the curves close at {drawing.place(first)}; where both faces of the "
            'wall are drawn, say drawn = "two faces"'
        )
    return chain if first[0] <= last[0] + JOIN else chain.turned()
