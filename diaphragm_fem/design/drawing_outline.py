"""A free meridian from a drawing: its mid-line as it is drawn, or the middle between its two faces."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from diaphragm_fem.design.drawing_chain import JOIN, Chain, chains_of, gap_between
from diaphragm_fem.design.drawing_file import Drawing, layer_names, read_drawing, zones_by_layer
from diaphragm_fem.design.freemeridian import zone_named
from diaphragm_fem.design.outline import Corner, Outline, Stretch, begin, end
from diaphragm_fem.design.spec.profile import FreeProfile
from diaphragm_fem.design.two_faces import middle_of
from diaphragm_fem.design.wall import Wall
from diaphragm_fem.errors import DesignError, echo, plain

FACES = (" front face", " rear face", " end face")  # what this program's own drawings add to a zone's name
BESIDE = ("axis", "dimensions", "coil")  # layers of theirs that are no part of the wall
ON_THE_AXIS = "lies along the axis; leave the layer of the axis out, by naming the part's own in profile.layers"


def draw_from_file(profile: FreeProfile, path: Path, wall_of: Callable[[str, float, float], Wall]) -> Outline:
    """The outline that a drawing shows; `wall_of` gives the wall of a zone whose thickness at both ends (m) was drawn.

    Raises DesignError with coordinates where the drawing is not one chain (a mid-line), or not two faces.
    """
    place = f"profile.file: {plain(str(path))}"
    faces = profile.drawn == "two faces"
    names = zones_by_layer(profile.layers)
    seen: list[str] = []

    def wanted(layer: str) -> bool:
        seen.append(layer.lower())
        return layer.lower() in names if names else _is_read(layer, faces)

    drawing = read_drawing(path, profile.drawing_unit, profile.origin or (0.0, 0.0), wanted)
    for layer in names:
        if layer not in seen:
            there = ", ".join(echo(name) for name in layer_names(path)[:20])
            raise DesignError(f"{place}: nothing is drawn on a layer {echo(layer)}; the drawing has {there}")
    if faces and not names and any(_ends_in_face(drawn.layer) for drawn in drawing.curves):
        drawing = Drawing(
            tuple(drawn for drawn in drawing.curves if _ends_in_face(drawn.layer)), drawing.unit, drawing.origin
        )

    def zone_of(layer: str) -> str:
        if names:
            return names[layer.lower()]
        ending = _ends_in_face(layer)
        return layer[: -len(ending)] if faces and ending else layer

    chains = chains_of(drawing, place)
    if faces:
        stretches = [
            Stretch(m.curve, zone_named(zone_of(m.layer)), place, wall_of(zone_of(m.layer), *m.thickness))
            for m in middle_of(chains, drawing, place)
        ]
    else:
        chain = _mid_line(chains, drawing, place)
        stretches = [Stretch(drawn.curve, zone_named(zone_of(drawn.layer)), place) for drawn in chain.parts]
    for stretch in stretches:
        (r0, _), (r1, _) = at = begin(stretch.curve), end(stretch.curve)
        if max(r0, r1) < JOIN:
            raise DesignError(f"{place}: the curve from {drawing.place(at[0])} to {drawing.place(at[1])} {ON_THE_AXIS}")
    corner = Corner(0.0) if profile.corner_radius is None else Corner(profile.corner_radius, "profile.corner_radius")
    return Outline(tuple(stretches), (corner,) * (len(stretches) - 1))


def _is_read(layer: str, faces: bool) -> bool:
    """Whether a layer is taken where the design file names none."""
    return layer.lower() not in BESIDE and (faces or not _ends_in_face(layer))


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
