"""A closed outline of design curves drawn with gmsh's kernel as a plane face in y = 0, in millimetres."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import pi
from types import ModuleType

from diaphragm_fem.design.drawing.curves import cubic_of
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.outline import begin

MM = 1e3
ON_AXIS = 1e-9  # m
LONGEST_ARC = pi / 2  # rad: arcs are cut into shorter ones


def draw_face(gmsh: ModuleType, outline: Sequence[Curve]) -> int:
    """The plane face in the plane y = 0 that the curves bound; its tag."""
    occ = gmsh.model.occ
    curves = [part for curve in outline for part in _short(curve)]
    corners = [begin(curve) for curve in curves]
    points = [occ.addPoint(max(r, 0.0) * MM, 0, z * MM) for r, z in corners]
    tags = []
    for k, curve in enumerate(curves):
        a, b = points[k], points[(k + 1) % len(points)]
        if isinstance(curve, Line):
            tags.append(occ.addLine(a, b))
        elif isinstance(curve, Arc):
            r, z = curve.centre
            tags.append(occ.addCircleArc(a, occ.addPoint(r * MM, 0, z * MM), b))
        else:
            tags.append(_add_spline(occ, curve, a, b))
    return int(occ.addPlaneSurface([occ.addCurveLoop(tags)]))


def _short(curve: Curve) -> Iterator[Curve]:
    """An arc as arcs of a quarter turn at most; other curves as they are."""
    if isinstance(curve, Arc) and abs(curve.sweep) > LONGEST_ARC:
        count = int(abs(curve.sweep) / LONGEST_ARC) + 1
        for k in range(count):
            yield curve.part(curve.length * k / count, curve.length * (k + 1) / count)
    elif not (isinstance(curve, Line) and curve.length < ON_AXIS):
        yield curve


def _add_spline(occ: ModuleType, curve: Curve, a: int, b: int) -> int:
    knots, control = cubic_of(curve)
    inner = [occ.addPoint(r * MM, 0, z * MM) for r, z in control[1:-1].tolist()]
    steps = sorted(set(knots.tolist()))
    count = [4, *[1] * (len(steps) - 2), 4]
    return int(occ.addBSpline([a, *inner, b], degree=3, knots=steps, multiplicities=count))
