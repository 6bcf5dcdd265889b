"""Modes of a small structure with its losses and loads on: frequency and loss factor of each, and its complex shape."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.factors import inverse_step
from diaphragm_fem.analysis.response import frozen
from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.model.projected import projected
from diaphragm_fem.model.structure import Structure

_BEYOND = 1.2  # of the top frequency: up to there undamped modes are what the others begin with
PER_OCTAVE = 16  # frequencies at which laws and loads are taken to find where to begin
_ROUNDS = 10  # of the iteration; three to five are usual
_GATHERED = 4  # rounds after which those that agree go on as one: half the time
_NEAR_BY = 0.2  # of the square: modes that Newton's first step places this near are followed
_STEP = 1e-4  # of the frequency: over which laws and loads are differenced
_STRETCHED = (1 + _STEP) ** 2 - 1  # the same, of the square
_FARTHEST = 0.1  # of the square: what one round may go
_SETTLED = 1e-6  # of the square: what is left of a mode that is believed
_SAME = 1e-4  # of a square: closer than that two are one


@dataclass(frozen=True)
class DampedModes:
    """M modes, rising: frequency_hz (M,); shapes (N, M), complex; loss_factor (M,), one over the quality factor; mass
    (M,): x^H x with what moves in the loads, so that the energy of a mode is w^2 mass/2 and a power P costs it the
    loss factor 2 P/(w^3 mass)."""

    frequency_hz: Array
    shapes: Complex
    loss_factor: Array
    mass: Array


def damped_modes(small: Structure, from_hz: float, up_to_hz: float, per_octave: int = PER_OCTAVE) -> DampedModes:
    """Modes between two frequencies of a structure whose mass is the identity.

    A(w) x = l(w) x, A everything beside -w^2 in D(w), at the real w = w0 where Re l(w0) = w0^2: springs and masses
    balance. With m = 1 - Re dl/d(w^2), which counts what moves in the loads, the loss factor is Im l/(w0^2 m): exactly
    1/Q for a mass on a spring with a damper, however strong, and for light losses that of the complex frequency. Where
    m is not positive, as within the pole of a lossy load, there is no mode: nothing comes within a share of m.

    Beginnings are the modes with laws and loads taken at `per_octave` frequencies an octave; Newton's method on l
    and inverse iteration on x follow each. Three times as many found no more on eight drivers, but nothing proves that
    none is missed; what does not settle is left out.
    """
    at = np.geomspace(from_hz, up_to_hz, max(2, int(np.ceil(per_octave * np.log2(up_to_hz / from_hz)))))
    one = np.eye(small.size)
    s, value, shape = _beginnings(small, at)
    settled = np.zeros(len(s), dtype=bool)
    for turn in range(_ROUNDS):
        if turn == _GATHERED:
            kept = _different(np.lexsort((s, ~settled)), value)
            s, value, shape = s[kept], value[kept], shape[kept]
        matrix, ahead = np.split(frozen(small, np.concatenate((_hz(s), _hz(s) * (1 + _STEP)))), 2)
        shifted = matrix - (value * (1 + 1e-12))[:, None, None] * one
        shape = inverse_step(shifted, shape)
        shape /= np.linalg.norm(shape, axis=1, keepdims=True)
        value = _quotient(matrix, shape)
        slope = (_quotient(ahead, shape) - value) / (s * _STRETCHED)
        mass = 1 - slope.real
        step = np.clip((value.real - s) / mass, -_FARTHEST * s, _FARTHEST * s)
        rest = np.linalg.norm((matrix @ shape[..., None])[..., 0] - value[:, None] * shape, axis=1)
        settled = (np.abs(value.real - s) < _SETTLED * s * mass) & (rest < _SETTLED * np.abs(value))
        s, value = np.where(settled, s, s + step), np.where(settled, value, value + slope * step)
    good = np.flatnonzero(settled & (_hz(s) >= from_hz) & (_hz(s) <= up_to_hz))
    kept = _different(good[np.argsort(s[good])], value)
    s, value, shape, mass = s[kept], value[kept], shape[kept], mass[kept]
    return DampedModes(_hz(s), shape.T, value.imag / (s * mass), mass)


def _different(order: Index, value: Complex) -> Index:
    """One each, the first in order, of those whose values agree."""
    found: list[int] = []
    for k in order.tolist():
        if all(abs(value[k] - value[j]) > _SAME * abs(value[k]) for j in found):
            found.append(k)
    return np.array(found, dtype=np.int64)


def _beginnings(small: Structure, at: Array) -> tuple[Array, Complex, Complex]:
    """Squares (B,) of the frequencies, values (B,) and shapes (B, N) to begin with."""
    squares, turn = np.linalg.eigh(small.stiffness_at(float(at[-1]) / 2))
    turn = turn[:, : np.searchsorted(squares, (2 * np.pi * _BEYOND * at[-1]) ** 2) + 1]
    matrix, ahead = np.split(frozen(projected(small, turn), np.concatenate((at, at * (1 + _STEP)))), 2)
    values, vectors = np.linalg.eig(matrix)
    s = np.repeat((2 * np.pi * at)[:, None] ** 2, values.shape[1], axis=1)
    moved = (vectors * ((ahead - matrix) @ vectors)).sum(axis=1) / (vectors**2).sum(axis=1)
    mass = 1 - moved.real / (s * _STRETCHED)
    which, mode = np.nonzero(np.abs(values.real - s) < _NEAR_BY * s * np.abs(mass))
    return s[which, mode], values[which, mode], vectors[which, :, mode] @ turn.T


def _hz(square: Array) -> Array:
    return np.asarray(np.sqrt(square) / (2 * np.pi))


def _quotient(matrix: Complex, shape: Complex) -> Complex:
    """x^T A x/(x^T x): stationary at the modes of a complex symmetric matrix."""
    return np.asarray((shape * (matrix @ shape[..., None])[..., 0]).sum(axis=1) / (shape**2).sum(axis=1))
