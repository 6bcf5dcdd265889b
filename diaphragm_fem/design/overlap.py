"""A surround glued on the wall that it carries: over the overlap the two lie on one another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.outline import NO_PIECE
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.profile import DomeProfile, OverlapSpec, VProfile
from diaphragm_fem.design.units import show
from diaphragm_fem.design.wall import Layer, Wall
from diaphragm_fem.design.zone import Role
from diaphragm_fem.errors import DesignError


def lay_overlaps(
    meridian: Sequence[Piece], joint: int | None, spec: DesignSpec
) -> tuple[tuple[Piece, ...], int | None]:
    """The meridian with every overlap laid, and the place of its joint then.

    The wall next to a surround is cut at the overlap's length and has from there the surround's layers on one of its
    faces. The mid-line stays as drawn: it is the middle of the whole stack. Raises DesignError where the wall's zone
    is shorter than the overlap.
    """
    pieces = list(meridian)
    for key, side, overlap in _overlaps(spec):
        own = [k for k, piece in enumerate(pieces) if piece.zone.role == Role.SURROUND and piece.zone.side == side]
        way = 1 if own[0] == 0 and side == "inner" else -1
        k, left = (own[-1] + 1 if way > 0 else own[0] - 1), float(overlap.length)
        glued, zone, room = _end_layers(pieces[k - way], way), pieces[k].zone, 0.0
        while left > NO_PIECE:
            if not 0 <= k < len(pieces) or pieces[k].zone != zone:
                raise DesignError(
                    f"{key}.overlap.length must be below the {show(room)} that the zone '{zone.name}' is long from the "
                    f"surround, received {show(overlap.length)}; make it shorter"
                )
            piece, length = pieces[k], pieces[k].curve.length
            room += length
            if length <= left + NO_PIECE:
                pieces[k] = _stacked(piece, glued, overlap)
                left, k = left - length, k + way
                continue
            cut = left if way > 0 else length - left
            parts = [_part(piece, 0.0, cut), _part(piece, cut, length)]
            near = 0 if way > 0 else 1
            parts[near] = _stacked(parts[near], glued, overlap)
            pieces[k : k + 1] = parts
            joint = joint if joint is None or k >= joint else joint + 1
            left = 0.0
    return tuple(pieces), joint


def _overlaps(spec: DesignSpec) -> Iterator[tuple[str, str, OverlapSpec]]:
    """Key of the surround, side of its zone, and its overlap."""
    profile = spec.profile
    if isinstance(profile, VProfile):
        for side, flank in (("inner", profile.inner), ("outer", profile.outer)):
            if flank is not None and flank.surround is not None and flank.surround.overlap is not None:
                yield f"profile.{side}.surround", side, flank.surround.overlap
    elif isinstance(profile, DomeProfile) and profile.surround is not None and profile.surround.overlap is not None:
        yield "profile.surround", "", profile.surround.overlap


def _end_layers(surround: Piece, way: int) -> tuple[Layer, ...]:
    """The layers of a surround as thick as where it meets the wall."""
    place = 1.0 if way > 0 else 0.0
    layers = [(layer.material, float(layer.thickness(place))) for layer in surround.wall.layers]
    return tuple(Layer(material, thickness, thickness) for material, thickness in layers)


def _stacked(piece: Piece, glued: tuple[Layer, ...], overlap: OverlapSpec) -> Piece:
    own = piece.wall.layers
    layers = (*own, *glued) if overlap.side == "front" else (*glued, *own)
    return Piece(piece.curve, piece.zone, Wall(layers), piece.winding)


def _part(piece: Piece, begin: float, end: float) -> Piece:
    length = piece.curve.length
    return Piece(piece.curve.part(begin, end), piece.zone, piece.wall.part(begin / length, end / length), piece.winding)
