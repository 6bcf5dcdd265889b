"""Glue fillets at a former under a level wall: solid and corrected shell against the section drawn anew in a second
library."""

import numpy as np
import pytest

pytest.importorskip("ngsolve")

import ngsolve as ng
from netgen.occ import ArcOfCircle, Face, Glue, OCCGeometry, Pnt, Segment, Wire

from crosscheck.ngsolve_section import frequencies_of
from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.glued.bead import THIN, lay_beads
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid

pytestmark = pytest.mark.long
FILM = Material("film", 1360.0, 5e9, 0.38, LossFactor((0.0,)))
FOIL = Material("foil", 2700.0, 70e9, 0.33, LossFactor((0.0,)))
EPOXY = Material("epoxy", 1200.0, 3e9, 0.38, LossFactor((0.0,)))
INNER, AT, OUTER, LOW = 9.0, 12.0, 15.0, -2.0  # mm: a ring, free inside, clamped outside, the former's end
WALL, FORMER = 0.05, 0.08


def part(radius: float) -> Design:
    """radius of the fillets in mm, none for 0."""
    mm = 1e-3
    pieces = [
        Piece(Line((a * mm, 0.0), (b * mm, 0.0)), Zone("wall"), plain_wall(FILM, WALL * mm))
        for a, b in ((INNER, AT), (AT, OUTER))
    ]
    down = Line((AT * mm, 0.0), (AT * mm, LOW * mm))
    former = (Piece(down, Zone("former", Role.COIL), plain_wall(FOIL, FORMER * mm)),)
    beads = lay_beads(pieces, 1, former, radius * mm, "both", EPOXY) if radius else ()
    return Design("part", tuple(pieces), FREE, CLAMPED, 1, former, beads=beads)


def true_section(radius: float) -> ng.Mesh:
    """The same from its measures: a level wall, the former below it, quarter circles that run out at an angle."""
    half, rear, edge = FORMER / 2, -WALL / 2, radius * np.tan(THIN / 2)
    tips = [half + radius - edge] if radius else []  # of the glue on the wall, from the former's middle
    along = [AT + x for x in sorted([-half, half, *tips, *(-x for x in tips)])]
    lows = [rear - radius + edge] if radius else []
    faces = [
        polygon([(INNER, rear), *((r, rear) for r in along), (OUTER, rear), (OUTER, -rear), (INNER, -rear)]),
        polygon([
            (AT - half, LOW), (AT + half, LOW), *((AT + half, z) for z in lows), (AT + half, rear), (AT - half, rear),
            *((AT - half, z) for z in lows),
        ]),
    ]  # fmt: skip
    for side in (-1, 1) if radius else ():
        x, z = AT + side * (half + radius), rear - radius
        angles = np.array([THIN, np.pi / 4, np.pi / 2 - THIN])  # from the former's face to the wall's
        on = [Pnt(x - side * radius * np.cos(a), z + radius * np.sin(a), 0) for a in angles]
        corner, low = Pnt(AT + side * half, rear, 0), Pnt(AT + side * half, z + edge, 0)
        high = Pnt(x - side * edge, rear, 0)
        around = [
            Segment(corner, low),
            Segment(low, on[0]),
            ArcOfCircle(*on),
            Segment(on[2], high),
            Segment(high, corner),
        ]
        if side < 0:  # counterclockwise, like the others
            around = [Segment(corner, high), Segment(high, on[2]), ArcOfCircle(*on[::-1]), Segment(on[0], low),
                      Segment(low, corner)]  # fmt: skip
        faces.append(Face(Wire(around)))
    for n, face in enumerate(faces):
        face.name, face.maxh = f"piece{n}", 0.3
        for vertex in face.vertices:
            if abs(vertex.p.x - AT) < 1 or vertex.p.x > OUTER - 0.1:
                vertex.hpref = 1
        for one in face.edges:
            one.name = "held" if all(abs(v.p.x - OUTER) < 1e-6 for v in one.vertices) else "wall"
    mesh = ng.Mesh(OCCGeometry(Glue(faces), dim=2).GenerateMesh(maxh=0.3, grading=0.9))
    mesh.RefineHP(4, 0.2)
    return mesh


def polygon(corners: list[tuple[float, float]]):
    points = [Pnt(r, z, 0) for r, z in corners]
    return Face(Wire([Segment(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)]))


@pytest.mark.parametrize("m", [0, 2])
def test_glue_as_by_another_program(m):
    plain, true = (
        frequencies_of(true_section(r), [FILM, FOIL, EPOXY, EPOXY][: 4 if r else 2], m, 4) for r in (0.0, 0.2)
    )
    design, top = part(0.2), 1.1 * true[-1]
    solid = solve_modes(build_solid(design, up_to_hz=top).structure(m), top).frequency_hz[:4]
    shell = solve_modes(build_shell(design, up_to_hz=top, corrected=True, refine=2).structure(m), top).frequency_hz[:4]
    assert (true / plain - 1).min() > 0.05  # what the glue does
    np.testing.assert_allclose(solid, true, rtol=4e-4)  # measured 1.1e-4
    np.testing.assert_allclose(shell, true, rtol=5e-3)  # measured 1.5e-3
