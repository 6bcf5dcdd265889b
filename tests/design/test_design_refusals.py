"""What a design file cannot say: each refusal names the key, what was received and what is allowed."""

import re
from copy import deepcopy
from dataclasses import replace

import numpy as np
import pytest
from free_designs import free_design

from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.read.checks import check_geometry
from diaphragm_fem.design.read.read import changed, design_from, load_design
from diaphragm_fem.errors import DesignError, MaterialError

FLANK = {
    "width": "10 mm",
    "rise": "5 mm",
    "steps": [
        {"distance": "3 mm", "tread": "1.2 mm", "rise": "0 mm"},
        {"distance": "6 mm", "tread": "1 mm", "rise": "0 mm"},
    ],
    "surround": {"kind": "rolls", "count": 2, "width": "4 mm", "height": "0.6 mm"},
}
V = {
    "wall": {"material": "PEN film", "thickness": "60 um"},
    "profile": {"kind": "v", "coil_diameter": "65 mm", "inner": FLANK, "outer": FLANK},
    "coil": {
        "kind": "former",
        "winding_mass": "2.5 g",
        "winding_height": "4 mm",
        "former_height": "8 mm",
        "former": {"material": "polyimide film", "thickness": "100 um"},
    },
}
DOME = {"kind": "dome", "rim_diameter": "25 mm", "height": "6 mm"}


def free(*points, **keys):
    r, z = zip(*points, strict=True)
    return {"kind": "free", "r": [f"{x} mm" for x in r], "z": [f"{x} mm" for x in z], **keys}


@pytest.mark.parametrize(("changes", "message"), [
    # keys
    ({"profile.coil_diamter": "65 mm"},
     r"profile\.coil_diamter: unknown key 'coil_diamter'; did you mean 'coil_diameter'\? allowed are kind, "),
    ({"wall.about": "a try"},
     r"wall\.about: unknown key 'about', which belongs to the top of the file, before its first table; allowed are"),
    ({"profile.volume": "25 cm3"},
     r"unknown key 'volume', which belongs to \[rear_chamber\], \[front\], \[second_section\]; allowed are"),
    ({"exit.thickness": "1 mm"}, r"belongs to \[wall\], \[wall\.layers\[0\]\], .* and \d+ more tables; allowed"),
    ({"profile.coil_radius": "20 mm"}, "unknown key 'coil_radius'; did you mean 'coil_diameter', twice as much"),
    ({"profle.kind": "v"}, "^a.toml: profle: unknown key 'profle'; did you mean 'profile'"),
    ({"profile.outer.steps.1.thread": "1 mm"},
     r"profile\.outer\.steps\[1\]\.thread: unknown key .* did you mean 'tread'"),
    ({"profile.inner.surround.widht": "1 mm"}, r"profile\.inner\.surround\.widht: unknown key .* did you mean 'width'"),
    ({"profile.inner.surround": {"width": "1 mm"}}, "surround: 'kind' is missing; allowed are flat, half-roll, rolls"),
    ({"profile.inner.surround.kind": "roll"},
     r"surround\.kind: unknown kind 'roll'; did you mean 'rolls'\? allowed are flat"),
    ({"profile.kind": "w"}, r"profile\.kind: unknown kind 'w'; allowed are v, dome, free"),
    ({"profile": {"kind": "dome", "height": "3 mm"}},
     r"profile\.rim_diameter: 'rim_diameter' is missing; it says: Diameter of"),
    ({"coil.kind": "formr"}, r"coil\.kind: unknown kind 'formr'; did you mean 'former'"),
    ({"profile.inner": 3}, r"inner: must be a table with width, rise; its other keys are material, .*; received 3"),
    ({"motor": {"force_factor": "9 N/A", "coil_resistance": "6 ohm", "inductance": "0.1 mH"}},
     r"motor\.inductance: must be a table, such as { kind = 'ideal', inductance = '0\.1 mH' }; received '0\.1 mH'"),
    ({"rear_chamber": "25 cm3"}, r"rear_chamber: must be a table, such as { volume = '25 cm3' }; received"),
    ({"motor": "9 N/A"}, r"motor: must be a table with force_factor, coil_resistance; its other keys are voltage, "),
    ({"coil": "ring"}, r'coil: must be a table whose kind is "former" or "ring" or "none"; received \'ring\''),
    ({"profile.outer.steps": "none"}, r"profile\.outer\.steps: must be a list; received 'none'"),
    # quantities
    ({"profile.coil_diameter": 65},
     r"profile\.coil_diameter: a length needs a number and its unit in quotes, .*; received a bare 65"),
    ({"profile.coil_diameter": "65 g"}, r"profile\.coil_diameter: 'g' is not a unit of length"),
    ({"profile.coil_diameter": "65 mmm"}, r"profile\.coil_diameter: unknown unit 'mmm'"),
    ({"profile.coil_diameter": "-65 mm"}, r"profile\.coil_diameter: must be above 0; received -65 mm"),
    ({"wall.thickness": "0 um"}, r"wall\.thickness: must be above 0; received 0 um"),
    ({"wall.thickness": ["60 um", "-3 um"]}, r"wall\.thickness: must be above 0; received -3 um"),
    ({"wall.thickness": ["60 um"] * 3}, "must be one thickness or a list of two, such as .*; received 3 of them"),
    ({"profile.outer.surround.count": 0}, "count: must be greater than or equal to 1; received 0"),
    ({"profile.outer.surround.kind": "half-roll"}, 'a half-roll is one roll; for 2 of them write kind = "rolls"'),
    ({"profile.outer.surround.alternate": "yes"}, "alternate: must be true or false, without quotes; received 'yes'"),
    ({"edges.inner": "clampd"}, r"edges\.inner: must be 'clamped', 'hinged' or 'free'; received 'clampd'"),
    ({"edges.inner": {"axial": "loose"}},
     r'edges\.inner\.axial: must be "held", "free" or a stiffness: .* received \'loose\''),
    ({"edges.inner": {"axial": "3 N/m"}},
     r"edges\.inner\.axial: .*'N/m' is not a unit of stiffness per length of edge"),
    ({"edges.inner": {"axal": "held"}}, r"edges\.inner\.axal: unknown key 'axal'; did you mean 'axial'"),
    # materials and walls
    ({"wall.material": "PEN foil"}, r"wall\.material: unknown material 'PEN foil'; did you mean .*'PEN film'"),
    ({"coil.conductor": "coper"}, r"coil\.conductor: unknown material 'coper'; did you mean 'copper wire'"),
    ({"wall": {"thickness": "60 um"}},
     r'wall\.material: the zone .* has no material; give one for all zones, such as \[wall\] material'),
    ({"wall": {"material": "PEN film"}}, r"wall\.thickness: the zone .* has no thickness"),
    ({"wall.layers": [{"material": "PEN film", "thickness": "9 um"}]},
     "wall: layers stand in place of material and thickness"),
    ({"wall": {"layers": []}}, "layers must hold at least one layer"),
    ({"wall": {"layers": [{"material": "PEN film", "thickness": "1 um"}] * 21}},
     r"wall\.layers: must hold no more than 20; received 21$"),
    ({"wall": {"layers": [{"material": "PEN film", "thickness": "9 um"}]}, "profile.inner.thickness": "9 um"},
     r"wall\.layers: the zone 'inner .*' takes a thickness from a nearer table and the rest from these layers"),
    ({"zones.iner step.thickness": "9 um"},
     r'zones\."iner step": this profile has no zone .iner step.; did you mean .inner step.\? it has'),
    ({"materials.film.density": "1 kg/m^3"}, "a.toml, material 'film': youngs_modulus is missing"),
    ({"materials_file": "nowhere.toml"}, "the materials file nowhere.toml: there is no such file"),
    # geometry
    ({"profile.inner.width": "35 mm"},
     r"profile\.inner\.width: the inner flank passes the axis: .* = 39 mm must be at most .* 32\.5 mm"),
    ({"profile.inner.steps.1.distance": "9.5 mm"},
     r"steps\[1\]: the step does not fit on its flank: distance \+ tread must be at most "
     r"profile\.inner\.width = 10 mm; received 9\.5 mm \+ 1 mm = 10\.5 mm"),
    ({"profile.inner.steps.1.distance": "4 mm"},
     r"steps\[1\]\.distance: the step must begin beyond the far edge of the step before it "
     r"\(4\.2 mm\); received 4 mm"),
    ({"profile.inner.steps.0.distance": "0 mm"}, r"steps\[0\]\.distance: the step must begin beyond the coil"),
    ({"profile.bottom_radius": "20 mm"},
     r"profile\.bottom_radius: the corner between 'inner driven zone' and 'outer driven zone' has no room "
     r"for a radius of 20 mm; at most 5\.44 mm fits beside its neighbours"),
    ({"profile.corner_radius": "3 mm"},
     r"profile\.corner_radius: .* has no room for a radius of 3 mm; at most .* fits in all \d+ corners"),
    ({"profile.corner_radius": "20 um"},
     r"profile\.corner_radius: a corner radius must be 0 mm .* at least half the wall thickness, here 30 um; "
     "received 20 um"),
    ({"profile": DOME | {"height": "13 mm"}},
     r"profile\.height: .* at most a hemisphere, 12\.5 mm high here; received 13 mm"),
    ({"profile": DOME | {"shape": "ellipse", "surround": {"kind": "half-roll", "width": "3 mm", "height": "2 mm"}}},
     r"profile\.surround: the corner between 'dome' and 'surround' folds the wall back onto itself, a turn of 180 deg"),
    ({"profile": DOME | {"steps": [{"distance": "12 mm", "tread": "1 mm", "rise": "0 mm"}]}},
     "must be below half of profile.rim_diameter"),
    ({"profile.inner.surround.width": "0.2 mm", "profile.inner.surround.height": "0.05 mm", "wall.thickness": "0.4 mm",
      "profile.corner_radius": "0 mm"},
     "'inner surround' bends by a radius of 50 um, less than half its thickness of 0.4 mm: make the wall thinner"),
    ({"profile": DOME, "edges.outer": "clamped"},
     r"edges\.outer: this edge is held along the axis, and the coil sits on it, at a diameter of 25 mm"),
    ({"profile": DOME, "edges.inner": "free"},
     r"edges\.inner: this meridian meets the axis and has no inner edge to hold"),
    ({"profile": {"kind": "v", "coil_diameter": "65 mm"}},
     r"profile: a V-profile needs an inner or an outer flank, or both"),
    # coil
    ({"coil.diameter": "200 mm"},
     r"coil\.diameter: the drive circle must lie on the meridian, between 37 mm and 93 mm; received 200 mm"),
    ({"coil.winding_height": "12 mm"},
     r"coil\.winding_height: the winding must fit on the former: .* 12 mm must be at most former_height 8 mm"),
    ({"coil.winding_distance": "5 mm"},
     r"winding_distance 5 mm \+ winding_height 4 mm must be at most former_height 8 mm"),
    ({"coil.wire": {"diameter": "0.2 mm", "turns": 40}},
     "^a.toml: coil: a winding needs its winding_mass or its wire, and not both"),
    # free meridian
    ({"profile": free((1, 0), (2, 0))}, r"coil\.diameter is missing: a free meridian has no drive circle of its own"),
    ({"profile": free((1, 0))}, "needs at least two points; received 1"),
    ({"profile": free(*((1 + k / 100, 0) for k in range(2001)))},
     "has at most 2000 points; received 2001: leave some out"),
    ({"profile": free(*((1 + k, 0) for k in range(102)), zone=[f"z{k}" for k in range(102)]),
      "coil": {"kind": "none", "diameter": "4 mm"}},
     "^a.toml: profile: a part has at most 100 zones; received 101: let like walls share one"),
    ({"profile": {"kind": "free", "r": ["1 mm"], "z": ["1 mm", "2 mm"]}},
     r"profile\.z: the lists must be equally long; received 2 values beside 1"),
    ({"profile": {"kind": "free", "r": ["1 mm"]}},
     "profile: a free meridian needs its points: give file, or the lists r and z"),
    ({"profile": free((1, 0), (2, 0), file="a.csv")}, "points come from a file or from lists: remove file or r, z"),
    ({"profile": free((-1, 0), (2, 0))}, r"profile\.r\[0\]: must be at least 0; received -1 mm"),
    ({"profile": free((1, 0), (1, 0), (2, 0))}, "point 1: the point lies on the one before it"),
    ({"profile": free((0, 0), (0, 1), (2, 0))}, "point 1: the meridian runs along the axis"),
    ({"profile": free((3, 0), (2, 0))},
     "points must run from the inner edge to the outer edge, .*: turn their order round"),
    ({"profile": free((1, 0), (2, 0), (3, 1), (2, 1), (1.5, -1), (4, -1)),
      "coil": {"kind": "none", "diameter": "4 mm"}},
     r"the wall must not cross itself; 'wall' and 'wall' cross at r = 1\.75 mm, z = 0 mm"),
])  # fmt: skip
def test_refuses(changes, message):
    with pytest.raises(DesignError, match=message) as caught:
        design_from(V, "a.toml", changes=changes)
    assert str(caught.value).startswith(("a.toml: ", "a.toml, "))
    assert "validation error" not in str(caught.value) and "pydantic" not in str(caught.value)


def test_refusal_of_a_material_is_a_material_error():
    with pytest.raises(MaterialError, match=r"a.toml: wall\.material"):
        design_from(V, "a.toml", changes={"wall.material": "unobtainium"})


def test_every_wrong_value_is_named_at_once():
    changes = {"wall.thickness": 60, "profile.coil_diameter": "65", "edges.outer": "glued"}
    with pytest.raises(DesignError) as caught:
        design_from(V, "a.toml", changes=changes)
    lines = str(caught.value).splitlines()
    assert [line.split(": ")[1] for line in lines] == ["wall.thickness", "profile.coil_diameter", "edges.outer"]


@pytest.mark.parametrize(
    "key", ["profile.bottom_radius", "profile.corner_radius", "profile.outer.steps.0.corner_radius"]
)
def test_the_radius_named_does_fit(key):
    with pytest.raises(DesignError) as caught:
        design_from(V, changes={key: "5.9 mm"})
    fitting = re.search(r"at most (.*?) (?:fits|in all)", str(caught.value))[1]
    design = design_from(V, changes={key: fitting})
    number, unit = fitting.split()
    with pytest.raises(DesignError):
        design_from(V, changes={key: f"{float(number) * 1.03} {unit}"})
    assert design.meridian


def test_a_former_that_meets_the_wall_is_refused():
    film = load_materials()["PEN film"]
    r, z = np.array([10, 20, 25, 25, 15, 15]) * 1e-3, np.array([0, 0, 0, -5, -5, -6]) * 1e-3
    wall = free_design(r, z, 60e-6, film, zone=["inside", *["wall"] * 5]).meridian
    former = free_design([20e-3, 20e-3], [0, -8e-3], 60e-6, film, zone="former").meridian
    with pytest.raises(DesignError, match="not cross itself; 'wall' and 'former' cross at r = 20 mm, z = -5 mm"):
        check_geometry(wall, former)
    check_geometry(wall[:2], former)


def test_gaps_and_the_far_side_of_the_axis_are_refused():
    film = load_materials()["PEN film"]
    wall = free_design([10e-3, 20e-3, 25e-3], [0, 0, 3e-3], 60e-6, film).meridian
    with pytest.raises(DesignError, match="ends at r = 25 mm, z = 3 mm and 'wall' begins at r = 10 mm, z = 0 mm"):
        check_geometry(wall[::-1], ())
    past = (replace(wall[0], curve=Line((-1e-3, 0.0), (20e-3, 0.0))), wall[1])
    with pytest.raises(DesignError, match="must stay on its own side of the axis; 'wall' reaches r = -1 mm"):
        check_geometry(past, ())
    former = free_design([20e-3, 20e-3], [0, -8e-3], 80e-3, film, zone="former").meridian
    with pytest.raises(DesignError, match="'former' is 80 mm thick with its middle at r = 20 mm, so that"):
        check_geometry(wall, former)


def test_changes_refuse_what_is_not_there():
    with pytest.raises(
        DesignError, match=r"profile\.outer\.steps\[2\]: '2' must number one of the 2 items there, counted from 0"
    ):
        changed(V, {"profile.outer.steps.2.tread": "1 mm"})
    with pytest.raises(DesignError, match=r"wall\.material is a value, not a table, so it has no 'name'"):
        changed(V, {"wall.material.name": "x"})


def test_points_of_no_wall_are_refused():
    film = load_materials()["PEN film"]
    with pytest.raises(DesignError, match="point 1: thickness must be above 0; received -60 um"):
        free_design([1e-3, 2e-3], [0, 0], [60e-6, -60e-6], film)
    with pytest.raises(DesignError, match="point 0: r must be at least 0, the axis; received -1 mm"):
        free_design([-1e-3, 2e-3], [0, 0], 60e-6, film)


# ---------------------------------------------------------------- files


def test_missing_file(tmp_path):
    with pytest.raises(DesignError, match=r"nowhere\.toml: there is no such file; give the path of one"):
        load_design(tmp_path / "nowhere.toml")
    with pytest.raises(DesignError, match="is a folder; give the path of a file in it"):
        load_design(tmp_path)


def test_broken_toml_names_the_line(tmp_path):
    path = tmp_path / "broken.toml"
    path.write_text('name = "a"\nthickness = 75 um\n')
    with pytest.raises(
        DesignError, match=r"broken\.toml: not a valid TOML file: .*line 2.*; texts and quantities stand in quotes"
    ):
        load_design(path)
    for data, why in ((b'name = "\xff"\n', "invalid start byte at byte 8"), (b"\x01\x00", "a zero at byte 1")):
        path.write_bytes(data)  # the other was told of an invalid statement, as a table of a cell too long
        with pytest.raises(DesignError, match=rf"broken\.toml: the file is not text in UTF-8 \({why}\); save it"):
            load_design(path)


def test_message_begins_with_the_file(tmp_path):
    path = tmp_path / "a design.toml"
    path.write_text('[profile]\nkind = "dome"\nrim_diameter = 25\nheight = "6 mm"\n')
    with pytest.raises(DesignError, match=f"^{re.escape(str(path))}: profile\\.rim_diameter: a length needs"):
        load_design(path)


@pytest.mark.parametrize(("text", "message"), [
    ("", "holds no points; its first line must be a heading such as"),
    ("r [mm], x [mm]\n1, 2\n",
     r"line 1: unknown column 'x \[mm\]'; .*allowed are r, z, thickness, zone, material, role"),
    ("r [mm]; z [mm]\n1; 2\n", "unknown column 'r .*'; commas part columns, as in `r "),
    ("r [mm]\tz [mm]\n1\t2\n", "unknown column 'r .*'; commas part columns, as in `r "),
    ('{"key": "hush"}\n', "line 1: a table of points is wanted here, its first line a heading such as"),
    ("hush:x:0:0\n", "line 1: a table of points is wanted here, its first line a heading such as"),
    ("hush" * 300 + "\n", "line 1: a cell has at most 1000 letters; that is cell 1 of the line"),
    ("r [mm], r [mm]\n1, 2\n", "line 1: the column 'r' stands there twice"),
    ("r, z [mm]\n1, 2\n", r"line 1: the column 'r' needs its unit in the heading, such as `r \[mm\]`"),
    ("r [kg], z [mm]\n1, 2\n", "line 1, column r: 'kg' is not a unit of length"),
    ("r [mm], zone\n1, a\n", "line 1: the column 'z' is missing"),
    ("r [mm], z [mm]\n1, 2\n\n# remark\n3\n", "line 5: the line needs 2 values like the heading; received 1"),
    ("r [mm], z [mm]\n1, two\n", "line 2, column z: a length is written like .*; received 'two mm': not a number"),
    ("r [mm], z [mm]\n1,\n", "line 2: the value of 'z' is missing"),
    ("r [mm], z [mm], thickness [um]\n1, 0, 60\n2, 0, 0\n", "line 3: thickness must be above 0; received 0 um"),
    ("r [mm], z [mm], material\n1, 0, PEN film\n2, 0, tin foil\n",
     "line 3, column material: unknown material 'tin foil'"),
    ("r [mm], z [mm], role\n1, 0, driven\n2, 0, pushed\n", "line 3: unknown role 'pushed'; allowed are driven, step"),
    ("r [mm], z [mm]\n-1, 0\n2, 0\n", "line 2: r must be at least 0, the axis; received -1 mm"),
])  # fmt: skip
def test_meridian_file_refusals(tmp_path, text, message):
    (tmp_path / "points.csv").write_text(text)
    data = {"wall": V["wall"], "profile": {"kind": "free", "file": "points.csv"}}
    with pytest.raises(DesignError, match=message) as caught:
        design_from(data, folder=tmp_path)
    assert "points.csv" in str(caught.value) and "hush" not in str(caught.value)


def test_a_file_of_another_kind_is_not_shown_as_materials(tmp_path):
    """A design from elsewhere may name what it likes, and messages are passed on."""
    (tmp_path / "own").write_text('token = "hush"\n')
    with pytest.raises(MaterialError, match="a file of materials is wanted here") as caught:
        design_from(deepcopy(V) | {"materials_file": "own"}, folder=tmp_path)
    assert "hush" not in str(caught.value)


def test_missing_meridian_file(tmp_path):
    data = deepcopy(V) | {"profile": {"kind": "free", "file": "nowhere.csv"}}
    with pytest.raises(DesignError, match=r"profile\.file: .*nowhere\.csv: there is no such file"):
        design_from(data, folder=tmp_path)
