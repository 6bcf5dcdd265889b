"""The air between a contour and a hemisphere cut into triangles whose sides follow the curves.

Sides are short at corners and where the face begins and ends, and grow from there; gmsh fills the inside. What lies
beyond the hemisphere is the model's: see `model/air/open_air.py`.
"""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.outline import begin, end
from diaphragm_fem.design.units.units import show, show_place
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.gmsh_model import gmsh_model, nodes_of
from diaphragm_fem.mesh.open_contour import OpenContour
from diaphragm_fem.mesh.section_size import evenly

CLEAR = 1.25  # radius of the hemisphere over the reach of the contour
FINEST, WIDE = 0.02, 5.0  # shortest side at a corner, of the contour's reach, but of a narrow face's so many widths
GROWTH = 0.8  # of the length of sides per distance from a corner
COARSEST = 0.3  # longest side, of the reach ...
PER_WAVE = 2.0  # ... and sides per wavelength
TURN = 0.6  # rad a side may turn by
SHARP = 0.1  # rad between tangents from which there is a corner
SAMPLES = 129  # of a curve, when its sides are laid
MOST = 4000  # triangles: some 32,000 unknowns, a minute and a gigabyte
NO_MESH = "the air before the face could not be cut into triangles; make the face smoother"


@dataclass(frozen=True, eq=False)
class OpenSection:
    """points (2, N) in m; cells (3, C). Sides as pairs of points: bent (2, B) with the middle (2, B) that they pass
    through; face (2, S), each from place (S, 2) to place along the face; outer (2, O) on the sphere of `radius` m about
    (0, `plane`)."""

    contour: OpenContour
    points: Array
    cells: Index
    bent: Index
    middle: Array
    face: Index
    place: Array
    outer: Index
    radius: float
    plane: float


def cut_open_section(contour: OpenContour, wave_number: float, refine: float = 1.0, whole: bool = False) -> OpenSection:
    """Cut the air before a contour for wave numbers up to `wave_number` in 1/m; `refine` divides every length.

    whole: full space, for a contour that ends on the axis, its middle in the plane z = 0. Raises MeshError for a
    contour that meets itself or the baffle, and for a face too many wavelengths wide.
    """
    plane = 0.0 if whole else contour.plane
    reach = contour.reach(plane)
    radius = CLEAR * reach
    curves, last = list(contour.every), end(contour.every[-1])
    if whole:
        curves += [Line(last, (0.0, -radius)), Arc((0.0, 0.0), radius, -np.pi / 2, np.pi)]
    else:
        curves += [Line(last, (radius, plane)), Arc((0.0, plane), radius, 0.0, np.pi / 2)]
    curves.append(Line((0.0, plane + radius), begin(contour.every[0])))
    largest = COARSEST * reach / refine
    coarsest = min(largest, 2 * np.pi / max(wave_number, 1e-9) / PER_WAVE / refine)
    area = np.pi / 4 * radius**2 if whole else max(np.pi / 4 * radius**2, _area(curves))
    many = area / (0.43 * coarsest**2)  # triangles, each 0.43 of a side squared
    if many > MOST:
        share = np.sqrt(MOST / many)
        deep = coarsest > share * largest
        raise MeshError(
            f"free air before a face of {2e3 * reach:.3g} mm, {wave_number * radius:.0f} radians to its edge at the "
            f"top frequency, takes {many:.0f} triangles, more than {MOST}: "
            + ("it lies too deep in the baffle" if deep else f"lower the top frequency to {100 * share:.0f} % of it")
        )
    finest = FINEST * min(reach, WIDE * contour.length) / refine**2  # twice as fine in the mesh, four times at corners
    seeds = _seeds(curves, contour, finest, coarsest, refine)
    cuts = [_cut(curve, seeds, coarsest, refine) for curve in curves]
    return _fill(contour, curves, cuts, radius, plane)


def _area(curves: list[Curve]) -> float:
    """Of what a closed line of curves encloses, the hole that a face lies in with it."""
    s = np.linspace(0.0, 1.0, SAMPLES)
    r, z = np.vstack([curve.point(s * curve.length) for curve in curves]).T
    return float(abs(np.sum(r * np.roll(z, -1) - np.roll(r, -1) * z)) / 2)


def _seeds(curves: list[Curve], contour: OpenContour, finest: float, coarsest: float, refine: float) -> Array:
    """(K, 3) of places (r, z) and the length of a side there: corners, ends of the face, and bends."""
    found = []
    borders = {len(contour.before), len(contour.before) + len(contour.face)}
    for k, curve in enumerate(curves[: len(contour.every) + 1]):
        turn = np.pi
        if k:
            before = curves[k - 1]
            turn = float(np.arccos(np.clip(before.tangent(before.length) @ curve.tangent(0.0), -1, 1)))
        begin = curve.point(0.0)
        if begin[0] > 1e-9 and (turn > SHARP or k in borders):
            found.append((*begin, finest))
        s = np.linspace(0, curve.length, 9)
        bend = _longest_in_bend(curve, s, refine)
        found += [(*p, max(h, finest)) for p, h in zip(curve.point(s), bend, strict=True) if h < coarsest]
    return np.array(found).reshape(-1, 3)


def _cut(curve: Curve, seeds: Array, coarsest: float, refine: float) -> Array:
    """Arc lengths of the ends of a curve's sides."""
    s = np.linspace(0, curve.length, SAMPLES)
    far = np.linalg.norm(curve.point(s)[:, None] - seeds[:, :2], axis=-1)
    length = np.minimum(coarsest, (seeds[:, 2] + GROWTH * far).min(axis=1, initial=np.inf))
    bend = np.maximum(_longest_in_bend(curve, s, refine), seeds[:, 2].min(initial=np.inf))
    return evenly(s, 1 / np.minimum(length, bend))


def _longest_in_bend(curve: Curve, s: Array, refine: float) -> Array:
    """Length (Q,) in m of a side that turns by `TURN`."""
    return TURN / refine / np.maximum(np.abs(curve.curvature(s)), 1e-9)


def _fill(contour: OpenContour, curves: list[Curve], cuts: list[Array], radius: float, plane: float) -> OpenSection:
    corners = np.vstack([curve.point(cut[:-1]) for curve, cut in zip(curves, cuts, strict=True)])
    middles = np.vstack([curve.point((cut[1:] + cut[:-1]) / 2) for curve, cut in zip(curves, cuts, strict=True)])
    corners[:, 0] = np.where(np.abs(corners[:, 0]) < 1e-9 * radius, 0.0, corners[:, 0])
    count = len(corners)
    owner = np.repeat(np.arange(len(curves)), [len(cut) - 1 for cut in cuts])
    _check_crossing(corners)
    points, cells = _triangles(corners, radius)
    sides = np.stack((np.arange(count), (np.arange(count) + 1) % count))
    first, last = len(contour.before), len(contour.before) + len(contour.face)
    moves = (owner >= first) & (owner < last)
    place = [np.stack((cut[:-1], cut[1:]), axis=1) for cut in cuts[first:last]]
    place = [part + begin for part, begin in zip(place, contour.begins, strict=False)]
    bent = np.array([not isinstance(curve, Line) for curve in curves])[owner]
    outer = owner == len(curves) - 2
    return OpenSection(
        contour, points, cells, sides[:, bent], middles[bent].T, sides[:, moves], np.vstack(place), sides[:, outer],
        radius, plane,
    )  # fmt: skip


def _triangles(corners: Array, unit: float) -> tuple[Array, Index]:
    """Triangles within a closed line of corners (N, 2), whose sides they keep: points (2, P), the first N the corners
    themselves, and cells (3, C)."""
    count = len(corners)
    with gmsh_model("open air") as gmsh:
        gmsh.option.setNumber("Mesh.ElementOrder", 1)
        geo = gmsh.model.geo
        for k, (r, z) in enumerate(corners / unit):
            geo.addPoint(r, z, 0, 0, k + 1)
        lines = [geo.addLine(k + 1, (k + 1) % count + 1) for k in range(count)]
        for line in lines:
            geo.mesh.setTransfiniteCurve(line, 2)
        geo.addPlaneSurface([geo.addCurveLoop(lines)], 1)
        geo.synchronize()
        try:
            gmsh.model.mesh.generate(2)
        except Exception as error:  # the one kind that gmsh raises
            raise MeshError(f"{NO_MESH} ({error})") from error
        xyz, number = nodes_of(gmsh)
        kinds, _, nodes = gmsh.model.mesh.getElements(2)
    if list(kinds) != [2]:
        raise MeshError(NO_MESH)
    points = unit * xyz[:, :2].T
    if np.abs(points[:, :count].T - corners).max() > 1e-9 * unit:
        raise MeshError("the mesher moved the corners of the air before the face")
    return np.ascontiguousarray(points), np.ascontiguousarray(number[nodes[0]].reshape(-1, 3).T)


def _check_crossing(corners: Array) -> None:
    """Refuse a closed line that crosses or touches itself."""
    a, b = corners, np.roll(corners, -1, axis=0)

    def side(p: Array, q: Array, x: Array) -> Array:
        along, to = q - p, x - p
        return np.asarray(along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0])

    A, B, C, D = a[:, None], b[:, None], a[None], b[None]
    one, other = (side(A, B, C), side(A, B, D)), (side(C, D, A), side(C, D, B))
    apart = np.abs(np.subtract.outer(np.arange(len(a)), np.arange(len(a))))
    beside = np.minimum(apart, len(a) - apart) < 2
    in_line = np.abs(one[0]) + np.abs(one[1]) < 1e-9 * np.ptp(corners) ** 2
    crossed = (one[0] * one[1] <= 0) & (other[0] * other[1] <= 0) & ~beside & ~in_line
    if crossed.any():
        k, j = np.argwhere(crossed)[0]
        raise MeshError(
            f"the face, its rigid surroundings and the baffle meet near {show_place(corners[k])} (and r = "
            f"{show(corners[j, 0])}): the face must stay within its outer edge, mounting ring and flange; widen the "
            "mounting ring or lower the flange"
        )
