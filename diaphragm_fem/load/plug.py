"""The plug of a design: the gap before its face, cut at the slots, and the channels that lead on from these."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.driver.driver import Front, Slot
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import MeshError
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.junction import slot_inflow, slot_through_flow
from diaphragm_fem.load.line import area_law, cascade, series
from diaphragm_fem.load.slit import Medium, slit
from diaphragm_fem.mesh.gap_face import (
    GapFace,
    along,
    face_points,
    gap_by_width,
    gap_to_plug,
    nearest_of_chain,
    with_points,
)
from diaphragm_fem.mesh.gap_line import GapLine, SlotMouth, cut_gap

AS_WIDE = 0.2  # of a slot's area: so far off may the first of its channel be, for all are tried a tenth larger
STATIONS = 5  # of a piece of the face, at which the front of its wall is told
LEVEL = 1e-8  # m: a front that rises by less is even
PIECES, FINE = 20, 40  # cones of a channel at most (2e-4 over 15 mm at 20 kHz), and for each unit of ln S


@dataclass(frozen=True)
class Plug:
    """The gap as drawn and as cut, the slots' mouths in it, their normals (J, 2) into the plug and radii (J,) there."""

    face: GapFace
    line: GapLine
    mouths: tuple[SlotMouth, ...]
    normal: Array
    radius: Array


def draw_plug(design: Design, front: Front) -> Plug:
    """Gap and slots of a front over the whole front face; of a chamber that has a volume only the gap is as wide as the
    widest slot. Raises MeshError with the place of what cannot be.
    """
    if not (front.gap_width or front.plug):
        front = replace(front, gap_width=(max(slot.width for slot in front.slots),), gap_distance=(0.0,))
    face = _gap([piece for piece in design.meridian if piece.zone.radiates], front)
    mouths = tuple(
        SlotMouth(place_of_slot(face, slot, k, design.joint_radius), slot.width) for k, slot in enumerate(front.slots)
    )
    line = cut_gap(face, mouths)
    segment = np.clip(np.searchsorted(face.place, [m.place for m in mouths], side="right") - 1, 0, len(face.place) - 2)
    step = np.diff(face.plug, axis=0)[segment]
    normal = np.stack((-step[:, 1], step[:, 0]), axis=1) / np.linalg.norm(step, axis=1)[:, None]
    radius = line.slot_radius + normal[:, 0] * line.slot_gap / 2
    for k, slot in enumerate(front.slots):
        _check_areas(slot, k, float(radius[k]))
    return Plug(face, line, mouths, normal, radius)


def _check_areas(slot: Slot, number: int, radius: float) -> None:
    """Refuse a channel that does not begin as its slot ends."""
    mouth = 2 * np.pi * radius * slot.width
    if slot.areas and abs(slot.areas[0] / mouth - 1) > AS_WIDE:
        raise MeshError(
            f"front.slots[{number}].channel.areas: must begin with the slot's own area, {mouth * 1e6:.4g} mm2 of "
            f"{slot.width * 1e3:.4g} mm at r = {radius * 1e3:.4g} mm in the plug; received {slot.areas[0] * 1e6:.4g} "
            f"mm2: change the first area, or the slot's width to {slot.areas[0] / (2 * np.pi * radius) * 1e3:.4g} mm"
        )


def channel(plug: Plug, slot: Slot, number: int, air: Air, omega: ArrayLike) -> Complex:
    """Two-port (F, 2, 2) of a slot's channel, from the gap to where the channels meet."""
    omega = np.asarray(omega, float)
    line = channel_line(plug, slot, number, air, omega, 0.0, slot.length)
    return cascade(slot_mouth(plug, slot, number, air, omega), line)


def slot_mouth(plug: Plug, slot: Slot, number: int, air: Air, omega: Array) -> Complex:
    """Two-port (F, 2, 2) of the local inertance of a slot's mouth: rho (Lambda_s - Lambda_t)/(4 pi r)."""
    n = slot.width / (2 * float(plug.line.slot_gap[number]))
    gained = air.density * (slot_inflow(n) - slot_through_flow(n)) / (4 * np.pi * plug.line.slot_radius[number])
    return series(np.asarray(1j * omega * gained))


def channel_line(plug: Plug, slot: Slot, number: int, air: Air, omega: Array, begin: float, end: float) -> Complex:
    """Two-port of a stretch of a channel between two distances in m from the gap."""
    whole = np.linspace(0, slot.length, PIECES + 1)
    taper = float(np.ptp(np.log(channel_area(plug, slot, number, whole))))
    cones = min(PIECES, int(np.ceil(FINE * taper)) or 1)
    place = np.linspace(begin, end, max(1, round(cones * (end - begin) / slot.length)) + 1)
    area = channel_area(plug, slot, number, place)
    width = area / (2 * np.pi * _radius(plug, slot, number, place))
    share = (place - begin) / (end - begin)
    if np.ptp(width) < 1e-9 * width[0]:
        even = slit(air, float(width[0]), omega)
        return area_law(area, place, lambda _: even)

    def medium(x: Array) -> Medium:
        return slit(air, np.interp(x, share, width), omega)

    return area_law(area, place, medium)


def channel_area(plug: Plug, slot: Slot, number: int, place: Array) -> Array:
    """Area in m2 at distances (S,) in m along a channel."""
    if slot.areas:
        stations = np.linspace(0, slot.length, len(slot.areas))
        return np.interp(place, stations, slot.areas)  # straight walls of a ring
    return np.asarray(2 * np.pi * _radius(plug, slot, number, place) * slot.width)


def _radius(plug: Plug, slot: Slot, number: int, place: Array) -> Array:
    lean = float(plug.normal[number, 0]) if slot.direction == "normal" else 0.0
    radius = plug.radius[number] + lean * np.asarray(place)
    if radius.min() <= slot.width / 2:
        raise MeshError(
            f"front.slots[{number}]: its channel meets the axis after {slot.length * 1e3:.4g} mm: shorten it, or give "
            'it direction = "axial"'
        )
    return np.asarray(radius)


def _gap(pieces: list[Piece], front: Front) -> GapFace:
    curves = [piece.curve for piece in pieces]
    if front.plug:
        drawn = np.array(front.plug)
        points = np.vstack([curve.point(np.linspace(0, curve.length, 9)) for curve in curves])
        face = face_points(curves, float(nearest_of_chain(drawn, points)[1].max()))  # no wider is the gap
        place, height = _fronts(face, pieces)
        rises = np.abs(np.diff(height)) > LEVEL
        face = with_points(face, place[np.append(rises, False) | np.append(False, rises)])
        return gap_to_plug(face, drawn, lambda s: np.interp(s, place, height))
    width, distance = np.array(front.gap_width), np.array(front.gap_distance)

    def made(share: float) -> GapFace:
        face = with_points(face_points(curves, share * float(width.max())), distance)
        return gap_by_width(face, lambda s: share * np.interp(s, distance, width))

    try:
        return made(1.0)
    except MeshError as problem:
        raise MeshError(f"{problem}{_what_fits(made, width)}") from None


def _what_fits(made: Callable[[float], GapFace], width: Array) -> str:
    """Which narrower gap can be drawn, to a twentieth of that asked for; "" where none can."""
    for share in np.arange(0.95, 0.0, -0.05).tolist():
        try:
            made(share)
        except MeshError:
            continue
        fits = f"{100 * share:.0f} % of these widths" if np.ptp(width) else f"a gap of {show(share * float(width[0]))}"
        return f"; {fits} would fit"
    return ""


def _fronts(face: Array, pieces: list[Piece]) -> tuple[Array, Array]:
    """Places (P,) in m along a face and how far before it the front of its wall stands there (P,), straight between
    them; from piece to piece that changes over as much of the face as it changes by."""
    share, chain = np.linspace(0, 1, STATIONS), along(face)
    points = np.array([piece.curve.point(share * piece.curve.length) for piece in pieces])
    number, _ = nearest_of_chain(face, points.reshape(-1, 2))
    place = np.interp(number, np.arange(len(face)), chain).reshape(-1, STATIONS)
    height = np.array([piece.wall.front(share) for piece in pieces])
    half = np.abs(height[1:, 0] - height[:-1, -1]) / 2
    place[:-1, -1] -= half
    place[1:, 0] += half
    return np.maximum.accumulate(place.ravel()), height.ravel()


def place_of_slot(face: GapFace, slot: Slot, number: int, drive: float | None) -> float:
    """Distance along the middle of the gap at which it has the slot's radius, on the slot's side."""
    r, where = face.middle[:, 0], f"front.slots[{number}]: radius {slot.radius * 1e3:.4g} mm"
    hits = np.flatnonzero((r[:-1] - slot.radius) * (r[1:] - slot.radius) <= 0)
    share = (slot.radius - r[hits]) / np.where(r[hits + 1] == r[hits], 1.0, r[hits + 1] - r[hits])
    places = np.unique(np.round(face.place[hits] + share * np.diff(face.place)[hits], 9))
    if slot.side and drive is not None:
        at_coil = float(face.place[int(np.argmin(np.abs(face.face[:, 0] - drive)))])
        places = places[places < at_coil] if slot.side == "inner" else places[places > at_coil]
    if not len(places):
        raise MeshError(
            f"{where} does not lie within the face{f' on its {slot.side} side' if slot.side else ''}, which runs from "
            f"r = {r.min() * 1e3:.4g} mm to {r.max() * 1e3:.4g} mm at the middle of the gap"
        )
    if len(places) > 1:
        z = ", ".join(f"{np.interp(p, face.place, face.middle[:, 1]) * 1e3:.4g} mm" for p in places)
        raise MeshError(f"{where} is met by the gap at more than one place (z = {z}): say its side, or move it")
    return float(places[0])
