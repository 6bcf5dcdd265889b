"""What the front face of a shell with thickness sweeps: against the solid's own front face, and one closed form."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.answer.quick import quick_from
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.model.shell.front_face import shell_face
from diaphragm_fem.model.shell.numbering import FIELDS
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid
from diaphragm_fem.verify.bench import RADIUS, disc

STUDIES = Path(__file__).parents[2] / "studies"
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


@pytest.mark.parametrize(("field", "depth"), [("u", 1 / 2), ("b", 0.01 * RADIUS / 8)], ids=["stretched", "bent"])
def test_a_stretched_disc_grows_thin(field, depth):
    """Stretched by e both ways its front sinks by nu/(1 - nu) e h, half of what the thickness loses; bent by k both
    ways it sinks by nu/(1 - nu) k h^2/4."""
    stretch, h = 1e-3, 0.01 * RADIUS
    shell = build_shell(disc(CLAMPED, 0.01), corrected=True)
    order = shell.line.order_terms(0)
    nodes = shell.line.nodes
    motion = np.zeros((5, nodes))
    motion[FIELDS.index(field)] = stretch * shell.mesh.place
    sweeps = shell_face(shell.line, order._replace(numbering=_all_free(motion.ravel())), True).sweep
    sunk = 0.3 / 0.7 * 2 * stretch * h * depth
    assert (sweeps @ motion.ravel()).sum() == pytest.approx(-np.pi * RADIUS**2 * sunk, rel=1e-9, abs=0)


def _all_free(motion):
    from diaphragm_fem.model.shell.assembly import Numbering

    return Numbering(np.arange(len(motion)), np.ones(len(motion)), len(motion))


def test_one_on_the_face_is_what_the_structure_sweeps():
    shell, _ = both("metal_dome")
    volume = shell.structure(0).volume.sum(axis=0)
    found = np.asarray(shell_face(shell.line, shell.line.order_terms(0), True).sweep.sum(axis=0)).ravel()
    np.testing.assert_allclose(found, volume, rtol=1e-10, atol=1e-14 * np.abs(volume).max())
