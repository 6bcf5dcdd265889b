"""How strips meet end to end: mitres, shoulders and lips, by which wall bends more easily and which one is thicker."""

from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.drawing.face_joint import halves_of_slopes, steeper
from diaphragm_fem.design.meridian.fillet import turn
from diaphragm_fem.design.units.units import show, show_place
from diaphragm_fem.errors import HERE, MeshError
from diaphragm_fem.mesh.meridian import SAME_POINT
from diaphragm_fem.mesh.rows import RowLayers, borders_met, row_thickness, rows_met, rows_of
from diaphragm_fem.mesh.sizing import bending_rigidity
from diaphragm_fem.mesh.strip import End, Strip

SMOOTH_TURN = 0.02  # radians: below this two pieces run on smoothly
LARGEST_TURN = np.radians(150)
FADE_PER_SHIFT = 1.4  # the cell next to a kink keeps at least 1 - 1/1.4 of its length on the inner face, ...
FULL_FADE = 2.0  # ... and half of it where there is room
FADE_SHARE = 0.45  # of a piece that one kink may claim
LARGEST_BEND = 0.9  # half the thickness over the radius of curvature
FIRST_CELL_SOFTNESS = 4.0  # nu = 0.375 and below: one thickness
SMALLEST_FIRST_CELL = 0.2  # wall thicknesses
SHOULDER = 0.25  # length of a shoulder over its height
SHOULDER_PER_LEAN = 1.5
STEEPER = 0.1  # of the shell's slope for a shoulder on one face
THICKNESS_JUMP = 0.01  # relative: below this two walls count as equally thick
FIRST_BESIDE_GLUED = 2.0  # thicknesses of the wall that runs on, in both walls: cells about a glued edge are divided
# from their corner out, and shorter ones leave out what happens beyond (half as long 1.8 instead of 0.9 % of the yield)
LIPS_FROM = 1.03  # ratio of thickness below which a shoulder is as good as a square end: 0.015 thicknesses of wall


def lay_strips(pieces: list[tuple[int, Piece]]) -> list[Strip]:
    """Strips of a chain of pieces that meet end to end, each wall in rows (`rows_of`).

    Where two walls meet, the mitre is shared and the wall that bends more easily keeps its thickness to the very end.
    A stiffer one that is thinner, or little thicker, comes to it over a short, steep shoulder, so that all of the soft
    wall is held, as a shell has it; one that is thicker by more than LIPS_FROM ends square, held by its middle, its
    lips free; where walls are cut in rows it has a shoulder of its own and smaller cells about its corners. (A fade
    into the soft wall moves the first modes of a thin step or a thick soft surround by several per cent; one
    cell across a high shoulder does not see that rubber yields there: modes were up to 13 % off.)
    Where something glued on ends, the wall below runs straight on, and that ends square.
    A slope that stands for a shoulder on one face is drawn nearly as steep as that, and its cells lie across the walls
    beside it, where a mitre would have no room.

    Raises MeshError for a gap, a kink that turns too far or has no room for its mitre, a curve tighter than its wall.
    """
    layers = rows_of([piece for _, piece in pieces])
    for _, piece in pieces:
        _check_bend(piece)
    across, steep = _across_slopes([piece for _, piece in pieces])
    pieces = [(index, piece) for (index, _), piece in zip(pieces, steep, strict=True)]
    begins, ends = [], []
    begins.append(_outer_end(pieces[0][1], layers[0], 0.0))
    for k, ((a, first), (b, second)) in enumerate(pairwise(zip(pieces, layers, strict=True))):
        if k in across or k + 1 in across:
            before = _beside_slope(a[1], first, 1.0, across.get(k, 0.0), (a[1], b[1]))
            after = _beside_slope(b[1], second, 0.0, across.get(k + 1, 0.0), (a[1], b[1]))
        else:
            before, after = _meet(a[1], first, b[1], second)
        ends.append(before)
        begins.append(after)
    ends.append(_outer_end(pieces[-1][1], layers[-1], 1.0))
    return [
        Strip(piece, index, rows, begin, end)
        for (index, piece), rows, begin, end in zip(pieces, layers, begins, ends, strict=True)
    ]


def _across_slopes(drawn: list[Piece]) -> tuple[dict[int, float], list[Piece]]:
    """Of each half of a slope that stands for a shoulder, the lean that turns its cells across the wall beside it; and
    the pieces, their slopes nearly as steep as the shoulder."""
    found: dict[int, float] = {}
    halves = halves_of_slopes(drawn)
    pieces = steeper(drawn, STEEPER) if halves else drawn
    for k in halves:
        if k - 1 not in halves and k > 0:
            found[k] = float(np.tan(turn(pieces[k - 1].curve, pieces[k].curve)))
        elif k - 1 in halves and k + 1 < len(pieces):
            found[k] = -float(np.tan(turn(pieces[k].curve, pieces[k + 1].curve)))
    return found, pieces


def _beside_slope(piece: Piece, layers: RowLayers, place: float, lean: float, both: tuple[Piece, Piece]) -> End:
    """An end of a half slope, leaning all along, or of the wall beside it, which ends square."""
    rows = row_thickness(piece.wall, layers, np.array(place))
    rear = float(piece.wall.rear(place))
    return End(rows, rear, lean, piece.curve.length if lean else 0.0, 0.0, _first_cell(rows, *both))


def _check_bend(piece: Piece) -> None:
    """The wall must be thinner than twice its radius of curvature everywhere."""
    fraction = np.linspace(0, 1, 21)
    s = fraction * piece.curve.length
    bend = np.abs(piece.curve.curvature(s)) * piece.wall.reach(fraction)
    worst = int(np.argmax(bend))
    if bend[worst] > LARGEST_BEND:
        thickness, reach = float(piece.wall.thickness(fraction[worst])), float(piece.wall.reach(fraction[worst]))
        needed = reach / LARGEST_BEND
        raise MeshError(
            f"zone '{piece.zone.name}': the curve{HERE} has a radius of {show(bend[worst] ** -1 * reach)}, too tight "
            f"for a wall of {show(thickness)}; give it a radius of at least {show(needed)} or make the wall thinner "
            f"than {show(thickness * LARGEST_BEND / bend[worst])}",
            f" at {show_place(piece.curve.point(s[worst]))}",
        )


def _outer_end(piece: Piece, layers: RowLayers, place: float) -> End:
    """An end of the whole chain: square to the meridian, or along the axis where it meets the axis."""
    rows, rear = row_thickness(piece.wall, layers, np.array(place)), float(piece.wall.rear(place))
    point = piece.curve.point(place * piece.curve.length)
    if point[0] > SAME_POINT:
        return End(rows, rear, 0.0, 0.0, 0.0, _first_cell(rows, piece))
    tangent = piece.curve.tangent(place * piece.curve.length)
    lean = float(tangent[1] / tangent[0]) if abs(tangent[0]) > 1e-6 else np.inf
    turned = 2 * float(np.arctan(abs(lean)))
    fade = _mitre_room(turned, abs(lean), float(rows.sum()), point, (piece,))
    return End(rows, rear, lean, fade, 0.0, _first_cell(rows, piece) if turned > SMOOTH_TURN else np.inf)


def _meet(a: Piece, a_layers: RowLayers, b: Piece, b_layers: RowLayers) -> tuple[End, End]:
    """The shared end of two pieces, seen from each side."""
    point = a.curve.point(a.curve.length)
    turned = turn(a.curve, b.curve)
    a_rows, b_rows = row_thickness(a.wall, a_layers, np.array(1.0)), row_thickness(b.wall, b_layers, np.array(0.0))
    softer = int(np.argmin([bending_rigidity(wall, at) for wall, at in ((a, 1.0), (b, 0.0))]))
    walls, rears = (a_rows, b_rows), (float(a.wall.rear(1.0)), float(b.wall.rear(0.0)))
    thicker = int(np.argmax([rows.sum() for rows in walls]))
    thick, thin = float(walls[thicker].sum()), float(walls[1 - thicker].sum())
    by_middle = thick > LIPS_FROM * thin and len(a.wall.layers) == len(b.wall.layers) == 1
    met = borders_met(a.wall, b.wall)
    held = thin if by_middle else 0.0
    own = list(zip(walls, rears, strict=True)) if by_middle or met else [(walls[softer], rears[softer])] * 2
    own_rows = [rows for rows, _ in own]
    thickest = max(own_rows, key=np.sum)
    thickness = float(thickest.sum())
    jump = met is not None or float(np.abs(a_rows - b_rows).max()) > THICKNESS_JUMP * thickness
    materials = [a.wall.layers[k].material for k, _ in a_layers], [b.wall.layers[k].material for k, _ in b_layers]
    singular = abs(turned) > SMOOTH_TURN or jump or materials[0] != materials[1]
    lean = float(np.tan(turned / 2))
    fade = _mitre_room(abs(turned), abs(lean), thickness, point, (a, b)) if abs(turned) > 1e-9 else 0.0
    first_cell = _first_cell(walls[1 - thicker] if held else thickest, a, b) if singular else np.inf
    if met:
        first_cell = FIRST_BESIDE_GLUED * thin
    slope = SHOULDER + SHOULDER_PER_LEAN * abs(lean)  # a mitre eats into the shoulder
    ends = []
    for k, (rows, rear) in enumerate(own):
        shoulder = min(abs(float(np.sum(walls[k] - rows))) / 2 * slope, FADE_SHARE * (a, b)[k].curve.length)
        borders = rows_met(met[k], (a_layers, b_layers)[k]) if met else slice(None)
        ends.append(End(rows, rear, lean if k else -lean, fade, shoulder, first_cell, held, borders))
    return ends[0], ends[1]


def _first_cell(rows: Array, *pieces: Piece) -> float:
    """One wall thickness, less for nearly incompressible walls."""
    share = min(first_cell_share(layer.material.poisson_ratio) for piece in pieces for layer in piece.wall.layers)
    return float(rows.sum()) * share


def first_cell_share(nu: float) -> float:
    """Of a wall's thickness: less where it is nearly incompressible, as the stress at a held corner is far more
    singular then."""
    return float(np.clip(FIRST_CELL_SOFTNESS * (1 - 2 * nu), SMALLEST_FIRST_CELL, 1.0))


def _mitre_room(turned: float, lean: float, thickness: float, point: Array, pieces: tuple[Piece, ...]) -> float:
    """Fade length at a kink: one wall thickness where there is room, never less than the mitre needs."""
    shift = thickness / 2 * lean
    room = FADE_SHARE * min(piece.curve.length for piece in pieces)
    if turned > LARGEST_TURN or FADE_PER_SHIFT * shift > room:
        names = "' and '".join(dict.fromkeys(piece.zone.name for piece in pieces))
        thinner = 2 * room / (FADE_PER_SHIFT * max(lean, 1e-12))
        remedy = f" or a wall thinner than {show(thinner)}" if turned <= LARGEST_TURN else ""
        raise MeshError(
            f"the corner{HERE} in '{names}' turns by {np.degrees(turned):.0f} degrees with a wall of "
            f"{show(thickness)}: its mitre has no room; give it a radius of at least {show(thickness)}{remedy}",
            f" at {show_place(point)}",
        )
    return min(max(thickness, FULL_FADE * shift), room)
