"""Laws of materials as they are read from a table, against the same laws evaluated as they stand."""

import numpy as np
import pytest

from diaphragm_fem.analysis.modes.own_modulus import eigenpairs_at_own_modulus
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.material.material import LossFactor, Material, Stiffening
from diaphragm_fem.model.law import Elastic
from diaphragm_fem.model.structure import MASS, Structure, Term

ABRUPT = Material(
    "a table that ends steeply", 1000.0, 1e9, 0.4, LossFactor((0.01, 0.3), (1e3, 2e4)), stiffening=Stiffening((1e3,))
)
VARYING = [material for material in load_materials().values() if not material.constant]


@pytest.mark.parametrize("material", [*VARYING, ABRUPT], ids=lambda material: material.name)
def test_a_law_is_read_as_it_stands_where_its_tables_end_too(material: Material) -> None:
    """Measured: 5.5e-7 at worst; 1e-4 here and 2e-4 in the library while no place stood where laws bend."""
    ends = np.array(material.bends_hz)[:, None] * np.linspace(0.995, 1.005, 101)
    frequency_hz = np.sort(np.concatenate((np.geomspace(0.2, 1e5, 20_001), ends.ravel())))
    read, exact = Elastic(material)(frequency_hz), material.modulus_factor(frequency_hz)
    np.testing.assert_allclose(read, exact, rtol=1e-6)
    beyond = np.array([1e3, 1e6])  # the table ends at 200 kHz
    np.testing.assert_allclose(Elastic(material)(beyond), material.modulus_factor(beyond), rtol=1e-6)


@pytest.mark.parametrize(
    "known_hz, ratio, at_hz, stiffer",
    [
        ((2e3, 2.5e3, 2.9e3), (1.0, 1.15, 1.0), 2.5e3, 1.15),  # asked at 1 and at 3.16 kHz alone it stays what it is
        ((2e3, 2.001e3, 2.002e3), (1.0, 1.0005, 1.0), 2.001e3, 1.0005),
        ((0.2, 0.8), (1.0, 1.25), 400.0, 1.25),  # and from 1 Hz on it does
    ],
)
def test_a_mode_has_the_modulus_of_its_frequency_wherever_that_changes(known_hz, ratio, at_hz, stiffer) -> None:
    """Closed form of one mass on one spring, which has its table's modulus at its own frequency: 2 pi f = sqrt(k/m)."""
    rubber = Material("rubber", 1000.0, 1e6, 0.4, LossFactor((0.0,)), stiffening=Stiffening(known_hz, ratio))
    spring = Term(np.array([[(2 * np.pi * at_hz) ** 2 / stiffer]]), Elastic(rubber))
    mass, one = Term(np.ones((1, 1)), derivatives=MASS), np.ones(1)
    structure = Structure(0, (spring, mass), (), one, one, np.zeros((0, 1)), np.zeros(0))
    found = np.sqrt(eigenpairs_at_own_modulus(structure, 20e3).squares) / (2 * np.pi)
    np.testing.assert_allclose(found, [at_hz], rtol=1e-7)
