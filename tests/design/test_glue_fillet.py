"""Glue fillets between former and wall: their section and mass, where they lie, what both models feel, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from places import BUTTED, STUDIES
from solid_walls import lowest, mass_of
from sound_section import check_sound

from diaphragm_fem.design.glued.bead import THIN, bead_mass, bead_section
from diaphragm_fem.design.meridian.edge import FREE
from diaphragm_fem.design.meridian.outline import begin, end
from diaphragm_fem.design.read.read import design_from, load_design
from diaphragm_fem.design.zone_sizes import zone_sizes
from diaphragm_fem.errors import DesignError, MaterialError
from diaphragm_fem.mesh.section import mesh_section
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.mesh.solid_file import write_step
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.solid.solid import build_solid
from diaphragm_fem.report.files.drawing import dxf_text
from diaphragm_fem.report.page.moving import glue_of

UM = 1e-6
GLUE = {"density": "1200 kg/m^3", "youngs_modulus": "3 GPa", "poisson_ratio": 0.38, "loss_factor": 0.03}
LEVEL = {  # a flat disc on a flat surround: right angles at the former
    "wall": {"material": "PEN film", "thickness": "50 um"},
    "profile": {"kind": "dome", "rim_diameter": "25 mm", "height": "0 mm",
                "surround": {"kind": "flat", "width": "4 mm"}},
    "edges": {"outer": "clamped"},
    "coil": {"kind": "former", "former": {"material": "aluminium alloy", "thickness": "60 um"}, "former_height": "3 mm",
             "winding_height": "1.5 mm", "winding_mass": "0.2 g"},
    "materials": {"epoxy glue": GLUE},
}  # fmt: skip


def level(**fillet: str):
    coil = {**LEVEL["coil"], "fillet": {"material": "epoxy glue", **fillet}} if fillet else LEVEL["coil"]
    return design_from({**LEVEL, "coil": coil})


def glued(file: str, radius: str, **more: str):
    fillet = {"radius": radius, "material": "epoxy glue", **more}
    return load_design(STUDIES / file, {'materials."epoxy glue"': GLUE, "coil.fillet": fillet})


def right_angle(radius: float) -> float:
    """Area of a fillet in a right angle: (1 - pi/4) R^2 less, at each end, what lies under the arc flatter than THIN
    and beyond the straight line that ends it there."""
    t = THIN
    under = np.sin(t) - (t + np.sin(t) * np.cos(t)) / 2
    kept = (np.sin(t) - np.tan(t / 2)) * (1 - np.cos(t)) / 2
    return (1 - np.pi / 4 - 2 * (under - kept)) * radius**2


def test_its_section_in_a_right_angle():
    inner, outer = level(radius="0.2 mm").beads
    for bead, face in ((inner, 12.47e-3), (outer, 12.53e-3)):
        area, r, _ = bead_section(bead)
        assert area == pytest.approx(right_angle(0.2e-3), rel=1e-9, abs=0)
        assert area == pytest.approx((1 - np.pi / 4) * (0.2e-3) ** 2, rel=0.005)  # what THIN leaves out is little
        corner = bead.faces[0].ends[1].point
        assert corner == pytest.approx((face, -25 * UM), abs=1e-12)
        assert 0 < (r - face) * (-1 if bead.inside else 1) < 0.1e-3
    centroids = [bead_section(bead) for bead in (inner, outer)]
    assert centroids[0][1] + centroids[1][1] == pytest.approx(2 * 12.5e-3, rel=1e-12)


@pytest.mark.parametrize("file", ["straight_v.toml", "stepped_v.toml", "metal_dome.toml", "soft_dome.toml"])
def test_it_closes_and_touches(file):
    design = glued(file, "0.25 mm")
    assert [bead.inside for bead in design.beads] == [True, False]
    for bead in design.beads:
        for a, b in zip(bead.outline, (*bead.outline[1:], bead.outline[0]), strict=True):
            assert np.subtract(end(a), begin(b)) == pytest.approx(0, abs=1e-11)
        place, way = bead.faces[1].point(0.0), bead.faces[1].ends[0].angle
        assert abs(np.sin(way)) < 1 and np.isfinite(place).all()
        low = end(bead.surface[-1])
        wall = float(design.former[0].wall.thickness(0.0))
        assert abs(low[0] - design.joint_radius) == pytest.approx(wall / 2, rel=1e-12)
    one = [glued(file, "0.25 mm", side=side).beads for side in ("inside", "outside")]
    assert (*one[0], *one[1]) == design.beads


def test_it_weighs_what_pappus_says():
    """In the zones' table and in the shell as in the solid: 2 pi r A rho."""
    plain, design = level(), level(radius="0.2 mm")
    expected = sum(2 * np.pi * bead_section(x)[1] * right_angle(0.2e-3) * 1200 for x in design.beads)
    assert sum(map(bead_mass, design.beads)) == pytest.approx(expected, rel=1e-9)
    former = [next(x.mass for x in zone_sizes(one) if x.zone.name == "former") for one in (plain, design)]
    assert former[1] - former[0] == pytest.approx(expected, rel=1e-9)

    shells = [mass_of(build_shell(replace(one, outer_edge=FREE)).structure(0)) for one in (plain, design)]
    assert shells[1] - shells[0] == pytest.approx(expected, rel=1e-6)
    shapes = build_solid(design, mesh_section(design)).shapes
    own = np.array(shapes.section.plan.piece) >= len(design.meridian) + len(design.former)
    solid = 2 * np.pi * 1200 * float((shapes.weight * shapes.points[0])[own].sum())
    assert solid == pytest.approx(expected, rel=1e-5)  # arcs by parabolas: 1e-6 measured


@pytest.mark.parametrize(("file", "side"), [("straight_v.toml", "both"), ("metal_dome.toml", "outside")])
def test_the_solid_draws_it(file, side):
    design = glued(file, "0.2 mm", side=side)
    section = mesh_section(design)
    check_sound(section)
    glue = section.material_of_cell == design.materials.index(design.beads[0].material)
    area = build_solid(design, section).shapes.weight.sum(axis=1)[glue].sum()
    assert area == pytest.approx(sum(bead_section(x)[0] for x in design.beads), rel=5e-6, abs=0)
    assert set(section.zone_of_cell[glue]) == {design.zones.index(design.former[0].zone)}


@pytest.mark.parametrize(
    "glued_on",
    [
        pytest.param({"profile.outer.surround.overlap": {"length": "1 mm", "side": "rear"}}, marks=pytest.mark.long),
        {"coil.collar": {"length": "1 mm", "side": "inside"}},
    ],
)
def test_beside_a_lap_or_a_collar(glued_on):
    """Walls of several layers, at the joint or beyond it, do not stand in its way."""
    fillet = {"radius": "0.2 mm", "material": "epoxy glue"}
    change = {'materials."epoxy glue"': GLUE, "coil.fillet": fillet, **glued_on}
    design = load_design(STUDIES / "straight_v.toml", change)
    section = mesh_section(design)
    check_sound(section)
    known = build_shell(design, corrected=True)
    solid, shell = lowest(build_solid(design, section).structure(0))[0], lowest(known.structure(0))[0]
    assert shell == pytest.approx(solid, rel=3e-3)  # measured 0.9e-3


@pytest.mark.long
def test_finer_cells_change_little_and_glue_much():
    """The former's glue stiffens the bottom of a V: its fifth mode rises; the first ones hardly notice."""
    plain, design = (lowest(build_solid(x).structure(0)) for x in (load_design(STUDIES / "straight_v.toml"),
                                                                   glued("straight_v.toml", "0.3 mm")))  # fmt: skip
    fine = mesh_section(glued("straight_v.toml", "0.3 mm"), grading=Grading(refine=1.5))
    np.testing.assert_allclose(lowest(build_solid(fine.design, fine).structure(0)), design, rtol=2e-4)
    assert np.abs(design / plain - 1)[:4] == pytest.approx(0, abs=1e-3)  # 5.5e-4 with the moduli of 2 kHz
    assert (design / plain - 1)[4] > 0.01


def test_the_drawing_has_its_surface():
    text = dxf_text(level(radius="0.2 mm"))
    assert "glue" in text and "glue" not in dxf_text(level())


def test_the_page_and_the_solid_file_have_it(tmp_path):
    plain, design = level(), level(radius="0.2 mm")
    assert len(glue_of(design)) == 2 and glue_of(plain) == []
    shown = np.array(glue_of(design)[0])
    assert shown.min(axis=0) == pytest.approx((12.27e-3, -225 * UM), abs=40 * UM)  # legs of 0.2 mm less what is thin
    bare, whole = (write_step(x, tmp_path / "part.step", former=True) for x in (plain, design))
    glue = sum(map(bead_mass, design.beads)) / 1200
    assert whole.volume - bare.volume == pytest.approx(glue, rel=1e-6, abs=0)


@pytest.mark.parametrize(
    ("fillet", "match"),
    [
        ({"radius": "0.2 mm", "side": "left"}, r"coil\.fillet\.side"),
        ({"radius": "0 mm"}, r"coil\.fillet\.radius"),
        ({"side": "both"}, r"coil\.fillet.*'radius' is missing"),
        ({"radius": "2 mm"}, r"coil\.fillet: a fillet of 2 mm inside the former must end above the winding"),
        ({"radius": "20 mm"}, r"coil\.fillet\.radius = 20 mm; a fillet of glue commonly has a radius of 5 um to 3 mm"),
    ],
)
def test_what_does_not_fit_is_refused(fillet, match):
    with pytest.raises(DesignError, match=match):
        level(**fillet)


def test_an_open_corner_is_refused():
    skirt = {"profile.shape": "ellipse", "profile.corner_radius": "0 mm", 'materials."epoxy glue"': GLUE}
    fillet = {"radius": "0.1 mm", "material": "epoxy glue", "side": "inside"}
    with pytest.raises(DesignError, match=r"needs a corner of 30 to 156 degrees .* leave it out on that side"):
        load_design(BUTTED, {**skirt, "coil.fillet": fillet})


def test_one_wider_than_the_way_to_the_axis_is_refused():
    small = {**LEVEL["profile"], "rim_diameter": "4 mm"}
    coil = {**LEVEL["coil"], "fillet": {"radius": "2.5 mm", "material": "epoxy glue"}}
    with pytest.raises(DesignError, match=r"must fit between the former and the axis, 1\.97 mm apart"):
        design_from({**LEVEL, "profile": small, "coil": coil})


def test_one_that_finds_no_corner_is_refused():
    """A thick roll that falls steeply from the rim stands out inside the former."""
    with pytest.raises(DesignError, match=r"coil\.fillet: a fillet of 100 um inside the former"):
        load_design(
            BUTTED,
            {'materials."epoxy glue"': GLUE, "profile.surround.direction": "down",
             "coil.fillet": {"radius": "0.1 mm", "material": "epoxy glue"}},
        )  # fmt: skip


def test_a_side_without_a_wall_is_refused():
    free = {"profile": {"kind": "dome", "rim_diameter": "25 mm", "height": "4 mm"}, "edges": {}}
    coil = {**LEVEL["coil"], "fillet": {"radius": "0.1 mm", "material": "epoxy glue"}}
    with pytest.raises(DesignError, match=r"outside the former needs a rear face .* \(side = \"inside\"\)"):
        design_from({**LEVEL, **free, "coil": coil})


def test_an_unknown_glue_is_refused():
    with pytest.raises(MaterialError, match=r"coil\.fillet\.material"):
        level(radius="0.1 mm", material="honey")
