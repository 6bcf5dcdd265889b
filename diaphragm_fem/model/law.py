"""What multiplies a term over frequency: constants, and the complex modulus of a material."""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Protocol

import numpy as np

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.material.material import Material


class Law(Protocol):
    """A number over frequency: frequencies (F,) in Hz to factors (F,), complex; equal laws must compare equal.

    constant: whether it is the same at every frequency; stiffens: whether its real part is anything else than 1.
    """

    @property
    def constant(self) -> bool: ...

    @property
    def stiffens(self) -> bool: ...

    def __hash__(self) -> int: ...

    def __call__(self, frequency_hz: Array) -> Complex: ...


@dataclass(frozen=True)
class Constant:
    """The same factor at every frequency: 1 for a mass, 1 + i eta for a spring with a loss factor of its own."""

    value: complex = 1.0
    constant = True

    @property
    def stiffens(self) -> bool:
        return complex(self.value).real != 1

    def __call__(self, frequency_hz: Array) -> Complex:
        return np.full(np.shape(frequency_hz), complex(self.value))


@dataclass(frozen=True)
class Elastic:
    """E*(f)/E of a material, E the reference modulus with which its matrices were made.

    Read from a table of steps of at most 0.4 % in frequency, with a place wherever the law bends: 8 instead of 45 us a
    call, a hundred calls a curve. Off by less than 1e-6 for the library's; of random tables of 1e-4 to 0.5 by 3e-6 in
    the median, at worst 2e-4, where a loss grows a hundredfold within a quarter of an octave.
    """

    material: Material

    def __call__(self, frequency_hz: Array) -> Complex:
        frequency = np.asarray(frequency_hz, float)
        places, factors = self._table
        if self.constant:
            return np.full(frequency.shape, factors[0])
        place = np.log(np.maximum(frequency, LOWEST_HZ))
        if place.max(initial=0.0) > _STEPS[-1]:
            return self.material.modulus_factor(frequency)
        return np.asarray(np.interp(place, places, factors))

    @cached_property
    def constant(self) -> bool:
        return self.material.constant

    @cached_property
    def stiffens(self) -> bool:
        """Asked of the whole table: of a few frequencies a modulus that rises between two of them would not."""
        return bool((self._table[1].real != 1).any())

    @cached_property
    def _table(self) -> tuple[Array, Complex]:
        return _modulus_table(self.material)


@lru_cache(maxsize=1024)
def storage_at(law: Law, frequency_hz: float) -> float:
    """The real part at a frequency in Hz: kept, for designs are asked at the same few."""
    return float(law(np.array([frequency_hz]))[0].real)


def factors_of(law: Law, frequency_hz: Array) -> Complex:
    """A law at frequencies (F,), or (1,) where it is the same at all: 0.6 instead of 8 us, a hundred times a curve."""
    return _everywhere(law) if law.constant else law(frequency_hz)


@lru_cache(maxsize=1024)
def _everywhere(law: Law) -> Complex:
    return law(np.ones(1))


LOWEST_HZ = 0.1  # below it laws are held
_STEPS = np.arange(np.log(LOWEST_HZ), np.log(2e5), 0.004)


@lru_cache(maxsize=64)
def _modulus_table(material: Material) -> tuple[Array, Complex]:
    """Logarithms of frequencies in Hz and factors (F,) there; one of a constant modulus."""
    places = _STEPS[:1] if material.constant else np.union1d(_STEPS, np.log(material.bends_hz))
    return places, material.modulus_factor(np.exp(places))


ONE = Constant()
