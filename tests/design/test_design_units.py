"""Quantities with units: what is read, what is refused."""

import pickle

import pytest

from diaphragm_fem.design.units import (
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
    ("about 3 mm", "needs a number and its unit.*received 'about 3 mm'"),
    ("1/0 in", "divided by zero"),
    ("1e400 mm", "must be a finite number"),
    ("2 * 3 mm", "unknown unit"),
])  # fmt: skip
def test_refuses(given, message):
    with pytest.raises(DesignError, match=message):
        read_quantity(given, LENGTH)


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
