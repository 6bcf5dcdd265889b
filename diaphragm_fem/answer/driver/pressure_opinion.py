"""A pressure over frequency by two models of the air and how far they are apart; free air again on finer elements."""

from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.answer.driver.curve import driver_curve
from diaphragm_fem.answer.driver.loaded import Loaded, loaded
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.load.open_side import finer

NULL = 0.1  # of the median pressure: below it lies a null


@dataclass(frozen=True)
class PressureOpinion:
    """Pressure (F,) at one place as it is usually reckoned and by the second way, which took that many unknowns.

    differences_db (F,): 20 log(1 + |p1 - p2|/|p2|), so that phase counts too. A null is measured against a tenth of
    the median pressure, because one that moves by a little is 20 dB away from where it was.
    """

    frequency_hz: Array
    usual: Complex
    second: Complex
    unknowns: int

    @property
    def differences_db(self) -> Array:
        size = np.abs(self.second)
        size = np.maximum(size, NULL * np.median(size))
        return np.asarray(20 * np.log10(1 + np.abs(self.usual - self.second) / size))

    @property
    def difference_db(self) -> float:
        return float(self.differences_db.max())

    @property
    def worst_hz(self) -> float:
        return float(self.frequency_hz[np.argmax(self.differences_db)])


FREQUENCIES = 60
MOST = 30_000  # unknowns of the finer elements
FROM_HZ = 200.0


def ask_air_opinion(found: Loaded) -> PressureOpinion | None:
    """Compare the level on the axis at sixty frequencies up to the top; None where no side is open, and for faces of
    many wavelengths, whose finer elements would be more than 30,000 unknowns."""
    if not found.around.open_sides or 2.25 * found.around.open_sides[0].before.modes.unknowns > MOST:
        return None
    f = np.geomspace(min(FROM_HZ, found.solution.up_to_hz / 4), found.solution.up_to_hz, FREQUENCIES)
    sides = tuple(finer(side, found.face, found.solution.up_to_hz) for side in found.around.open_sides)
    again = loaded(found.design, found.vacuum, replace(found.around, open_sides=sides))
    usual, fine = (driver_curve(one, f, power=False).radiated[0].axis for one in (found, again))
    return PressureOpinion(f, usual, fine, sides[0].before.modes.unknowns)
