"""Materials: the packaged numbers against other published ones, and the reading of a user's own."""

import tomllib
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from diaphragm_fem.design.library.evidence import MARK, QUANTITIES, doubtful_numbers, evidence_table
from diaphragm_fem.design.library.library import PACKAGED_FILE, find_material, load_materials
from diaphragm_fem.design.material.material import Evidence, Kind, LossFactor, Material
from diaphragm_fem.design.spec.schema import json_schema
from diaphragm_fem.errors import MaterialError

MATERIALS = load_materials()

ASKED_FOR = (
    "aluminium alloy", "titanium", "magnesium alloy", "beryllium", "PET film", "PEN film", "PEI film", "PEEK film",
    "polyimide film", "phenolic cloth", "treated silk", "paper", "thermoplastic elastomer", "nitrile rubber",
    "polyurethane foam", "copper wire", "aluminium wire", "glass-fibre laminate",
)  # fmt: skip


def write(folder: Path, text: str) -> Path:
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


WHOLE = 'density = "1 g/cm^3"\nyoungs_modulus = "40 MPa"\npoisson_ratio = 0.45\nloss_factor = 0.1\n'


# ---------------------------------------------------------------- the packaged numbers


def test_the_materials_of_the_trade_are_there() -> None:
    assert set(ASKED_FOR) <= set(MATERIALS)


@pytest.mark.parametrize("material", MATERIALS.values(), ids=str)
def test_every_number_has_its_own_kind_and_source(material: Material) -> None:
    assert set(material.evidence) == set(QUANTITIES)
    for evidence in material.evidence.values():
        assert isinstance(evidence.kind, Kind)
        assert len(evidence.source) > 10


@pytest.mark.parametrize("material", MATERIALS.values(), ids=str)
def test_isotropic_bounds(material: Material) -> None:
    """Shear and bulk modulus are positive, and no number lies outside any solid (gel to diamond)."""
    assert -1 < material.poisson_ratio < 0.5
    assert material.youngs_modulus / (2 * (1 + material.poisson_ratio)) > 0
    assert material.youngs_modulus / (3 * (1 - 2 * material.poisson_ratio)) > 0
    assert 10 < material.density < 20e3
    assert 1e4 < material.youngs_modulus < 1.2e12
    assert all(0 < value < 1.5 for value in material.loss_factor.values)


@pytest.mark.parametrize("material", MATERIALS.values(), ids=str)
def test_stated_range_holds_the_value(material: Material) -> None:
    for quantity, evidence in material.evidence.items():
        if evidence.range is not None:
            value = getattr(material, quantity)
            numbers = value.values if isinstance(value, LossFactor) else (value,)
            assert evidence.range[0] <= min(numbers) <= max(numbers) <= evidence.range[1]


# CRC Handbook of Chemistry and Physics, section 14, "Speed of Sound in Various Media", table 1: longitudinal, shear and
# extensional (thin rod) speed in m/s: aluminium rolled, beryllium, copper annealed, magnesium annealed.
WAVE_SPEEDS = {
    "aluminium alloy": (6420, 3040, 5000),
    "beryllium": (12890, 8880, 12870),
    "copper wire": (4760, 2325, 3810),
    "magnesium alloy": (5770, 3050, 4940),
}


@pytest.mark.parametrize("name", WAVE_SPEEDS)
def test_thin_rod_speed_of_metals_is_that_of_the_crc_handbook(name: str) -> None:
    """c = sqrt(E/rho). Within 2.5 %: the handbook's samples are pure metals, ours are alloys or another temper."""
    material = MATERIALS[name]
    assert sqrt(material.youngs_modulus / material.density) == pytest.approx(WAVE_SPEEDS[name][2], rel=0.025)


@pytest.mark.parametrize("name", WAVE_SPEEDS)
def test_poisson_ratio_of_metals_is_that_of_the_crc_handbook(name: str) -> None:
    """nu = (vl^2 - 2 vs^2) / 2 (vl^2 - vs^2). Within 0.035: 0.5 % of error in a speed moves nu by up to 0.02."""
    longitudinal, shear, _ = WAVE_SPEEDS[name]
    nu = (longitudinal**2 - 2 * shear**2) / (2 * (longitudinal**2 - shear**2))
    assert MATERIALS[name].poisson_ratio == pytest.approx(nu, abs=0.035)


def test_titanium_agrees_with_its_shear_modulus() -> None:
    """E = 2 G (1 + nu) with G = 38 GPa, ASM data sheet of annealed grade 2; G is given to two digits, hence 2 %."""
    titanium = MATERIALS["titanium"]
    assert titanium.youngs_modulus == pytest.approx(2 * 38e9 * (1 + titanium.poisson_ratio), rel=0.02)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # Encyclopedia of Physical Science and Technology, 3rd ed. (2001), Plastics Engineering, table I: 71 GN/m^2;
        # 2 % for the difference between alloys.
        ("aluminium alloy", 71e9 * 0.98, 71e9 * 1.02),
        # Review of materials for transparent wearable electronics (2023), PMC10452793, table 3.
        ("PET film", 1.57e9, 5.20e9),
        ("PEN film", 5.00e9, 5.50e9),
        # Review of polymer substrates, Adv. Mater. 34 (2022) 2106787, table 1: 2.5 GPa; 4 % for the last digit.
        ("polyimide film", 2.4e9, 2.6e9),
        # Engineering Plastics Handbook (2006), table 8.3: 10 % glass fibre makes 4.48 GPa of it; a supplier's creep
        # modulus after 1000 h at 82 C is 2.40 GPa. The clean, fresh, cool resin lies between.
        ("PEI film", 2.40e9, 4.48e9),
    ],
)
def test_modulus_against_a_second_source(name: str, low: float, high: float) -> None:
    assert low <= MATERIALS[name].youngs_modulus <= high


def test_pen_is_a_quarter_stiffer_than_pet() -> None:
    """A supplier's note on PEN film: modulus at room temperature "say 25 %" above PET; rounded, hence 10 points."""
    ratio = MATERIALS["PEN film"].youngs_modulus / MATERIALS["PET film"].youngs_modulus
    assert ratio == pytest.approx(1.25, abs=0.10)


def test_density_of_beryllium_against_a_second_source() -> None:
    """A. J. Stonehouse, Physics and chemistry of beryllium (1985): 1.85 g/cm^3, three digits, hence 0.5 %."""
    assert MATERIALS["beryllium"].density == pytest.approx(1850, rel=0.005)


def test_dangerous_dust_is_cautioned_and_defers_to_local_rules() -> None:
    caution = MATERIALS["beryllium"].caution
    assert all(word in caution for word in ("dust", "inhaled", "Never machine", "local occupational health rules"))


def test_soft_materials_damp_most_and_metals_least() -> None:
    """Order at 1 kHz: metals, then plastics films, then rubbers (common practice, no source)."""
    at_1_khz = {name: float(material.loss_factor(1e3)) for name, material in MATERIALS.items()}
    metals = [at_1_khz[name] for name in ("aluminium alloy", "titanium", "magnesium alloy", "beryllium")]
    films = [at_1_khz[name] for name in ("PET film", "PEN film", "PEI film", "PEEK film", "polyimide film")]
    rubbers = [at_1_khz[name] for name in ("thermoplastic elastomer", "nitrile rubber", "butyl rubber")]
    assert max(metals) < min(films) < max(films) < min(rubbers)


def test_packaged_file_is_read_once_and_cannot_be_spoiled() -> None:
    first = load_materials()
    first.pop("paper")
    assert load_materials()["paper"] is MATERIALS["paper"]


# ---------------------------------------------------------------- loss factor


def test_loss_angle_is_linear_in_the_logarithm_of_frequency_between_two() -> None:
    eta = LossFactor((0.1, 0.3), (100.0, 10e3))
    assert np.arctan(eta(1e3)) == pytest.approx((np.arctan(0.1) + np.arctan(0.3)) / 2, rel=1e-12)  # half way by decades


def test_loss_factor_is_held_beyond_its_ends() -> None:
    eta = LossFactor((0.1, 0.3, 0.2), (100.0, 1e3, 10e3))
    np.testing.assert_allclose(eta([0.0, 1.0, 100.0, 1e3, 10e3, 1e6]), [0.1, 0.1, 0.1, 0.3, 0.2, 0.2], rtol=1e-12)


def test_constant_loss_factor_keeps_the_shape_of_the_frequencies() -> None:
    assert LossFactor((0.02,))(np.ones((2, 3))).tolist() == [[0.02] * 3] * 2


@pytest.mark.parametrize(
    ("values", "frequency", "message"),
    [
        ((), (), "one value"),
        ((0.1, 0.2), (), "a frequency for each; received 2 values and 0 frequencies"),
        ((0.1, 0.2), (100.0,), "as many frequencies as values; received 2 values and 1 frequency"),
        ((-0.1,), (), "from 0 up to 10, such as 0.1 for a tenth; received -0.1$"),
        ((0.1, 0.2), (200.0, 100.0), "above 0 Hz and rise; received 200, 100 Hz"),
        ((0.1, 0.2), (0.0, 100.0), "above 0 Hz and rise"),
    ],
)
def test_impossible_loss_factors_are_refused(values: tuple, frequency: tuple, message: str) -> None:
    with pytest.raises(MaterialError, match=message):
        LossFactor(values, frequency)


# ---------------------------------------------------------------- a user's own numbers


def test_an_override_changes_one_number_and_keeps_the_rest() -> None:
    own = load_materials(overrides={"PEN film": {"youngs_modulus": "6.1 GPa"}})["PEN film"]
    assert own.youngs_modulus == pytest.approx(6.1e9, rel=1e-12)
    assert own.evidence["youngs_modulus"] == Evidence(Kind.ASSUMED, "given in the design file")
    assert own.density == MATERIALS["PEN film"].density
    assert own.evidence["density"] == MATERIALS["PEN film"].evidence["density"]
    assert MATERIALS["PEN film"].youngs_modulus == pytest.approx(5.2e9, rel=1e-12)  # the packaged one is untouched


def test_a_number_brings_its_own_kind_and_source() -> None:
    number = {
        "value": "6.1 GPa",
        "kind": "measured",
        "source": "own bending test, lot 7",
        "range": ["6 GPa", "6.3 GPa"],
    }
    own = load_materials(overrides={"PEN film": {"youngs_modulus": number}})["PEN film"]
    evidence = own.evidence["youngs_modulus"]
    assert evidence.kind is Kind.MEASURED and evidence.source == "own bending test, lot 7" and not evidence.doubtful
    assert evidence.range == pytest.approx((6e9, 6.3e9))


def test_a_new_material_based_on_another() -> None:
    table = {"based_on": "PEN film", "loss_factor": {"value": [0.01, 0.02], "frequency": ["100 Hz", "10 kHz"]}}
    own = load_materials(overrides={"warm PEN film": table})["warm PEN film"]
    assert own.name == "warm PEN film"
    assert own.youngs_modulus == MATERIALS["PEN film"].youngs_modulus
    assert own.loss_factor(1e3) == pytest.approx(0.015, rel=1e-4)  # the angle is interpolated
    assert own.evidence["density"].source.startswith("as PEN film: ")


@pytest.mark.parametrize(("bases", "message"), [
    ({"a": "a"}, "material 'a', key based_on: 'a' is based on 'a': give its numbers, or base it on a material that is"),
    ({"a": "b", "b": "c", "c": "a"}, "'a' is based on 'b', that on 'c', that on 'a': give its numbers"),
    ({"d": "a", "a": "b", "b": "a"}, "'d' is based on 'a', that on 'b', that on 'a': give its numbers"),
    ({"a": "b", "b": "PEN film", "PEN film": "PEN film"}, "'b' stands below .*; put .* of 'b' above that of 'a'"),
])  # fmt: skip
def test_a_material_based_on_what_is_not_read_yet_is_told_so(bases: dict[str, str], message: str) -> None:
    """They were called unknown, with a film of a like name."""
    with pytest.raises(MaterialError, match=message):
        load_materials(overrides={name: {"based_on": base} for name, base in bases.items()})


def test_a_row_of_materials_has_an_end() -> None:
    """Each names all before it in its sources: 9,000 took 1.3 GB."""
    bases = {f"m{n}": {"based_on": f"m{n - 1}" if n else "paper"} for n in range(1000)}
    with pytest.raises(MaterialError, match=r"material 'm\d{3}', key based_on: .* longer than 4000 .* an earlier one"):
        load_materials(overrides=bases)


def test_cautions_go_with_the_substance() -> None:
    own = load_materials(overrides={"thin beryllium": {"based_on": "beryllium", "youngs_modulus": "290 GPa"}})
    assert "local occupational health rules" in own["thin beryllium"].caution


def test_a_file_of_the_users_own(tmp_path: Path) -> None:
    path = write(tmp_path, f'["lab film"]\n{WHOLE}note = "lot 12"\n["lab film 2"]\nbased_on = "lab film"\n')
    own = load_materials(path)
    assert own["lab film"].density == pytest.approx(1000.0)
    assert own["lab film"].evidence["density"] == Evidence(Kind.ASSUMED, "given in own.toml")
    assert own["lab film 2"].youngs_modulus == own["lab film"].youngs_modulus
    assert own["lab film 2"].note == "lot 12"
    assert set(MATERIALS) < set(own)


def test_materials_headed_as_in_a_design_file_are_told_how(tmp_path: Path) -> None:
    path = write(tmp_path, '[materials."lab film"]\nbased_on = "PEN film"\n')
    asked = r'own\.toml: \[materials\."lab film"\] is how a design file .* write \["lab film"\]'
    with pytest.raises(MaterialError, match=asked):
        load_materials(path)


def test_the_design_file_has_the_last_word(tmp_path: Path) -> None:
    path = write(tmp_path, '["paper"]\nyoungs_modulus = "1 GPa"\ndensity = "500 kg/m^3"\n')
    own = load_materials(path, {"paper": {"youngs_modulus": "3 GPa"}})["paper"]
    assert (own.youngs_modulus, own.density) == pytest.approx((3e9, 500.0))


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({"youngs_modulus": 5.2e9}, r'a\.toml: "PEN film"\.youngs_modulus: .*unit.*5200000000'),
        ({"youngs_modulus": "5.2 GPaa"}, r"\.youngs_modulus: .*'GPaa'"),
        ({"youngs_modulus": "5.2 mm"}, r"\.youngs_modulus: .*'mm' is not a unit of modulus"),
        ({"density": "-1 g/cm^3"}, r"\.density: must be above 0; received -1 g/cm\^3"),
        ({"density": "0 kg/m^3"}, r"\.density: must be above 0; received 0 kg/m\^3"),
        ({"poisson_ratio": 0.5}, r"a\.toml, material 'PEN film': poisson_ratio must lie between -1 and 0.5, rec.* 0.5"),
        ({"poisson_ratio": "0.3"}, r"\.poisson_ratio: must be a plain number .*received '0.3'"),
        ({"poisson_ratio": True}, r"\.poisson_ratio: must be a plain number"),
        ({"poisson_ratio": float("nan")}, r"\.poisson_ratio: must be a plain number"),
        ({"loss_factor": -0.1}, r"\.loss_factor: .*from 0 up to 10"),
        ({"loss_factor": [0.1, 0.2]}, r"\.loss_factor: .*a frequency for each"),
        ({"loss_factor": {"value": [0.1, 0.2], "frequency": [100, 200]}}, r"\.loss_factor\.frequency: .*bare 100"),
        ({"loss_factor": {"frequency": ["100 Hz"]}}, r"\.loss_factor\.value: 'value' is missing"),
        ({"loss_factor": {"value": 0.1, "kind": "guess"}}, r"\.kind: must be 'paper', 'handbook', .*received 'guess'"),
        ({"loss_factor": {"value": 0.1, "source": " "}}, r"\.loss_factor\.source: must be a text that is not empty"),
        ({"loss_factor": {"value": 0.1, "range": [0.2, 0.3]}}, r"hold the value; received range 0\.2 to 0\.3"),
        ({"loss_factor": {"value": 0.1, "range": [0.3, 0.1]}}, "range must rise from its lowest"),
        ({"loss_factor": {"value": 0.1, "range": 0.1}}, r"\.range: must be a list"),
        ({"loss_factor": {"value": 0.1, "sourc": "x"}}, "unknown key 'sourc'; did you mean 'source'"),
        ({"density": {"value": "1 g/cm^3", "frequency": []}}, "unknown key 'frequency'"),
        (
            {"youngs_modulos": "5 GPa"},
            r"unknown key 'youngs_modulos'; did you mean 'youngs_modulus'\? allowed are dens",
        ),
        ({"based_on": "PENN film"}, "key based_on: unknown material 'PENN film'; did you mean 'PEN film'"),
        ({"based_on": 3}, r"\.based_on: must be a text"),
        ("5 GPa", "must be a table, such as { youngs_modulus = '5 GPa' }; received '5 GPa'"),
    ],
)
def test_bad_tables_are_refused_by_file_material_and_key(table: object, message: str) -> None:
    with pytest.raises(MaterialError, match=message):
        load_materials(overrides={"PEN film": table}, overrides_from="a.toml")  # type: ignore[dict-item]


@pytest.mark.parametrize("missing", QUANTITIES)
def test_a_new_material_needs_all_its_numbers(missing: str) -> None:
    table = {key: value for key, value in tomllib.loads(WHOLE).items() if key != missing}
    with pytest.raises(MaterialError, match=f"material 'lab film': {missing} is missing; .*based_on"):
        load_materials(overrides={"lab film": table})


def test_a_material_needs_a_name() -> None:
    with pytest.raises(MaterialError, match="needs a name"):
        load_materials(overrides={" ": tomllib.loads(WHOLE)})


def test_unreadable_files_are_named(tmp_path: Path) -> None:
    with pytest.raises(MaterialError, match=r"nowhere\.toml: there is no such file"):
        load_materials(tmp_path / "nowhere.toml")
    with pytest.raises(MaterialError, match=r"own\.toml: not a valid TOML file"):
        load_materials(write(tmp_path, "["))


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        ("PEN flim", "PEN film"),
        ("pen film", "PEN film"),
        ("rubber", "nitrile rubber"),
        ("aluminum", "aluminium alloy"),
        ("PEN-Folie", "PEN film"),
        ("titanium_foil", "titanium"),
    ],
)
def test_an_unknown_material_is_answered_with_the_nearest(asked: str, answer: str) -> None:
    message = rf"dome\.toml, key wall: unknown material '{asked}'; did you mean .*'{answer}'"
    with pytest.raises(MaterialError, match=message) as refusal:
        find_material(MATERIALS, asked, where="dome.toml, key wall")
    assert "diaphragm-fem materials" in str(refusal.value)


def test_a_material_far_from_all_is_answered_with_the_way_to_list_them() -> None:
    with pytest.raises(MaterialError, match=r"^unknown material 'xyzzy'; run `diaphragm-fem materials`"):
        find_material(MATERIALS, "xyzzy")


def test_a_packaged_number_without_source_would_be_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from diaphragm_fem.design.library import library

    monkeypatch.setattr(library, "PACKAGED_FILE", write(tmp_path, f'["bare"]\n{WHOLE}'))
    with pytest.raises(MaterialError, match="needs a kind and a source of its own"):
        library._packaged.__wrapped__()


# ---------------------------------------------------------------- evidence


def test_evidence_table_marks_exactly_the_doubtful_numbers() -> None:
    rows = evidence_table(MATERIALS.values())
    assert len(rows) == len(QUANTITIES) * len(MATERIALS)
    for row in rows:
        assert (row.mark == MARK) == (row.kind in ("common practice", "from memory", "assumed"))
    row = next(row for row in rows if (row.material, row.quantity) == ("PEN film", "Young's modulus"))
    assert (row.value, row.range, row.kind, row.mark) == ("5.2 GPa", "5 GPa to 6.25 GPa", "handbook", "")


def test_doubtful_numbers_in_words() -> None:
    assert "PEN film: loss factor 0.015 is assumed (met: 0.01 to 0.03)" in doubtful_numbers(MATERIALS["PEN film"])
    assert doubtful_numbers(MATERIALS["copper wire"]) == []
    table = {"value": [0.01, 0.02], "frequency": ["50 Hz", "2 kHz"]}
    own = load_materials(overrides={"copper wire": {"loss_factor": table}})
    assert doubtful_numbers(own["copper wire"]) == ["copper wire: loss factor 0.01 at 50 Hz, 0.02 at 2 kHz is assumed"]


def test_a_material_made_by_hand_without_evidence_is_marked() -> None:
    made = Material("own", 1000.0, 30e6, 0.3, LossFactor((0.1,)))
    assert doubtful_numbers(made)[1] == "own: Young's modulus 30 MPa is unstated"


def test_schema_offers_what_the_packaged_file_is_made_of() -> None:
    import jsonschema

    schema = json_schema()
    assert set(schema["$defs"]["LossNumber"]["anyOf"][1]["properties"]) == {
        "value",
        "kind",
        "source",
        "range",
        "frequency",
    }
    table = jsonschema.Draft202012Validator({"$defs": schema["$defs"], "$ref": "#/$defs/MaterialSpec"})
    for material in tomllib.loads(PACKAGED_FILE.read_text(encoding="utf-8")).values():
        table.validate(material)
    for wrong in ({"density": 1360}, {"density": ["1 g/cm^3"]}, {"loss_factor": "0.1"}, {"colour": "red"}):
        with pytest.raises(jsonschema.ValidationError):
            table.validate(wrong)
