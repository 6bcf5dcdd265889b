"""Walls glued on one another: a surround on the wall it carries, the wall's turned-up collar on the former.

Over an overlap the wall has the other's layers on one of its faces. The line stays as drawn. Where the overlap ends on
the wall, it is the middle of that, which runs on; where the other wall begins, the middle of the whole stack; between,
it passes evenly from one to the other. Under glue it is the middle of the wall, along a collar that of the stack. A
fillet of glue at the surround's edge is one more layer on the wall beside it: it falls from its radius to nearly
nothing over as much length, in straight slopes between points of the hollow quarter circle, those inside lowered alike
so that its section is that of the circle, (1 - pi/4) radius^2.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import dist

import numpy as np

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.library.library import find_material
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.outline import NO_PIECE, begin
from diaphragm_fem.design.meridian.wall import Layer, Wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.spec.coil import CollarSpec, FormerCoil
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.profile import DomeProfile, OverlapSpec, VProfile
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import DesignError

PLACES = (0.0, 0.12, 0.35, 0.7, 1.0)  # of a fillet's radius, from the edge: where its slopes meet
THINNEST = 0.03  # of its radius: where it ends
GLUE = Zone("glue")  # that lies on a wall, a zone of no design


def lay_overlaps(
    meridian: Sequence[Piece], joint: int | None, spec: DesignSpec, materials: Mapping[str, Material]
) -> tuple[tuple[Piece, ...], int | None]:
    """The meridian with the overlap of every surround and the glue at its edge, and the place of its joint then.

    Raises DesignError where the zone next to a surround is shorter than the overlap, or has no room for its glue, or
    where a dome would turn its collar through the surround.
    """
    pieces = list(meridian)
    at = None if joint is None or joint == len(pieces) else begin(pieces[joint].curve)
    for key, side, overlap in _overlaps(spec):
        if not side and overlap.side == "rear" and isinstance(spec.coil, FormerCoil) and spec.coil.collar is not None:
            raise DesignError(
                f"{key}.overlap.side: a surround glued behind the dome lies where coil.collar turns down to the "
                'former; received "rear"; glue it on the front, or leave the collar out'
            )
        own = [k for k, piece in enumerate(pieces) if piece.zone.role == Role.SURROUND and piece.zone.side == side]
        way = 1 if side == "inner" else -1
        last = own[-1] if way > 0 else own[0]
        layers = _layers_at(pieces[last], 1.0 if way > 0 else 0.0)
        front = overlap.side == "front"
        edge = _glue(pieces, last + way, way, float(overlap.length), layers, front, f"{key}.overlap.length", (0.0, 1.0))
        if overlap.fillet is not None:
            high, place = sum(layer.begin_thickness for layer in layers), f"{key}.overlap.fillet"
            glue = find_material(materials, overlap.fillet.material, where=f"{place}.material")
            _fillet(pieces, edge, way, float(overlap.fillet.radius), high, glue, front, place)
    if at is not None:
        return tuple(pieces), int(np.argmin([dist(begin(piece.curve), at) for piece in pieces]))
    return tuple(pieces), None if joint is None else len(pieces)


def lay_collar(former: Sequence[Piece], beside: Piece, place: float, collar: CollarSpec) -> tuple[Piece, ...]:
    """The former with a collar of the own wall `beside` it, as thick as that is at its begin (place 0) or end (1).

    Raises DesignError where the collar would reach the winding or the former's end.
    """
    pieces = list(former)
    outside = collar.side == "outside"
    _glue(
        pieces, 0, 1, float(collar.length), _layers_at(beside, place), outside, "coil.collar.length", (0.0, 0.0)
    )  # fmt: skip
    return tuple(pieces)


def _overlaps(spec: DesignSpec) -> Iterator[tuple[str, str, OverlapSpec]]:
    """Key of the surround, side of its zone, and its overlap."""
    profile = spec.profile
    if isinstance(profile, VProfile):
        for side, flank in (("inner", profile.inner), ("outer", profile.outer)):
            if flank is not None and flank.surround is not None and flank.surround.overlap is not None:
                yield f"profile.{side}.surround", side, flank.surround.overlap
    elif isinstance(profile, DomeProfile) and profile.surround is not None and profile.surround.overlap is not None:
        yield "profile.surround", "", profile.surround.overlap


def _layers_at(piece: Piece, place: float) -> tuple[Layer, ...]:
    """The own layers of a piece for another's wall, as thick all along as at one of its ends."""
    layers = [(layer.material, float(layer.thickness(place))) for layer in piece.wall.own.layers]
    return tuple(Layer(material, thickness, thickness, piece.zone) for material, thickness in layers)


def _fillet(
    pieces: list[Piece], k: int, way: int, radius: float, high: float, glue: Material, front: bool, key: str
) -> None:
    """Put a fillet beside an edge `high`, from the k-th piece on."""
    if radius > high * (1 + 1e-9):
        raise DesignError(
            f"{key}.radius: the glue must not stand higher than the surround's edge, {show(high)}; received "
            f"{show(radius)}; make it smaller"
        )
    room, n = 0.0, k
    while 0 <= n < len(pieces) and pieces[n].zone == pieces[k - way].zone and pieces[n].winding is None:
        room, n = room + pieces[n].curve.length, n + way
    if room < radius:
        raise DesignError(
            f"{key}.radius must be at most the {show(room)} of '{pieces[k - way].zone.name}' beside the surround's "
            f"edge, received {show(radius)}; make it or the overlap smaller"
        )
    x = np.array(PLACES)
    height = 1 - np.sqrt(1 - (1 - x) ** 2)
    height[-1] = THINNEST
    share = (np.diff(x, prepend=0.0) + np.diff(x, append=1.0)) / 2  # of each height in the section
    ends = float(share[0] * height[0] + share[-1] * height[-1])
    height[1:-1] *= (1 - np.pi / 4 - ends) / float(share[1:-1] @ height[1:-1])
    for (a, b), (first, last) in zip(pairwise(radius * x), pairwise((radius * height).tolist()), strict=True):
        layer = Layer(glue, *((first, last) if way > 0 else (last, first)), GLUE)
        k = _glue(pieces, k, way, float(b - a), (layer,), front, f"{key}.radius", (1.0, 1.0))


def _glue(
    pieces: list[Piece], k: int, way: int, left: float, layers: tuple[Layer, ...], front: bool, key: str,
    on_own: tuple[float, float],
) -> int:  # fmt: skip
    """Put layers on the front or rear face of pieces, from the k-th on in their order (way 1) or against it (-1), over
    the length `left`; the last is cut there. on_own: how far the line is from the middle of the stack, 0, to that of
    the pieces' own wall, 1, where they begin and where they end. The place of the piece beyond, in the pieces as they
    are then.
    """
    asked, zone, room = left, pieces[k].zone, 0.0

    def stacked(piece: Piece, length: float) -> Piece:
        passed = (1 - left / asked, 1 - max(left - length, 0.0) / asked)
        begin, end = passed[::way]
        own, on = piece.wall.layers, Wall(layers).part(*((begin, end) if way > 0 else (1 - begin, 1 - end))).layers
        wall = Wall((*own, *on) if front else (*on, *own))
        near, far = on_own
        return Piece(piece.curve, piece.zone, wall.on_own(*(near + x * (far - near) for x in (begin, end))))

    while left > NO_PIECE:
        if not 0 <= k < len(pieces) or pieces[k].zone != zone or pieces[k].winding is not None:
            raise DesignError(
                f"{key} must be at most the {show(room)} over which '{zone.name}' offers its face, received "
                f"{show(asked)}; make it shorter"
            )
        piece, length = pieces[k], pieces[k].curve.length
        room += length
        if length <= left + NO_PIECE:
            pieces[k] = stacked(piece, length)
            left, k = left - length, k + way
            continue
        cut = left if way > 0 else length - left
        parts = [piece.part(0.0, cut), piece.part(cut, length)]
        near = 0 if way > 0 else 1
        parts[near] = stacked(parts[near], left)
        pieces[k : k + 1] = parts
        return k + 1 if way > 0 else k
    return k
