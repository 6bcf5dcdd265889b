"""A material: what its numbers are and how far each can be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.material.viscoelastic import LOWEST_HZ, LossFactor, Relaxation, Stiffening
from diaphragm_fem.errors import MaterialError

__all__ = ["Evidence", "Kind", "LossFactor", "Material", "Relaxation", "Stiffening"]


class Kind(StrEnum):
    """How a number is known, best first."""

    PAPER = "paper"  # a paper, thesis or article
    HANDBOOK = "handbook"  # a handbook, textbook, standard or data sheet
    MEASURED = "measured"  # by whoever gives it, on the substance itself
    COMMON_PRACTICE = "common practice"  # what the trade uses, without a source
    FROM_MEMORY = "from memory"  # believed to be published, not looked up
    ASSUMED = "assumed"  # chosen to be plausible


@dataclass(frozen=True)
class Evidence:
    """Where one number comes from: its kind, its source in words, and the range met in practice where known (SI).

    before: the range of the known material that was changed into this one; where none is known its value, as both ends.
    """

    kind: Kind
    source: str
    range: tuple[float, float] | None = None
    before: tuple[float, float] | None = field(default=None, compare=False)

    @property
    def doubtful(self) -> bool:
        """True where nothing published or measured stands behind the number: shown wherever the number is used."""
        return self.kind in (Kind.COMMON_PRACTICE, Kind.FROM_MEMORY, Kind.ASSUMED)


STEEPEST = 2.0  # power of frequency: modes at moduli of their own are counted for what rises with less


@dataclass(frozen=True)
class Material:
    """Isotropic material in SI units.

    density kg/m3; youngs_modulus Pa, the storage modulus matrices are assembled with (constant, at the first frequency
    of `stiffening`, or at rest of a relaxation); poisson_ratio -, the same at every frequency; loss_factor of
    E (1 + i eta) over frequency; stiffening: how the modulus rises with it, None where it does not or where the loss is
    a Relaxation, which says both. `evidence` maps the name of each of these numbers to its source; `caution` is what
    a person handling the substance must know, `note` what the numbers stand for (grade, direction, form).
    Two materials are the same when all their numbers are, not when their names are.
    """

    name: str
    density: float
    youngs_modulus: float
    poisson_ratio: float
    loss_factor: LossFactor | Relaxation
    evidence: Mapping[str, Evidence] = field(default_factory=dict, compare=False)
    caution: str = ""
    note: str = ""
    stiffening: Stiffening | None = None

    def __hash__(self) -> int:
        """By three of its numbers: by all of them it takes 1 us, 160 times a design."""
        return hash((self.youngs_modulus, self.density, self.poisson_ratio))

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
        if self.stiffening is not None and isinstance(self.loss_factor, Relaxation):
            raise MaterialError(
                f"material '{self.name}': a relaxation says how the modulus rises; give youngs_modulus at rest, "
                "without a frequency"
            )
        if self.stiffening is not None and isinstance(self.loss_factor, LossFactor):
            power, at_hz = _steepest(self.loss_factor, self.stiffening)
            if power >= STEEPEST:
                raise MaterialError(
                    f"material '{self.name}': the storage modulus must rise by less than the square of frequency, or "
                    f"modes could not be counted; from {at_hz:.4g} Hz on it rises with the power {power:.3g}: give "
                    "modulus or loss at more frequencies there, or mend one"
                )

    @property
    def constant(self) -> bool:
        """Whether modulus and loss are the same at every frequency."""
        if not self.loss_factor.constant:
            return False
        return self.stiffening is None or (self.stiffening.follows_loss and not self.loss(1.0).any())

    @property
    def bends_hz(self) -> tuple[float, ...]:
        """Frequencies in Hz at which its modulus may bend: those of its tables, and that below which it is held."""
        if isinstance(self.loss_factor, Relaxation):
            return ()
        return LOWEST_HZ, *_table_hz(self.loss_factor, self.stiffening)

    def loss(self, frequency_hz: ArrayLike) -> Array:
        """Loss factor eta(f) at frequencies in Hz, same shape."""
        return self.loss_factor(frequency_hz)

    def storage_ratio(self, frequency_hz: ArrayLike) -> Array:
        """E'(f)/youngs_modulus at frequencies in Hz, same shape."""
        return self.modulus_factor(frequency_hz).real

    def modulus_factor(self, frequency_hz: ArrayLike) -> Complex:
        """E*(f)/youngs_modulus = storage_ratio (1 + i loss) at frequencies in Hz, same shape.

        >>> rubber = Material("rubber", 1100.0, 4e6, 0.49, LossFactor((0.2,)), stiffening=Stiffening((100.0,)))
        >>> rubber.modulus_factor([100.0, 10e3]).round(3)
        array([1.   +0.2j  , 1.784+0.357j])
        """
        return _factor(self.loss_factor, self.stiffening, frequency_hz)

    def known_at(self, frequency_hz: float) -> Material:
        """The same material, told by its storage modulus at another frequency in Hz; as it is where it is told so
        already, or its modulus is constant, a table or a relaxation."""
        told = Stiffening((frequency_hz,))
        if self.stiffening is None or not self.stiffening.follows_loss or self.stiffening == told or self.constant:
            return self
        modulus = self.youngs_modulus * float(self.storage_ratio(frequency_hz))
        return replace(self, youngs_modulus=modulus, stiffening=told)


def _factor(loss: LossFactor | Relaxation, stiffening: Stiffening | None, frequency_hz: ArrayLike) -> Complex:
    if isinstance(loss, Relaxation):
        return loss.factor(frequency_hz)
    if stiffening is None:
        return np.asarray(1 + 1j * loss(frequency_hz))
    if stiffening.follows_loss:
        return loss.factor(frequency_hz, stiffening.frequency_hz[0])
    return np.asarray(stiffening.ratio_at(frequency_hz) * (1 + 1j * loss(frequency_hz)))


def _table_hz(loss: LossFactor, stiffening: Stiffening | None) -> tuple[float, ...]:
    return tuple(sorted({*loss.frequency_hz, *(stiffening.frequency_hz if stiffening else ())}))


@lru_cache(maxsize=256)
def _steepest(loss: LossFactor, stiffening: Stiffening) -> tuple[float, float]:
    """The highest power of frequency with which a storage modulus rises, and where in Hz, told from sixteenths of the
    way from each frequency of its tables to the next."""
    knots = np.log(_table_hz(loss, stiffening))
    place = np.interp(np.arange(16 * len(knots) - 15) / 16, np.arange(len(knots)), knots)
    rise = np.diff(np.log(_factor(loss, stiffening, np.exp(place)).real)) / np.diff(place)
    return max(zip(rise.tolist(), np.exp(place[:-1]).tolist(), strict=True), default=(0.0, 1.0))
