"""Complex modulus over frequency: closed forms, causality, smoothness, and the reading of each law."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from diaphragm_fem.answer.trust.cautions import design_cautions
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.library.evidence import evidence_table, show_frequency
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.material.material import LossFactor, Material, Relaxation, Stiffening
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.design.read.read import changed
from diaphragm_fem.design.spec.schema import json_schema
from diaphragm_fem.errors import MaterialError

MATERIALS = load_materials()
METAL_DOME = Path(__file__).parents[2] / "studies" / "metal_dome.toml"
BAND = np.geomspace(20, 20e3, 400)
TABLE = LossFactor((0.13, 0.36), (35.0, 4500.0))
FIVE = LossFactor((0.1, 0.2, 0.5, 0.4, 0.1), (50.0, 200.0, 1e3, 5e3, 15e3))


def made(loss: Any, stiffening: Stiffening | None = None) -> Material:
    return Material("made", 1100.0, 4e6, 0.49, loss, stiffening=stiffening)


def own(**table: Any) -> Material:
    return load_materials(overrides={"my film": table}, overrides_from="a.toml")["my film"]


# ---------------------------------------------------------------- laws


@pytest.mark.parametrize("eta", [0.02, 0.3, 1.2])
def test_a_constant_loss_that_the_modulus_follows_is_the_spring_pot(eta: float) -> None:
    """E0 (i f/f0)^alpha with eta = tan(pi alpha/2), E'(f0) = youngs_modulus."""
    alpha = 2 / np.pi * np.arctan(eta)
    exact = (1j * BAND / 100) ** alpha / np.cos(np.pi * alpha / 2)
    np.testing.assert_allclose(made(LossFactor((eta,)), Stiffening((100.0,))).modulus_factor(BAND), exact, rtol=1e-12)


def test_relaxation_has_the_limits_and_the_peak_of_the_fractional_zener_law() -> None:
    law = Relaxation(rise=40.0, frequency_hz=3e3, exponent=0.6)
    rubber = made(law)
    assert rubber.modulus_factor(0.0) == 1
    assert rubber.modulus_factor(1e14) == pytest.approx(40, rel=1e-5)  # (f/f1)^-alpha is left
    peak = 3e3 * 40 ** (-1 / 1.2)
    sine, cosine = np.sin(0.3 * np.pi), np.cos(0.3 * np.pi)
    assert rubber.loss(peak) == pytest.approx(39 * sine / (2 * np.sqrt(40) + 41 * cosine), rel=1e-12)
    assert np.all(rubber.loss(peak * np.array((0.9, 1.1))) < rubber.loss(peak))


def test_relaxation_of_exponent_one_is_the_standard_linear_solid() -> None:
    """E_0 + (E_inf - E_0) (omega tau)^2/(1 + (omega tau)^2) in its real part."""
    x = (BAND / 2e3) ** 2
    np.testing.assert_allclose(made(Relaxation(10.0, 2e3, 1.0)).storage_ratio(BAND), 1 + 9 * x / (1 + x), rtol=1e-12)


@pytest.mark.parametrize(
    ("rise", "place", "exponent"), [(20, 1e6, 0.5), (100, 1e6, 0.5), (50, 3e4, 0.4), (10, 1e4, 0.7)]
)
def test_a_modulus_that_follows_its_loss_is_near_an_exact_law_of_the_same_loss(rise, place, exponent) -> None:
    """Causality, local form, on tables sampled from relaxations: 0.5 to 11 % where it rises 3 to 8 times."""
    exact = made(Relaxation(rise, place, exponent))
    steps = np.geomspace(20, 20e3, 10)
    follower = made(LossFactor(tuple(exact.loss(steps)), tuple(steps)), Stiffening((20.0,)))
    rose = exact.storage_ratio(20e3) / exact.storage_ratio(20.0)
    assert rose > 2.5
    assert follower.storage_ratio(20e3) == pytest.approx(rose, rel=0.12)
    np.testing.assert_allclose(follower.loss(BAND), exact.loss(BAND), rtol=0.02)


@pytest.mark.parametrize("loss", [LossFactor((0.2,)), TABLE, FIVE], ids=["number", "two", "five"])
def test_slope_of_a_modulus_that_follows_is_that_of_causality(loss: LossFactor) -> None:
    """d ln|E*|/d ln f = 2 delta/pi by central differences; their own error is 1e-6."""
    material = made(loss, Stiffening((100.0,)))
    step = 1e-4
    low, high = (np.log(np.abs(material.modulus_factor(BAND * np.exp(sign * step)))) for sign in (-1, 1))
    np.testing.assert_allclose((high - low) / (2 * step), 2 / np.pi * np.arctan(material.loss(BAND)), rtol=2e-5)
    assert material.storage_ratio(100.0) == pytest.approx(1, rel=1e-12)


def test_a_table_gives_its_values_is_held_beyond_its_ends_and_is_smooth() -> None:
    """Slopes over ln f do not jump at the table's own steps: pchip, once continuously differentiable."""
    material = made(FIVE, Stiffening((50.0, 400.0, 3e3, 12e3), (1.0, 1.5, 2.6, 2.8)))
    steps = np.array(material.stiffening.frequency_hz)
    np.testing.assert_allclose(material.storage_ratio(steps), material.stiffening.ratio, rtol=1e-12)
    np.testing.assert_allclose(material.loss(FIVE.frequency_hz), FIVE.values, rtol=1e-12)
    np.testing.assert_allclose(material.storage_ratio([0.0, 1.0, 20e3]), [1.0, 1.0, 2.8], rtol=1e-12)
    tiny = 1e-6
    for inner in (*steps[1:-1], *FIVE.frequency_hz[1:-1]):
        three = material.modulus_factor(inner * np.exp(tiny * np.array((-1, 0, 1))))
        assert abs(three[2] - 2 * three[1] + three[0]) < 1e-4 * tiny * abs(three[1])


def test_a_modulus_that_follows_its_loss_is_held_below_one_hertz() -> None:
    material = made(LossFactor((0.3,)), Stiffening((100.0,)))
    assert material.modulus_factor(0.0) == material.modulus_factor(1.0)
    assert np.all(np.isfinite(made(FIVE, Stiffening((100.0,))).modulus_factor([0.0, 1e9])))


def test_modulus_factor_is_ratio_and_loss_and_keeps_the_shape() -> None:
    grid = BAND.reshape(20, 20)
    for material in MATERIALS.values():
        factor = material.modulus_factor(grid)
        np.testing.assert_allclose(factor, material.storage_ratio(grid) * (1 + 1j * material.loss(grid)), rtol=1e-14)
        assert factor.shape == grid.shape and np.array_equal(material.loss(grid), material.loss_factor(grid))


def test_constant_materials_are_known() -> None:
    assert made(LossFactor((0.1,))).constant and made(LossFactor((0.0,)), Stiffening((100.0,))).constant
    assert not made(LossFactor((0.1,)), Stiffening((100.0,))).constant
    assert not made(TABLE).constant and not made(Relaxation(2.0, 1e3, 0.5)).constant
    assert not made(LossFactor((0.1,)), Stiffening((100.0, 1e3), (1.0, 1.2))).constant
    assert MATERIALS["PEN film"].constant and not MATERIALS["butyl rubber"].constant


def test_a_material_is_its_numbers_not_its_name() -> None:
    """Equal numbers are one material, a law more makes another: designs and meshes are keyed by them."""
    soft, twin, other = made(TABLE), made(TABLE), made(TABLE, Stiffening((35.0,)))
    assert soft == twin and hash(soft) == hash(twin) and soft != other
    walls = [plain_wall(material, 1e-4) for material in (soft, twin, other)]
    pieces = [Piece(Line((k * 1e-3, 0.0), ((k + 1) * 1e-3, 0.0)), Zone("wall"), wall) for k, wall in enumerate(walls)]
    assert Design("two of one name", tuple(pieces), None, CLAMPED).materials == (soft, other)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Relaxation(1.0, 1e3, 0.5), "rise of a relaxation must lie above 1, at most 1e5, received 1"),
        (lambda: Relaxation(2e5, 1e3, 0.5), "rise of a relaxation must lie above 1"),
        (lambda: Relaxation(2.0, 0.0, 0.5), "frequency of a relaxation must be above 0 Hz"),
        (lambda: Relaxation(2.0, 1e3, 1.5), "exponent of a relaxation must lie above 0, at most 1, received 1.5"),
        (lambda: Stiffening((100.0,), (1.0, 2.0)), "as many frequencies as values"),
        (lambda: Stiffening((), ()), "as many frequencies as values"),
        (lambda: Stiffening((100.0, 50.0), (1.0, 2.0)), "frequencies of a modulus over frequency must be above 0 Hz"),
        (lambda: Stiffening((100.0, 500.0), (1.0, -2.0)), "values of a modulus over frequency must be above zero"),
        (lambda: made(Relaxation(2.0, 1e3, 0.5), Stiffening((100.0,))), "'made': a relaxation says how the modulus"),
        (lambda: made(LossFactor((0.1,)), Stiffening((100.0, 110.0), (1.0, 1.25))), "by less than the square of"),
        (
            lambda: made(LossFactor((5.0, 0.1), (1e3, 2e3)), Stiffening((1e2,))),
            "from 1000 Hz on it rises with the power 8",
        ),
    ],
)
def test_impossible_laws_are_refused(make: Any, message: str) -> None:
    with pytest.raises(MaterialError, match=message):
        make()


# ---------------------------------------------------------------- reading


def test_a_number_set_in_place_of_one_known_at_a_frequency_is_known_there() -> None:
    """`--set` and `--try` of a modulus of 1 kHz made one of 100 Hz of it; a table goes, over one number or many."""
    known: dict[str, Any] = {"value": "16 MPa", "frequency": "1 kHz", "kind": "measured", "source": "my bench"}
    several = {"value": ["4 MPa", "7 MPa"], "frequency": ["100 Hz", "1 kHz"]}
    data: dict[str, Any] = {"one": known, "many": several, "plain": "2 MPa"}
    put = changed(data, {"one": "18 MPa", "many": "5 MPa", "plain": known})
    assert put == {"one": {"value": "18 MPa", "frequency": "1 kHz"}, "many": "5 MPa", "plain": known}
    assert changed(data, {"one": several})["one"] == several and data["one"] is known


def test_a_modulus_known_at_one_frequency_follows_its_loss() -> None:
    film = own(based_on="PEN film", loss_factor=0.2, youngs_modulus={"value": "2 GPa", "frequency": "1 kHz"})
    assert (film.youngs_modulus, film.stiffening) == (pytest.approx(2e9), Stiffening((1e3,)))


def test_a_table_of_modulus_and_loss() -> None:
    steps = ["100 Hz", "1 kHz", "10 kHz"]
    film = own(
        based_on="PEN film",
        youngs_modulus={"value": ["2 GPa", "2.4 GPa", "3 GPa"], "frequency": steps},
        loss_factor={"value": [0.1, 0.12, 0.15], "frequency": steps},
    )
    assert film.youngs_modulus == pytest.approx(2e9)
    np.testing.assert_allclose(
        film.modulus_factor([100.0, 1e3, 1e4]), [1 + 0.1j, 1.2 + 0.144j, 1.5 + 0.225j], rtol=1e-12
    )


def test_a_relaxation_takes_the_place_of_the_loss() -> None:
    table = {"rise": 30, "frequency": "20 kHz", "exponent": 0.5, "kind": "paper", "source": "own measurement"}
    film = own(based_on="PEN film", relaxation=table)
    assert film.loss_factor == Relaxation(30.0, 20e3, 0.5)
    assert film.evidence["loss_factor"].source == "own measurement" and not film.evidence["loss_factor"].doubtful


def test_a_bare_number_keeps_the_law_of_the_material_it_changes() -> None:
    soft = load_materials(overrides={"nitrile rubber": {"youngs_modulus": "8 MPa"}})["nitrile rubber"]
    assert soft.youngs_modulus == pytest.approx(8e6)
    assert soft.stiffening == MATERIALS["nitrile rubber"].stiffening
    less = load_materials(overrides={"nitrile rubber": {"loss_factor": 0.05}})["nitrile rubber"]
    assert less.storage_ratio(10e3) == pytest.approx(100 ** (2 / np.pi * np.arctan(0.05)), rel=1e-12)


def test_an_empty_list_of_frequencies_makes_the_modulus_constant() -> None:
    table = {"youngs_modulus": {"value": "8 MPa", "frequency": []}}
    assert load_materials(overrides={"nitrile rubber": table})["nitrile rubber"].stiffening is None


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({"youngs_modulus": ["1 GPa", "2 GPa"]}, r"a\.toml: .*\.youngs_modulus: .*as many frequencies as values"),
        ({"youngs_modulus": {"value": ["1 GPa"], "frequency": ["1 Hz", "2 Hz"]}}, "as many frequencies as values"),
        ({"youngs_modulus": {"value": ["1 GPa", "2 GPa"], "frequency": "1 kHz"}}, "as many frequencies as values"),
        ({"youngs_modulus": {"value": "1 GPa", "frequency": 100}}, r"youngs_modulus\.frequency: .*bare 100"),
        ({"youngs_modulus": {"value": "1 GPa", "frequency": "1 mm"}}, r"youngs_modulus\.frequency: .*'mm'"),
        ({"youngs_modulus": {"value": [], "frequency": []}}, "as many frequencies as values"),
        ({"relaxation": {"rise": 3}}, r"\.relaxation\.frequency: 'frequency' is missing; it says: Where the modulus"),
        ({"relaxation": 3}, "must be a table with rise, frequency, exponent"),
        ({"relaxation": {"rise": "3", "frequency": "1 kHz", "exponent": 1}}, r"relaxation\.rise: must be a plain"),
        ({"relaxation": {"rise": 3, "frequency": 1000, "exponent": 0.5}}, r"relaxation\.frequency: .*bare 1000"),
        ({"relaxation": {"rise": 0.5, "frequency": "1 kHz", "exponent": 1}}, r"\.relaxation: the rise of"),
        ({"relaxation": {"rise": 3, "frequency": "1 kHz", "exponent": 0.5, "tau": 1}}, "unknown key 'tau'"),
        (
            {"relaxation": {"rise": 3, "frequency": "1 kHz", "exponent": 0.5}, "loss_factor": 0.1},
            r"\.loss_factor: a relaxation says what the loss is",
        ),
        (
            {"based_on": "butyl rubber", "relaxation": {"rise": 3, "frequency": "1 kHz", "exponent": 0.5}},
            "give youngs_modulus at rest, without a frequency",
        ),
    ],
)  # fmt: skip
def test_bad_laws_are_refused_by_file_material_and_key(table: dict, message: str) -> None:
    with pytest.raises(MaterialError, match=message):
        own(**{"based_on": "PEN film", **table})


def test_every_law_can_be_read_off_the_list_of_materials() -> None:
    known = {
        **MATERIALS,
        "relaxing": own(based_on="PEN film", relaxation={"rise": 30, "frequency": "20 kHz", "exponent": 0.5}),
    }
    rows = {(row.material, row.quantity): row.value for row in evidence_table(known.values())}
    assert rows["thermoplastic elastomer", "Young's modulus"] == (
        "30 MPa at 35 Hz; by its loss 33 MPa at 100 Hz, 44.9 MPa at 1 kHz, 70.7 MPa at 10 kHz"
    )
    assert rows["my film", "Young's modulus"] == "5.2 GPa at rest"
    assert rows["my film", "loss factor"].endswith("(relaxation, modulus x 30 about 20 kHz, exponent 0.5)")


def test_schema_knows_the_laws() -> None:
    import jsonschema

    steps = ["100 Hz", "1 kHz"]
    tables = [
        {"youngs_modulus": {"value": "1 GPa", "frequency": "100 Hz"}},
        {"youngs_modulus": {"value": ["1 GPa", "2 GPa"], "frequency": steps}},
        {"relaxation": {"rise": 3, "frequency": "1 kHz", "exponent": 0.5}},
    ]
    material = jsonschema.Draft202012Validator({"$defs": json_schema()["$defs"], "$ref": "#/$defs/MaterialSpec"})
    for table in tables:
        material.validate(table)
    with pytest.raises(jsonschema.ValidationError):
        material.validate({"relaxation": {"rise": 3}})


# ---------------------------------------------------------------- what is shipped, and what is told


def test_shipped_soft_materials_have_modulus_and_loss_that_belong_together_and_say_what_is_assumed() -> None:
    for name in ("thermoplastic elastomer", "nitrile rubber", "butyl rubber", "polyurethane foam", "treated silk"):
        evidence = MATERIALS[name].evidence["youngs_modulus"]
        assert (
            MATERIALS[name].stiffening.follows_loss and evidence.kind == "assumed" and "is assumed" in evidence.source
        )


def told(material: Material) -> list[str]:
    design = Design(
        "disc", (Piece(Line((0.0, 0.0), (0.02, 0.0)), Zone("wall"), plain_wall(material, 1e-4)),), None, CLAMPED
    )
    return [text for text in design_cautions(design, 20e3) if "its loss asks" in text]


def test_a_loss_table_without_a_rise_of_the_modulus_is_told_with_its_size() -> None:
    (text,) = told(made(TABLE))
    assert "made: over 35 Hz to 4.5 kHz its loss asks for a modulus that rises by a factor 1.98" in text
    assert "stays as it is: resonances it carries may be off by up to 41 %" in text


def test_the_rise_of_a_measured_table_is_held_against_its_loss() -> None:
    (text,) = told(made(TABLE, Stiffening((100.0, 3e3), (1.0, 1.1))))
    assert "over 100 Hz to 3 kHz" in text and "the one given rises by a factor 1.1:" in text
    (text,) = told(made(TABLE, Stiffening((100.0, 3e3), (1.0, 0.8))))
    assert "the one given falls by a factor 1.25:" in text
    assert not told(made(TABLE, Stiffening((100.0, 3e3), (1.0, 1.6))))


@pytest.mark.parametrize("material", MATERIALS.values(), ids=str)
def test_no_shipped_material_leaves_its_loss_unmatched(material: Material) -> None:
    assert told(material) == []


def test_no_splines_are_imported_for_a_material_with_a_table() -> None:
    """In a process of its own, with what a command and a solver start with; nitrile rubber has a table of its loss."""
    program = f"""
import sys
import diaphragm_fem.cli, diaphragm_fem.study.run.solver_process
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.read.read import load_design
quick(load_design({str(METAL_DOME)!r}, {{"profile.surround.material": "nitrile rubber"}}))
print([name for name in ("scipy.interpolate", "scipy.optimize", "pint", "dask") if name in sys.modules])
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


@pytest.mark.parametrize("material", MATERIALS.values(), ids=str)
def test_a_material_told_at_another_frequency_is_the_same(material: Material) -> None:
    """Its modulus over frequency, to rounding; where it follows its loss the reference is that at the frequency."""
    other, f = material.known_at(2e3), np.array([0.5, 20.0, 1e3, 2e3, 2e4])
    there, here = (x.youngs_modulus * x.modulus_factor(f) for x in (other, material))
    np.testing.assert_allclose(there, here, rtol=1e-12)
    follows = material.stiffening is not None and material.stiffening.follows_loss and not material.constant
    assert (other is material) != follows
    assert not follows or other.youngs_modulus == pytest.approx(here[3].real, rel=1e-12)
    assert other.known_at(2e3) is other  # else four of five are another material by rounding, with a law of its own


def test_a_computed_frequency_keeps_its_three_digits():
    told = [show_frequency(hz, computed=True) for hz in (2.9e3, 12.12e3, 364.0, 999.7, 84.0)]
    assert told == ["2.90 kHz", "12.1 kHz", "364 Hz", "1.00 kHz", "84.0 Hz"]
    assert [show_frequency(hz) for hz in (4.5e3, 100.0)] == ["4.5 kHz", "100 Hz"]
