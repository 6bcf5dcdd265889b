"""Quantities with units: what is read, what is refused."""

import pickle

import pytest

from diaphragm_fem.design.units.units import (
    ANGLE,
    DENSITY,
    EDGE_STIFFNESS,
    EDGE_TURNING_STIFFNESS,
    EVERYDAY,
    FORCE,
    FREQUENCY,
    LENGTH,
    MASS,
    MODULUS,
    factor_from_pint,
    read_quantity,
    show,
    show_below,
)
from diaphragm_fem.errors import DesignError

DIMENSIONS = (LENGTH, ANGLE, MASS, DENSITY, MODULUS, FREQUENCY, FORCE, EDGE_STIFFNESS, EDGE_TURNING_STIFFNESS)


@pytest.mark.parametrize(("text", "dimension", "si"), [
    ("75 um", LENGTH, 75e-6),
    ("75µm", LENGTH, 75e-6),
    ("2.5 in", LENGTH, 0.0635),  # an inch is 25.4 mm by definition (international yard, 1959)
    ("1/8 in", LENGTH, 0.003175),
    ("3 mil", LENGTH, 76.2e-6),
    ("3 thou", LENGTH, 76.2e-6),
    ("-0.3 mm", LENGTH, -0.3e-3),
    ("1e-3 m", LENGTH, 1e-3),
    ("180 deg", ANGLE, 3.141592653589793),
    ("0.5 oz", MASS, 0.0141747615625),  # an avoirdupois ounce is 28.349523125 g by definition
    ("1.36 g/cm3", DENSITY, 1360.0),
    ("5.2 GPa", MODULUS, 5.2e9),
    ("20 kHz", FREQUENCY, 20e3),
    ("2 N/mm/mm", EDGE_STIFFNESS, 2e6),
    ("0.05 N m/rad/m", EDGE_TURNING_STIFFNESS, 0.05),
    ("0.05 N*m/rad/m", EDGE_TURNING_STIFFNESS, 0.05),
    ("1.36 g/cm³", DENSITY, 1360.0),
    ("1.36 g cm^-3", DENSITY, 1360.0),
    ("1.36 g/cm**3", DENSITY, 1360.0),
    (" .5mm ", LENGTH, 0.5e-3),
    ("75 μm", LENGTH, 75e-6),  # the Greek letter; the sign of the keyboard stands above
])  # fmt: skip
def test_reads_si(text, dimension, si):
    assert read_quantity(text, dimension) == pytest.approx(si, rel=1e-14)


@pytest.mark.parametrize(
    ("dimension", "unit"), [(d, unit) for d in DIMENSIONS for unit in EVERYDAY[d.unit] if d.unit in EVERYDAY]
)
def test_everyday_units_are_those_of_pint(dimension, unit):
    assert EVERYDAY[dimension.unit][unit] == pytest.approx(factor_from_pint(unit, dimension), rel=1e-14)


@pytest.mark.parametrize(("given", "message"), [
    (65, r'a length needs a number and its unit in quotes, such as .*"75 um".*; received a bare 65'),
    (True, "received True"),
    ("65", "a length needs its unit.*received '65' without one"),
    ("3 kg", "'kg' is not a unit of length"),
    ("3 furbles", "unknown unit 'furbles'"),
    ("about 3 mm", "received 'about 3 mm': not a number and its unit"),
    ("1/0 in", "divided by zero"),
    ("1e400 mm", "must be 0 or from 1e-08 to 1000 m in size"),
    ("2 * 3 mm", "not a number and its unit"),
    ("3 MM", 'did you mean "mm"'),
    ("0,3 mm", 'decimals are written with a point, "0.3 mm"$'),
    ("0,040 mm", 'decimals are written with a point, "0.040 mm"$'),
    ("1234,500 mm", 'decimals are written with a point, "1234.500 mm"$'),
    ("1,360 mm", '"1.360 mm" or, if the comma parts thousands, "1360 mm"'),
    ("1 200 mm", "without blanks or other marks"),
    ("1_200 mm", "without blanks or other marks"),
    ("−3 mm", 'a minus is written "-"'),
    ("3\u00a0mm", "type a plain blank"),
    ("3 degC", "no unit that a number is multiplied by"),
    ("3 mm\x1b[2J", r"unknown unit 'mm\\x1b\[2J'"),
])  # fmt: skip
def test_refuses(given, message):
    with pytest.raises(DesignError, match=message):
        read_quantity(given, LENGTH)


@pytest.mark.parametrize("text", [
    "30 m**9**9**9", "3 m/0", "3 (((m", "0.3 g^0", f"1/{'4' * 400} mm", f"{'3' * 100_000} mm", "3 " + "m" * 100_000,
    " " * 100_000 + "3 mm" + " " * 100_000 + "x", "3 mm.", "40 um # 40", "3 m%", "3 in.", "3 m^-9", "3 m^22", "3 m//m",
    "3 m*", "3 /m", "٣ mm", "0x10 mm", "inf mm", "nan mm", "3 m m m m m m m", "3 __class__", "3 sys.exit", "3 mm;m",
])  # fmt: skip
def test_only_a_short_grammar_reaches_the_units_library(text, monkeypatch):
    """Each of these hung, ended in a traceback or was taken for something when whole texts were handed on."""
    monkeypatch.setattr("diaphragm_fem.design.units.units._registry", lambda: pytest.fail(f"asked about {text[:40]}"))
    with pytest.raises(DesignError) as refusal:
        read_quantity(text, LENGTH)
    assert len(str(refusal.value)) < 500


@pytest.mark.parametrize(("text", "dimension"), [
    ("100 rad/s", FREQUENCY), ("20 rpm", FREQUENCY), ("3 percent", ANGLE), ("15 mil", ANGLE), ("3 m rad", LENGTH),
])  # fmt: skip
def test_an_angle_is_not_a_plain_one(text, dimension):
    """To the units library a radian is a plain 1, which would make 100 Hz of 100 rad/s."""
    with pytest.raises(DesignError, match=r"not a unit of|no unit that"):
        read_quantity(text, dimension)


def test_answers_in_the_users_unit():
    given = read_quantity("0.25 in", LENGTH)
    assert show(given) == "0.25 in"
    assert show(0.0127, like=given) == "0.5 in"
    assert show(75e-6) == "75 um"
    assert show_below(0.0126999, like=given) == "0.499 in"
    assert show_below(0.99999e-3) == "0.999 mm"


def test_quantity_survives_pickling():
    given = pickle.loads(pickle.dumps(read_quantity("3 mil", LENGTH)))
    assert (float(given), given.text, given.unit) == (3 * 2.54e-5, "3 mil", "mil")
