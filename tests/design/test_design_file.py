"""Design files: reading, changing, writing, the schema, the demonstrations, the time it takes."""

import tomllib

import jsonschema
import pytest
from places import STUDIES

from diaphragm_fem.design.files.write import to_toml, write_design
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, HINGED, Edge
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.read.read import changed, design_from, load_design, read_design_file
from diaphragm_fem.design.spec.schema import json_schema, key_list, write_schema
from diaphragm_fem.errors import DesignError

DEMONSTRATIONS = ["straight_v", "stepped_v", "metal_dome", "soft_dome"]
DATA = {
    "name": "try",
    "wall": {"material": "PEN film", "thickness": "60 um"},
    "profile": {
        "kind": "v",
        "coil_diameter": "65 mm",
        "outer": {"width": "10 mm", "rise": "5 mm", "steps": [{"distance": "3 mm", "tread": "1.2 mm", "rise": "0 mm"}]},
    },
    "zones": {"outer step": {"thickness": "30 um"}},
}


# ---------------------------------------------------------------- changing


def test_changes_reach_lists_and_make_tables():
    data = changed(
        DATA, {"profile.outer.steps[0].tread": "2 mm", "coil.kind": "none", "zones.outer step.thickness": "25 um"}
    )
    assert data["profile"]["outer"]["steps"][0]["tread"] == "2 mm"
    assert data["coil"] == {"kind": "none"} and data["zones"]["outer step"]["thickness"] == "25 um"
    assert (
        DATA["profile"]["outer"]["steps"][0]["tread"] == "1.2 mm" and "coil" not in DATA
    )  # the original stays as it was


def test_a_change_reaches_one_of_two_flanks_that_are_the_same_object():
    flank = {"width": "10 mm", "rise": "5 mm"}
    data = changed({"profile": {"inner": flank, "outer": flank}}, {'profile."outer".width': "9 mm"})
    assert data["profile"] == {"inner": flank, "outer": {"width": "9 mm", "rise": "5 mm"}}


def test_changed_design_is_the_changed_file(tmp_path):
    path = write_design(DATA, tmp_path / "a.toml")
    file = read_design_file(path, {"wall.thickness": "75 um"})
    assert file.design.meridian[0].wall.layers[0].begin_thickness == pytest.approx(75e-6)
    assert file.data["wall"]["thickness"] == "75 um" and file.spec.wall.thickness[0].text == "75 um"
    assert load_design(write_design(file.data, tmp_path / "b.toml")) == file.design


# ---------------------------------------------------------------- edges and materials


def test_edges():
    surround = {"kind": "flat", "width": "2 mm"}
    flank = {"width": "10 mm", "rise": "5 mm"}
    data = {
        **DATA,
        "zones": {},
        "profile": {"kind": "v", "coil_diameter": "65 mm", "inner": flank | {"surround": surround}, "outer": flank},
    }
    plain = design_from(data)
    assert (plain.inner_edge, plain.outer_edge) == (CLAMPED, FREE)
    motions = {"axial": "held", "radial": "2 N/mm/mm", "rotation": "0.05 N m/rad/m", "loss_factor": 0.1}
    held = design_from(data | {"edges": {"inner": "hinged", "outer": motions}})
    assert held.inner_edge == HINGED
    assert held.outer_edge == Edge(2e6, 0.0, float("inf"), 0.05, 0.1)


def test_own_materials_from_the_file_and_from_another(tmp_path):
    (tmp_path / "mine.toml").write_text('["my film"]\nbased_on = "PEN film"\nyoungs_modulus = "6 GPa"\n')
    data = DATA | {"materials_file": "mine.toml", "materials": {"my film": {"density": "1300 kg/m^3"}}}
    data["wall"] = {"material": "my film", "thickness": "60 um"}
    film = design_from(data, folder=tmp_path).materials[0]
    assert (film.name, film.density, film.youngs_modulus) == ("my film", 1300, 6e9)


# ---------------------------------------------------------------- free meridian


def test_meridian_file(tmp_path):
    (tmp_path / "cone.csv").write_text(
        "# a cone with a flat surround\nr [mm], z [mm], thickness [um], zone, material, role\n"
        "10, 0, 80, cone, PEN film,\n26, 8, 60, cone, PEN film,\n30, 10, 60, outer rim, butyl rubber, surround\n"
        "35, 10, 200, outer rim, butyl rubber, surround\n"
    )
    profile = {"kind": "free", "file": "cone.csv"}
    design = design_from(
        {"profile": profile, "coil": {"kind": "ring", "mass": "1 g", "diameter": "20 mm"}}, folder=tmp_path
    )
    assert [piece.zone.name for piece in design.meridian] == ["cone", "cone", "outer rim"]
    assert [piece.zone.role for piece in design.meridian] == [Role.DRIVEN, Role.DRIVEN, Role.SURROUND]
    assert [material.name for material in design.materials] == ["PEN film", "butyl rubber"]
    assert design.meridian[0].wall.thickness(0.5) == pytest.approx(70e-6)
    assert design.joint == 0 and design.ring.mass == pytest.approx(1e-3)


def test_listed_points_say_the_same_as_a_file(tmp_path):
    (tmp_path / "cone.csv").write_text(
        "r [mm],z [mm],thickness [um],zone,material,role\n10,0,80,cone,PEN film,\n30,10,60,rim,butyl rubber,surround\n"
        "35,10,200,rim,butyl rubber,surround\n"
    )
    lists = {
        "r": ["10 mm", "30 mm", "35 mm"],
        "z": ["0 mm", "10 mm", "10 mm"],
        "thickness": ["80 um", "60 um", "200 um"],
        "zone": ["cone", "rim", "rim"],
        "material": ["PEN film", "butyl rubber", "butyl rubber"],
        "role": ["", "surround", "surround"],
    }
    listed = design_from({"profile": {"kind": "free", **lists}})
    assert listed == design_from({"profile": {"kind": "free", "file": "cone.csv"}}, folder=tmp_path)


def test_cylinder_of_constant_radius():
    points = {"kind": "free", "r": ["20 mm", "20 mm"], "z": ["0 mm", "-30 mm"]}
    design = design_from({"wall": DATA["wall"], "profile": points})
    assert design.meridian[0].curve.length == pytest.approx(30e-3) and design.joint is None


# ---------------------------------------------------------------- writing


AWKWARD = {
    "name": 'a "quoted" \\ name\twith\nlines and ümlauts \x7f',
    "empty": {},
    "numbers": [1, 2.5, -3e-9, 1e22, float("inf"), True],
    "mixed": [[1, 2], ["a"]],
    "table": {"key with space": {"deep.er": {"x": 1}}, "y": 2},
    "list": [{"a": 1, "inner": {"b": [1]}, "more": [{"c": 1}, {"c": 2}]}, {}],
    "inline": [1, {"a": "b"}],
}


def test_written_toml_reads_back():
    assert tomllib.loads(to_toml(AWKWARD)) == AWKWARD


def test_writing_refuses_what_toml_cannot_hold(tmp_path):
    with pytest.raises(DesignError, match=r"wall\.material: TOML cannot hold a set"):
        write_design({"wall": {"material": {1}}}, tmp_path / "a.toml")
    assert not (tmp_path / "a.toml").exists()
    with pytest.raises(DesignError, match="the file cannot be written: No such file or directory"):
        write_design(DATA, tmp_path / "nowhere" / "a.toml")


# ---------------------------------------------------------------- schema and demonstrations


def test_schema_describes_every_key():
    bare = []

    def walk(node, place):
        if isinstance(node, dict):
            properties = node.get("properties")
            if isinstance(properties, dict):
                bare.extend(f"{place}.{key}" for key, value in properties.items() if not value.get("description"))
            for key, value in node.items():
                walk(value, f"{place}.{key}")
        elif isinstance(node, list):
            for i, value in enumerate(node):
                walk(value, f"{place}.{i}")

    walk(json_schema(), "")
    assert not bare


def test_key_list_names_every_table():
    keys = dict(key_list(json_schema()))
    for key in ("profile.outer.steps[0].tread", "zones.NAME.thickness", "edges.inner.axial", "coil.wire.turns"):
        assert keys[key]


def test_key_list_says_what_a_key_may_be():
    """Who wrote a design file from it alone had to guess that a dome that faces inward is "concave"."""
    keys = dict(key_list(json_schema()))
    assert keys["profile.kind"] == '"v": A V-profile. "dome": A dome. "free": A meridian given by points. Needed.'
    assert keys["profile.facing"].endswith('One of "convex", "concave". "convex" where absent.')
    assert keys["profile.surround.direction"].endswith('One of "up", "down". "up" where absent.')
    assert "half-roll" in keys["profile.surround.kind"] and '"flat": ' in keys["profile.surround.kind"]
    assert keys["exit.diameter"].endswith("Needed.") and "Needed" not in keys["profile.surround.height"]
    kinds = keys["front.kind"]  # its own words name them
    assert keys["stroke.changes"].endswith('has changed so far. ["10 %", "20 %", "50 %"] where absent.')
    assert "where absent" not in keys["front.slots"]  # none, as of all lists that are empty
    assert "One of" not in kinds and all(f'"{kind}"' in kinds for kind in ("thin chamber", "even pressure", "baffle"))


def test_schema_accepts_the_demonstrations_and_refuses_misspelling(tmp_path):
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    file = jsonschema.Draft202012Validator(schema)
    for name in DEMONSTRATIONS:
        file.validate(tomllib.loads((STUDIES / f"{name}.toml").read_text()))
    for changes in ({"wall.thicknes": "60 um"}, {"profile.coil_diameter": 65}, {"profile.kind": "w"}):
        with pytest.raises(jsonschema.ValidationError):
            file.validate(changed(DATA, changes))
    assert write_schema(tmp_path / "design.schema.json", json_schema()).read_text().startswith("{")


@pytest.mark.parametrize("name", DEMONSTRATIONS)
def test_demonstration_reads_and_writes_back(name, tmp_path):
    file = read_design_file(STUDIES / f"{name}.toml")
    assert file.design.joint is not None and file.design.name
    assert load_design(write_design(file.data, tmp_path / f"{name}.toml")) == file.design


def test_straight_and_stepped_v_share_their_coil():
    straight, stepped = (load_design(STUDIES / f"{name}.toml") for name in ("straight_v", "stepped_v"))
    assert straight.joint_radius == stepped.joint_radius
    assert not any(zone.role is Role.STEP for zone in straight.zones)
    assert {zone.side for zone in stepped.zones if zone.role is Role.STEP} == {"inner", "outer"}
