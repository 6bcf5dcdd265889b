"""A pressure over frequency, calculated with two models of the air, and how far the two are apart."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Complex

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
