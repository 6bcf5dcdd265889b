"""Loss factors that vary with frequency: where they are frozen, and how answers in between are blended.

An answer depends on frequency through omega^2, which is sharp, and through the loss factors, which is smooth. So the
loss factors are frozen at a few node frequencies and only that second dependence is interpolated, by polynomials in
the accumulated logarithmic change of the loss factors. Source: Trefethen, Approximation Theory and Approximation
Practice (2013), ch. 2 and 5 (Chebyshev points, barycentric formula; named from memory).

Where no resonance is near a node, its static answer is enough: there the answer is that of the next node, corrected by
how the static ones differ.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.model.structure import LossOfFrequency

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Index = NDArray[np.int64]

CHANGE_PER_BAND = 1.2  # logarithmic change of the loss factors that one set of nodes spans
CHEBYSHEV = (0.25, 0.75)  # places between the ends of a band: with them the Chebyshev points of the third degree
LOWEST_HZ = 0.1


@dataclass(frozen=True, eq=False)
class LossPath:
    """The loss factors of a structure from 0.1 Hz up to a frequency, in bands with nodes at their ends and at `inner`.

    inner holds places between 0 and 1, the same in each band. With `still` the nodes at the ends of bands, but for
    the very last, have static answers alone. No loss factor that varies makes a path of a single node.
    """

    losses: tuple[LossOfFrequency, ...]
    up_to_hz: float
    inner: tuple[float, ...]
    still: bool

    def blended(
        self, frequency_hz: Array, answer: Callable[[int, Index | slice], Complex], static: Callable[[int], Complex]
    ) -> Complex:
        """Answers (..., F) at frequencies (F,) in Hz.

        answer(node, inside) gives them (..., len(inside)) at the frequencies of those indices with the losses of a
        node, static(node) the one at rest (...).
        """
        if len(self.nodes_hz) == 1:
            return answer(0, slice(None))
        share = self._shares(frequency_hz)
        blended = np.zeros((*static(len(self.nodes_hz) - 1).shape, len(frequency_hz)), complex)
        if self._followers:
            change = [static(node) - static(leader) for node, leader in self._followers]
            blended += np.stack(change, axis=-1) @ share[[node for node, _ in self._followers]]
        for node, leader in self._followers:
            share[leader] += share[node]
        for node in self.answering:
            some = np.flatnonzero(share[node])
            inside = some if len(some) < len(frequency_hz) else slice(None)  # nothing to pick and put back
            blended[..., inside] += share[node, inside] * answer(node, inside)
        return blended

    @cached_property
    def answering(self) -> tuple[int, ...]:
        """The nodes whose answers are blended."""
        followers = [node for node, _ in self._followers]
        return tuple(node for node in range(len(self.nodes_hz)) if node not in followers)

    @cached_property
    def _followers(self) -> tuple[tuple[int, int], ...]:
        """The nodes with static answers alone, each with the next one that has more."""
        step, last = len(self.inner) + 1, len(self.nodes_hz) - 1
        return tuple((node, node + 1 if self.inner else last) for node in range(0, last, step)) if self.still else ()

    @cached_property
    def _course(self) -> tuple[Array, Array]:
        """Logarithm of frequency, and the accumulated change of whichever loss factor changes most in bands, rising."""
        frequency = np.geomspace(LOWEST_HZ, self.up_to_hz, 400)
        change = np.zeros(len(frequency))
        for loss in self.losses:
            level = np.log(np.maximum(loss(frequency), 1e-9))
            change[1:] = np.maximum(change[1:], np.abs(np.diff(level)))
        course = np.cumsum(change)
        bands = int(np.ceil(course[-1] / CHANGE_PER_BAND - 1e-6))
        return np.log(frequency), course * (bands / max(course[-1], 1e-9)) + np.linspace(0, 1e-9, len(frequency))

    @property
    def _bands(self) -> int:
        return round(self._course[1][-1])

    @cached_property
    def nodes_hz(self) -> Array:
        """Node frequencies (K,), rising; neighbours of a band share its end node."""
        log_frequency, course = self._course
        places = [band + place for band in range(self._bands) for place in (0.0, *self.inner)]
        return np.exp(np.interp([*places, course[-1]], course, log_frequency))

    def place(self, frequency_hz: Array) -> Array:
        """How far along the path frequencies lie, in bands."""
        return np.interp(np.log(np.maximum(frequency_hz, LOWEST_HZ)), *self._course)

    def _shares(self, frequency_hz: Array) -> Array:
        """Share (K, F) of each node in the answer at each frequency."""
        place, step = self.place(frequency_hz), len(self.inner) + 1
        if step == 1:
            return np.maximum(1 - np.abs(place - np.arange(len(self.nodes_hz))[:, None]), 0.0)
        band = np.minimum(place.astype(int), self._bands - 1)
        found = np.zeros((len(self.nodes_hz), len(frequency_hz)))
        for k, share in enumerate(_lagrange(place - band, np.array([0.0, *self.inner, 1.0]))):
            found[band * step + k, np.arange(len(frequency_hz))] = share
        return found


@lru_cache(maxsize=256)
def loss_path(losses: tuple[LossOfFrequency, ...], up_to_hz: float, inner: tuple[float, ...], still: bool) -> LossPath:
    """The path of these loss factors: the last few are kept, because the designs of a study share their materials."""
    return LossPath(losses, up_to_hz, inner, still)


def _lagrange(place: Array, nodes: Array) -> Array:
    """Lagrange polynomials (K, F) of nodes (K,) at places (F,), by the barycentric formula."""
    apart = nodes[:, None] - nodes
    np.fill_diagonal(apart, 1.0)
    gap = place - nodes[:, None]
    exact = np.abs(gap) < 1e-12
    terms = (1 / apart.prod(axis=1))[:, None] / np.where(exact, 1.0, gap)
    terms = np.where(exact.any(axis=0), exact.astype(float), terms)
    return terms / terms.sum(axis=0)
