"""Walls glued on one another: a surround on the wall it carries, the wall's turned-up collar on the former.

Over an overlap the wall has the other's layers on one of its faces. The mid-line stays as drawn: it is the middle of
the whole stack.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.outline import NO_PIECE
from diaphragm_fem.design.spec.coil import CollarSpec
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.profile import DomeProfile, OverlapSpec, VProfile
from diaphragm_fem.design.units import show
from diaphragm_fem.design.wall import Layer, Wall
from diaphragm_fem.design.zone import Role
from diaphragm_fem.errors import DesignError


def lay_overlaps(
    meridian: Sequence[Piece], joint: int | None, spec: DesignSpec
) -> tuple[tuple[Piece, ...], int | None]:
    """The meridian with the overlap of every surround, and the place of its joint then.

    Raises DesignError where the zone next to a surround is shorter than the overlap.
    """
    pieces = list(meridian)
    for key, side, overlap in _overlaps(spec):
        own = [k for k, piece in enumerate(pieces) if piece.zone.role == Role.SURROUND and piece.zone.side == side]
        way = 1 if side == "inner" else -1
        last = own[-1] if way > 0 else own[0]
        layers = _layers_at(pieces[last], 1.0 if way > 0 else 0.0)
        before = len(pieces)
        _glue(pieces, last + way, way, float(overlap.length), layers, overlap.side == "front", f"{key}.overlap.length")
        if joint is not None and (last < joint or side == ""):  # a dome's joint is where its surround begins
            joint += len(pieces) - before
    return tuple(pieces), joint


def lay_collar(former: Sequence[Piece], beside: Piece, place: float, collar: CollarSpec) -> tuple[Piece, ...]:
    """The former with a collar of the wall `beside` it, as thick as that is at its begin (place 0) or end (1).

    Raises DesignError where the collar would reach the winding or the former's end.
    """
    pieces = list(former)
    _glue(
        pieces, 0, 1, float(collar.length), _layers_at(beside, place), collar.side == "outside", "coil.collar.length"
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
    """The layers of a piece, as thick all along as at one of its ends."""
    layers = [(layer.material, float(layer.thickness(place))) for layer in piece.wall.layers]
    return tuple(Layer(material, thickness, thickness) for material, thickness in layers)


def _glue(pieces: list[Piece], k: int, way: int, left: float, layers: tuple[Layer, ...], front: bool, key: str) -> None:
    """Put layers on the front or rear face of pieces, from the k-th on in their order (way 1) or against it (-1), over
    the length `left`; the last is cut there."""
    asked, zone, room = left, pieces[k].zone, 0.0
    while left > NO_PIECE:
        if not 0 <= k < len(pieces) or pieces[k].zone != zone or pieces[k].winding is not None:
            raise DesignError(
                f"{key} must be at most the {show(room)} over which '{zone.name}' offers its face, received "
                f"{show(asked)}; make it shorter"
            )
        piece, length = pieces[k], pieces[k].curve.length
        room += length
        if length <= left + NO_PIECE:
            pieces[k] = _stacked(piece, layers, front)
            left, k = left - length, k + way
            continue
        cut = left if way > 0 else length - left
        parts = [_part(piece, 0.0, cut), _part(piece, cut, length)]
        near = 0 if way > 0 else 1
        parts[near] = _stacked(parts[near], layers, front)
        pieces[k : k + 1] = parts
        return


def _stacked(piece: Piece, layers: tuple[Layer, ...], front: bool) -> Piece:
    own = piece.wall.layers
    return Piece(piece.curve, piece.zone, Wall((*own, *layers) if front else (*layers, *own)))


def _part(piece: Piece, begin: float, end: float) -> Piece:
    length = piece.curve.length
    return Piece(piece.curve.part(begin, end), piece.zone, piece.wall.part(begin / length, end / length))
