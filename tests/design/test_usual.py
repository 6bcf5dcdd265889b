"""Values outside what is commonly built are asked about, and taken where the file says they are meant."""

from typing import get_args

import pytest
from places import STUDIES

from diaphragm_fem.answer.evaluate import evaluate
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.read.read import design_from, load_design, read_design_file
from diaphragm_fem.design.read.usual import FILE_ASKED, check_usual, unusual_value, usual_bands
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.quantities import Table
from diaphragm_fem.errors import StudyError, UnusualError
from diaphragm_fem.study.plan.study_file import read_study

STEPPED = STUDIES / "stepped_v.toml"


def test_a_thousand_values_are_asked_about_in_ten_lines():
    profile = {"kind": "free", "r": [f"{400 + k} mm" for k in range(1000)], "z": ["0 mm"] * 1000}
    asked = f"1000 values are unusual; if all of them are meant, add to {FILE_ASKED} a list"  # or to what a study has
    with pytest.raises(UnusualError, match=asked) as question:
        check_usual({"profile": profile})
    assert len(str(question.value)) < 1000 and len(question.value.keys) == 1000


@pytest.mark.parametrize(("key", "value", "message"), [
    ("coil.winding_mass", "0.22 Mg", r"coil\.winding_mass = 0\.22 Mg; .* 2 mg to 250 g; did you mean 0\.22 g\?"),
    ("wall.thickness", "30 mm", r"wall\.thickness = 30 mm; .* 2 um to 4 mm thick; did you mean 30 um\?"),
    ("wall.thickness", ["30 mm", "20 um"], r"wall\.thickness\[0\] = 30 mm; .*; did you mean 30 um\?"),
    ("wall.thickness", "1000 mil", r"wall\.thickness = 1000 mil; a wall is commonly [^;]* thick\n"),
    ("profile.coil_diameter", "44 m", r"coil_diameter = 44 m; a coil or rim is commonly .*; did you mean 44 mm\?"),
    ("profile.outer.steps[0].tread", "0.001 mm", r'steps\[0\]\.tread = 0\.001 mm; a distance or tread is commonly'),
    ('materials."firm elastomer".density', "4.5 kg/m^3",
     r'materials\."firm elastomer"\.density = 4\.5 kg/m\^3; .*; did you mean 4\.5 g/cm\^3\?'),
    ('materials."firm elastomer".youngs_modulus', "110000 GPa", r"a modulus is commonly .*; did you mean 110000 MPa\?"),
    ("wall.thickness", "2 mm", r"wall to radius = 0\.0\d+: '.*' is 2 mm thick at a radius of .* 0\.05 of the largest"),
])  # fmt: skip
def test_asks(key, value, message):
    with pytest.raises(UnusualError, match=message) as question:
        load_design(STEPPED, {key: value})
    assert "if it is meant, add to the design file the line unusual = ['" in str(question.value)
    assert all(line.startswith(str(STEPPED)) for line in str(question.value).splitlines())


def test_a_horn_may_be_longer_than_a_diaphragm_is_wide():
    """One of 280 mm was asked about as a distance along a wall."""
    assert unusual_value(("exit", "horn", "distance", 3), "0.28 m") is None
    asked = unusual_value(("exit", "horn", "distance", 3), "28 m")
    assert asked is not None and "a horn commonly goes on for up to 3 m" in asked.question
    assert unusual_value(("profile", "outer", "steps", 0, "distance"), "0.28 m") is not None


SILK = 'materials."stiffly treated silk"'


@pytest.mark.parametrize(("name", "key", "value", "message"), [
    ("soft_dome", f"{SILK}.youngs_modulus", "50 GPa",
     r"youngs_modulus = 50 GPa; the material that it is based on commonly has 50 MPa to 1 GPa; did you mean 50 MPa\?"),
    ("soft_dome", f"{SILK}.youngs_modulus", "9 MPa", r"youngs_modulus = 9 MPa; .* 50 MPa to 1 GPa\n"),
    ("soft_dome", f"{SILK}.density", {"value": "90 kg/m^3"}, r"density = 90 kg/m\^3; .* 500 kg/m\^3 to 1200 kg/m\^3\n"),
    ("soft_dome", f"{SILK}.loss_factor", 4.0, r"silk\"\.loss_factor = 4; a loss factor is commonly up to 2\n"),
    ("metal_dome", "materials", {"aluminium alloy": {"youngs_modulus": "7 GPa"}}, r"= 7 GPa; .* 68 GPa to 72 GPa\n"),
    ("metal_dome", "materials", {"aluminium alloy": {"based_on": "titanium", "density": "450 kg/m^3"}},
     r"density = 450 kg/m\^3; the material that it is based on commonly has 4510 kg/m\^3\n"),
    ("metal_dome", "wall.thickness", "300 um",
     r"wall to radius = 0\.021: 'dome' is 300 um thick .*; a wall stiffer than 1\.5 GPa is commonly up to 0\.02 of"),
    ("soft_dome", "coil.wire", {"diameter": "0.1 mm", "turns": 3600},
     r"layers of the winding = 200: 3600 turns of 0\.1 mm in a winding 1\.8 mm high; .* has up to 10 layers\n"),
    ("stepped_v", "wall.thickness", "500 um",
     r"film thickness = 500 um in '.*'; a film is commonly up to 0\.4 mm thick\n"),
])  # fmt: skip
def test_asks_what_a_substance_can_be_and_how_thick_a_wall_of_it_is(name, key, value, message):
    """Each was computed from without a word: silk as stiff as a metal, a loss beyond any, walls ten times too thick."""
    with pytest.raises(UnusualError, match=message) as question:
        load_design(STUDIES / f"{name}.toml", {key: value})
    assert load_design(STUDIES / f"{name}.toml", {key: value, "unusual": list(question.value.keys)}).unusual


@pytest.mark.parametrize(("name", "change"), [
    ("soft_dome", {f"{SILK}.youngs_modulus": "4 GPa", f"{SILK}.loss_factor": 1.5}),  # soaked in resin; rubber on it
    ("soft_dome", {"profile.thickness": ["0.5 mm", "0.4 mm"]}), ("metal_dome", {"wall.thickness": "0.2 mm"}),
    ("metal_dome", {"wall.material": "paper", "wall.thickness": "0.25 mm"}),
    ("stepped_v", {"wall.thickness": "0.3 mm"}), ("stepped_v", {"coil.former.thickness": "0.3 mm"}),
    ("stepped_v", {"wall": {"layers": [{"material": "PEN film", "thickness": "50 um"},
     {"material": "polyurethane foam", "thickness": "1 mm"}]}}),
])  # fmt: skip
def test_what_is_built_is_not_asked_about(name, change):
    """Four times the wall of the demonstrations, and what the trade coats, fills and glues (common practice)."""
    assert load_design(STUDIES / f"{name}.toml", change).unusual == ()


@pytest.mark.parametrize(("key", "value", "message"), [
    ("motor.force_factor", "9 kN/A", r"motor\.force_factor = 9 kN/A; a force factor is .*; did you mean 9 N/A"),
    ("rear_chamber.volume", "330 m3", r"rear_chamber\.volume = 330 m3; .* holds .*; did you mean 330 cm3\?"),
    ("rear_chamber.volume", "33 mm3", r"= 33 mm3; behind a radius of .* commonly holds .*; did you mean 33 cm3\?"),
    ("rear_chamber.depth", "60 m", r"rear_chamber\.depth = 60 m; a rear chamber is .* deep; did you mean 60 mm\?"),
    ("front.slots[0].width", "0.8 m", r"slots\[0\]\.width = 0\.8 m; a gap or slot is .* wide; did you mean 0\.8 mm\?"),
    ("exit.diameter", "36 m", r"exit\.diameter = 36 m; an exit is commonly .*; did you mean 36 mm\?"),
    ("stroke.foremost", "0.5 um", r"stroke\.foremost = 0\.5 um; a stroke is .*; did you mean 0\.5 mm\?"),
    ("stroke.foremost", "60 mm", r"stroke\.foremost = 60 mm; a stroke is commonly [^;]* 50 mm\n"),  # no slip of a unit
])  # fmt: skip
def test_asks_about_a_driver(key, value, message):
    with pytest.raises(UnusualError, match=message):
        load_design(STUDIES / "driver_straight_v.toml", {"stroke.rearmost": "-1 mm", key: value})


def test_every_kind_of_amount_has_its_band():
    without = {  # coordinates of a drawing, turns, frequencies, shares and the air, which has limits of its own
        "profile.origin", "profile.kink_angle", "stroke.pre_strain", "stroke.allowable.strain", "stroke.changes",
        "stroke.drive.frequency", "exit.table.frequency", "second_section.table.frequency",
        "second_section.crossover.frequency", "materials.relaxation.frequency", "air.temperature",
        "air.static_pressure",
    }  # fmt: skip
    bands = usual_bands()
    amounts = set(amount_keys(DesignSpec, ()))
    assert {".".join(key) for key in amounts if key[-1] not in bands and ".".join(key[-2:]) not in bands} == without


def amount_keys(kind, path):
    """Keys below a type of the file's tables that hold amounts with units."""
    if isinstance(kind, type) and issubclass(kind, Table):
        for name, about in kind.model_fields.items():
            if "Quantity" in repr(about.annotation) + repr(about.metadata):
                yield (*path, name)
            yield from amount_keys(about.annotation, (*path, name))
    for inner in get_args(kind):
        yield from amount_keys(inner, path)


def test_takes_what_is_meant_and_records_it():
    change = {"coil.winding_mass": "300 g"}
    file = read_design_file(STEPPED, change, allow_unusual=True)
    assert file.data["unusual"] == ["coil.winding_mass"]
    assert load_design(STEPPED, {**change, "unusual": ["coil.winding_mass"]}) == file.design
    told = "unusual, and allowed in the design: coil.winding_mass = 300 g; a winding or ring commonly weighs "
    told += "2 mg to 250 g"
    assert file.design.unusual == (told,)
    answer = evaluate(file.design, up_to_hz=2e3, orders=[0], tolerance=0.05, second_opinion=False)
    assert told in answer.warnings


def test_a_key_may_be_named_as_in_changes():
    change = {"profile.outer.steps[0].tread": "0.004 mm", "unusual": ["profile.outer.steps.0.tread"]}
    assert load_design(STEPPED, change).unusual


def test_other_keys_are_asked_about_all_the_same():
    with pytest.raises(UnusualError, match=r"unusual = \['coil.winding_mass', 'wall.thickness'\]"):
        load_design(STEPPED, {"coil.winding_mass": "300 g", "wall.thickness": "1 um", "unusual": ["coil.winding_mass"]})


@pytest.mark.parametrize("path", sorted(STUDIES.glob("*.toml")), ids=lambda path: path.stem)
def test_the_demonstrations_are_usual(path):
    if "[study]" not in path.read_text(encoding="utf-8"):
        assert load_design(path).unusual == ()


def test_the_library_is_usual():
    bands = usual_bands()
    for material in load_materials().values():
        for quantity in ("density", "youngs_modulus"):
            assert bands[quantity].low <= getattr(material, quantity) <= bands[quantity].high, (material.name, quantity)


def test_every_band_says_where_it_is_from():
    for band in usual_bands().values():
        assert band.low < band.high and "{}" in band.what
        assert "common practice, no source" in band.source or "from memory" in band.source or "computed" in band.source


def test_materials_in_a_file_of_their_own(tmp_path):
    (tmp_path / "own.toml").write_text('["my film"]\nbased_on = "PEN film"\ndensity = "4 kg/m^3"\n')
    data = {
        "materials_file": "own.toml", "wall": {"material": "my film", "thickness": "50 um"},
        "profile": {"kind": "dome", "rim_diameter": "25 mm", "height": "4 mm"},
    }  # fmt: skip
    with pytest.raises(UnusualError, match=r'materials\."my film"\.density = 4 kg/m\^3; a density is commonly'):
        design_from(data, folder=tmp_path)
    assert design_from({**data, "unusual": ['materials."my film".density']}, folder=tmp_path).unusual


def study(tmp_path, more: str, base: str = "") -> str:
    (tmp_path / "base.toml").write_text(base + STEPPED.read_text(encoding="utf-8"), encoding="utf-8")
    path = tmp_path / "study.toml"
    path.write_text(f'[study]\nbase = "base.toml"\n[plan]\nhow = "grid"\n{more}', encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("values", ['list = ["2 g", "0.22 Mg"]', 'range = ["0.002 kg", "0.22 Mg"]\ncount = 3'])
def test_ranges_of_a_study_are_asked_about(tmp_path, values):
    vary = f'[vary.mass]\nkey = "coil.winding_mass"\n{values}\n'
    with pytest.raises(StudyError, match=r"key vary\.mass: coil\.winding_mass = .*; if it is meant, write unusual"):
        read_study(study(tmp_path, vary))
    allowed = 'unusual = ["coil.winding_mass"]\n'
    assert read_study(study(tmp_path, vary, base=allowed))
    assert read_study(study(tmp_path, f"[change]\n{allowed}" + vary))
