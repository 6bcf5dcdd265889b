"""The part as one closed solid in a STEP file (ISO 10303): the outline of the wall turned about the axis.

Lines become planes, cylinders and cones, arcs become tori and spheres, all exact; free curves become turned
splines. Lengths are in millimetres, the axis is z, toward the listener. It is the part as the design file has it,
neither springback nor thinning in forming is in it, and the coil former is left out: it is glued on.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from math import pi
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType

from diaphragm_fem.design.bspline import cubic_of
from diaphragm_fem.design.curve import Arc, Curve, Line
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.faces import draw_faces
from diaphragm_fem.design.outline import begin
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.section import gmsh_model

MM = 1e3
ON_AXIS = 1e-9  # m
LONGEST_ARC = pi / 2  # rad: arcs are cut into shorter ones
NO_TIME = "1970-01-01T00:00:00"  # stands for the time of writing, so that equal parts give equal files


@dataclass(frozen=True)
class SolidFile:
    """A written STEP file and what the solid measures: volume in m3, area of the half section in m2."""

    path: Path
    volume: float
    section_area: float


def write_step(design: Design, path: Path) -> SolidFile:
    """Write the wall of a design as one solid. Raises MeshError where it cannot be made one, or gmsh is missing."""
    outline = [part.curve for part in draw_faces(design.meridian).outline]
    with gmsh_model(design.name) as gmsh, TemporaryDirectory() as folder:
        face = _draw_face(gmsh, outline)
        area = gmsh.model.occ.getMass(2, face)
        made = gmsh.model.occ.revolve([(2, face)], 0, 0, 0, 0, 0, 1, 2 * pi)
        solids = [tag for kind, tag in made if kind == 3]
        gmsh.model.occ.remove([(2, face)], recursive=True)
        gmsh.model.occ.synchronize()
        if len(solids) != 1 or len(gmsh.model.getEntities(3)) != 1:
            raise MeshError(
                f"the wall of '{design.name}' turned about the axis gives {len(solids)} solids, not one; give its "
                "corners radii"
            )
        used = set(gmsh.model.getBoundary([(3, solids[0])], recursive=True))
        gmsh.model.occ.remove([point for point in gmsh.model.getEntities(0) if point not in used])  # centres of arcs
        gmsh.model.occ.synchronize()
        volume = gmsh.model.occ.getMass(3, solids[0])
        draft = Path(folder) / "part.step"
        with _silent():
            gmsh.write(str(draft))
        text = draft.read_text(encoding="latin-1")
    path.write_text(_timeless(text, design.name), encoding="latin-1", newline="\n")
    return SolidFile(path, volume / MM**3, area / MM**2)


def read_step_volumes(path: Path) -> list[float]:
    """Volumes in m3 of the solids that a STEP file holds, one number for each."""
    with gmsh_model("read back") as gmsh:
        with _silent():
            found = gmsh.model.occ.importShapes(str(path), highestDimOnly=True)
        gmsh.model.occ.synchronize()
        return [gmsh.model.occ.getMass(kind, tag) / MM**3 for kind, tag in found if kind == 3]


def _draw_face(gmsh: ModuleType, outline: list[Curve]) -> int:
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


def _timeless(text: str, name: str) -> str:
    """The file without time, and with the part's name where the writer counts the parts it has written."""
    plain = re.sub(r"[^ -~]", "_", name).replace("'", "''").replace("\\", "\\\\")
    text = re.sub(r"(FILE_NAME\('[^']*',)'[^']*'", rf"\1'{NO_TIME}'", text)
    return re.sub(r"PRODUCT\('[^']*',\s*'[^']*'", lambda _: f"PRODUCT('{plain}','{plain}'", text)


@contextmanager
def _silent() -> Iterator[None]:
    """Keep what the writer prints by itself, past Python, from the terminal."""
    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
