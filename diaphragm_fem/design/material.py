"""A material: what its numbers are and how far each can be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from diaphragm_fem.errors import MaterialError


class Kind(StrEnum):
    """How a number is known, best first."""

    PAPER = "paper"  # a paper, thesis or article
    HANDBOOK = "handbook"  # a handbook, textbook, standard or data sheet
    COMMON_PRACTICE = "common practice"  # what the trade uses, without a source
    FROM_MEMORY = "from memory"  # believed to be published, not looked up
    ASSUMED = "assumed"  # chosen to be plausible


@dataclass(frozen=True)
class Evidence:
    """Where one number comes from: its kind, its source in words, and the range met in practice where known (SI)."""

    kind: Kind
    source: str
    range: tuple[float, float] | None = None

    @property
    def doubtful(self) -> bool:
        """True where nothing published stands behind the number: shown wherever the number is used."""
        return self.kind in (Kind.COMMON_PRACTICE, Kind.FROM_MEMORY, Kind.ASSUMED)


@dataclass(frozen=True)
class LossFactor:
    """Loss factor eta of the complex modulus E (1 + i eta): one number, or a table over frequency in Hz.

    A table is read by linear interpolation over the logarithm of frequency and held constant beyond its ends.
    """

    values: tuple[float, ...]
    frequency_hz: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not self.values or (self.frequency_hz and len(self.frequency_hz) != len(self.values)):
            raise MaterialError("a loss factor needs one value, or as many frequencies as values")
        if len(self.values) > 1 and not self.frequency_hz:
            raise MaterialError("a loss factor of several values needs a frequency for each")
        if any(not 0 <= value < 10 for value in self.values):
            raise MaterialError(f"a loss factor must lie from 0 up to 10, received {self.values}")
        if np.any(np.asarray(self.frequency_hz) <= 0) or np.any(np.diff(self.frequency_hz) <= 0):
            raise MaterialError(
                f"the frequencies of a loss factor must be positive and rise, received {self.frequency_hz}"
            )

    @property
    def constant(self) -> bool:
        return len(set(self.values)) == 1

    def __call__(self, frequency_hz: ArrayLike) -> NDArray[np.float64]:
        frequency = np.asarray(frequency_hz, float)
        if self.constant:
            return np.full(frequency.shape, self.values[0])
        return np.interp(np.log(np.maximum(frequency, 1e-9)), self._log_frequency, self.values)

    @cached_property
    def _log_frequency(self) -> NDArray[np.float64]:
        return np.log(self.frequency_hz)


@dataclass(frozen=True)
class Material:
    """Isotropic material in SI units.

    density kg/m3, youngs_modulus Pa, poisson_ratio -, loss_factor of E (1 + i eta); `evidence` maps the name of each
    of these numbers to its source; `caution` is what a person handling the substance must know, `note` what the
    numbers stand for (grade, direction, form).
    """

    name: str
    density: float
    youngs_modulus: float
    poisson_ratio: float
    loss_factor: LossFactor
    evidence: Mapping[str, Evidence] = field(default_factory=dict, compare=False)
    caution: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if not self.density > 0:
            raise MaterialError(f"material '{self.name}': density must be above 0 kg/m^3, received {self.density:g}")
        if not self.youngs_modulus > 0:
            raise MaterialError(
                f"material '{self.name}': youngs_modulus must be above 0 Pa, received {self.youngs_modulus:g}"
            )
        if not -1 < self.poisson_ratio < 0.5:
            raise MaterialError(
                f"material '{self.name}': poisson_ratio must lie between -1 and 0.5, received {self.poisson_ratio:g}; "
                "for a nearly incompressible rubber give 0.49"
            )
