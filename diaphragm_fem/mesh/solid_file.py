"""The part as one closed solid in a STEP file (ISO 10303): the outline of the wall turned about the axis.

Lines become planes, cylinders and cones, arcs become tori and spheres, all exact; free curves become turned
splines. Lengths are in millimetres, the axis is z, toward the listener. It is the part as the design file has it,
neither springback nor thinning in forming is in it. The coil former, which is glued on, is left out unless it is asked
for; the winding is never in it.
"""

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

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.drawing.faces import draw_faces
from diaphragm_fem.design.files.whole_file import write_whole
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.glued import into_walls
from diaphragm_fem.mesh.gmsh_model import MM, draw_face, gmsh_model

NO_TIME = "1970-01-01T00:00:00"  # stands for the time of writing, so that equal parts give equal files


@dataclass(frozen=True)
class SolidFile:
    """A written STEP file and what the solid measures: volume in m3, area of the half section in m2."""

    path: Path
    volume: float
    section_area: float


def write_step(design: Design, path: Path, *, former: bool = False) -> SolidFile:
    """Write the wall of a design as one solid, with `former` in one with its coil former. Raises MeshError where it
    cannot be made one, or gmsh is missing."""
    outline = [part.curve for part in draw_faces(design.meridian).outline]
    with gmsh_model(design.name) as gmsh, TemporaryDirectory() as folder:
        face = draw_face(gmsh, outline)
        if former and design.former:
            face = _with_former(gmsh, face, design)
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
    write_whole(path, _timeless(text, design.name), encoding="latin-1", newline="\n")
    return SolidFile(path, volume / MM**3, area / MM**2)


def _with_former(gmsh: ModuleType, wall: int, design: Design) -> int:
    """The plane face of the wall in one with those of the coil former and its glue; its tag."""
    outlines = [[part.curve for part in draw_faces(design.former).outline]]
    outlines += [into_walls(design, bead) for bead in design.beads]
    made, _ = gmsh.model.occ.fuse([(2, wall)], [(2, draw_face(gmsh, outline)) for outline in outlines])
    if [kind for kind, _ in made] != [2]:
        raise MeshError(f"the coil former of '{design.name}' and its wall do not make one solid; leave the former out")
    return int(made[0][1])


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
