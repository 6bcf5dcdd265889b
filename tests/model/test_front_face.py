"""What the front face of a shell with thickness sweeps: against the solid's own front face, and one closed form."""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.answer.quick import quick_from
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import FREE
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.model.large_stroke.bent_shell import BentShell
from diaphragm_fem.model.shell.front_face import shell_face
from diaphragm_fem.model.shell.numbering import FIELDS
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid
from diaphragm_fem.verify.bench import RADIUS, disc, part, piece, substance

TOP = 9e3


@cache
def both(name, corner_radius=None):
    change = {} if corner_radius is None else {"profile.corner_radius": corner_radius}
    design = load_design(STUDIES / f"{name}.toml", change)
    return build_shell(design, up_to_hz=TOP, corrected=True), build_solid(design, up_to_hz=TOP).structure(0)


@pytest.mark.parametrize("drawn", [("stepped_v",), ("metal_dome",), ("stepped_v", "0 mm"), ("metal_dome", "0 mm")])
def test_zones_are_those_of_the_solid(drawn):
    """Fillets and sharp kinks of 15 to 121 degrees, walls alike and not, a lap's square end: 1.2e-8 of an area is
    found; by the middle it was up to 4e-2."""
    shell, solid = both(*drawn)
    found = shell.structure(0).zone_area
    np.testing.assert_allclose(found, solid.zone_area, rtol=5e-8, atol=1e-15)
    middle = build_shell(shell.design, shell.mesh).structure(0).zone_area
    assert np.max(np.abs(middle - found) / np.maximum(found, 1e-12)) > 0.02


def test_a_driven_zone_departs_where_the_solids_does():
    """0.002 and 0.02 % are found; by the middle of the walls 0.47 and 0.22 %."""
    shell, solid = both("stepped_v")
    ours, theirs = (quick_from(solve(x, TOP)).figures for x in (shell.structure(0), solid))
    for one, other in zip(ours.departures, theirs.departures, strict=True):
        assert one.departure_hz == pytest.approx(other.departure_hz, rel=1e-3)
    assert ours.shelf_2_octaves == pytest.approx(theirs.shelf_2_octaves, rel=1e-3)
    assert ours.ripple_db == pytest.approx(theirs.ripple_db, rel=1e-3)


@pytest.mark.parametrize("before", [0.0, 0.2], ids=["as drawn", "stretched before"])
@pytest.mark.parametrize(("field", "depth"), [("u", 1 / 2), ("b", 0.01 * RADIUS / 8)], ids=["stretched", "bent"])
def test_a_stretched_disc_grows_thin(field, depth, before):
    """Stretched by e both ways its front sinks by nu/(1 - nu) e h, half of what the thickness loses; bent by k both
    ways it sinks by nu/(1 - nu) k h^2/4: over the area that it has by then."""
    stretch, h = 1e-3, 0.01 * RADIUS
    shell = BentShell(build_shell(disc(FREE, 0.01), corrected=True))
    place = shell.model.mesh.place
    sweeps = shell.swept(_on_unknowns(shell, u=before * place))[0].sum(axis=0)
    sunk = 0.3 / 0.7 * 2 * stretch * h * depth
    area = np.pi * (RADIUS * (1 + before)) ** 2
    assert sweeps @ _on_unknowns(shell, **{field: stretch * place}) == pytest.approx(-area * sunk, rel=1e-9, abs=0)


@pytest.mark.parametrize("state", [(0.0, 0.0), (0.7e-3, 0.2)], ids=["as drawn", "moved far"])
@pytest.mark.parametrize(
    "walls", [(1.0, 1.0), (0.6, 1.0), (1.0, 0.6)], ids=["mitred", "thin to thick", "thick to thin"]
)
@pytest.mark.parametrize("fold", [1, -1], ids=["outer", "hollow"])
def test_a_corner_that_turns_sweeps_what_its_two_cones_do(fold, walls, state):
    """Two straight walls whose joint alone turns: their faces slide along themselves, so that all that is swept is what
    the corner does. Against the slope of the volume of revolution under the face's five points, cone by cone, by a
    complex step; derived here. Of equal walls it would be half as much again without the term of the third degree."""
    length, (out, turned), joint = 10e-3, state, np.array((20e-3, 0.0))
    t = np.exp(1j * fold * np.array((0.5, -0.9)))
    h, wall = 1e-3 * np.array(walls), substance(nu=0.0)  # without which a bent wall would sink as well
    first, last = (joint + way * length * np.array((x.real, x.imag)) for way, x in zip((-1, 1), t, strict=True))
    lines = Line(tuple(first), tuple(joint)), Line(tuple(joint), tuple(last))
    design = part("kink", [piece(*own, wall) for own in zip(lines, h.tolist(), strict=True)], FREE, FREE)
    shell = BentShell(build_shell(design, corrected=True))
    rigid, hat = (
        _nodal(shell, lambda s, k: (s - length * (1 - k)) * t[k]),
        _nodal(shell, lambda s, k: abs(s - length * k)),
    )
    moved = rigid * (np.exp(-1j * turned) - 1) + out
    unknowns = _on_unknowns(shell, u=moved.real, w=moved.imag, b=turned + 0 * hat)
    found = shell.swept(unknowns)[0].sum(axis=0) @ _on_unknowns(shell, b=hat / length)

    t, r = t * np.exp(-1j * turned), joint[0] + out
    ends = 1j * t * h / 2
    bisector = 1j * t.sum()
    corner = bisector * h.min() / (bisector * (1j * t[0]).conjugate()).real / 2  # where the thinner face meets it

    def volume(turn):
        """Under the face whose corner turns; r and z apart, for a complex step makes both complex."""
        cos, sin = np.cos(turn), np.sin(turn)
        about = [(cos * x.real + sin * x.imag, cos * x.imag - sin * x.real) for x in (ends[0], corner, ends[1])]
        first, last = ends[0] - length * t[0], ends[1] + length * t[1]
        points = [(first.real, first.imag), *about, (last.real, last.imag)]
        return sum(
            np.pi / 3 * (b - a) * (y * (3 * r + 2 * a + b) + z * (3 * r + a + 2 * b))
            for (a, y), (b, z) in pairwise(points)
        )

    assert found == pytest.approx(volume(1e-20j).imag / 1e-20, rel=1e-9, abs=0)


def _nodal(shell, told):
    """A value (N,) at each node, told of its distance along its own wall and which that is."""
    mesh, found = shell.model.mesh, np.zeros(shell.line.nodes, complex)
    for k, elements in enumerate(mesh.elements):
        own = mesh.nodes[:, elements].ravel()
        found[own] = told(mesh.place[own] - mesh.offset[k], k)
    return found


def _on_unknowns(shell, **fields):
    """Nodal values of fields as unknowns, where these are free."""
    raw, unknown, found = np.zeros((len(FIELDS), shell.line.nodes)), shell.numbering.unknown, np.zeros(shell.size)
    for name, values in fields.items():
        raw[FIELDS.index(name)] = values.real
    found[unknown[unknown >= 0]] = raw.ravel()[unknown >= 0]
    return found


def test_one_on_the_face_is_what_the_structure_sweeps():
    shell, _ = both("metal_dome")
    volume = shell.structure(0).volume.sum(axis=0)
    found = np.asarray(shell_face(shell.line, shell.line.order_terms(0), True).sweep.sum(axis=0)).ravel()
    np.testing.assert_allclose(found, volume, rtol=1e-10, atol=1e-14 * np.abs(volume).max())
