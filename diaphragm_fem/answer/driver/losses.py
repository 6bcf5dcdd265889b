"""Where the power of a motion goes, cause by cause, over frequency and mode by mode."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.modes.damped import PER_OCTAVE, damped_modes
from diaphragm_fem.answer.driver.loaded import Loaded
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.load.motor import braking
from diaphragm_fem.load.power import in_channels, in_gap, stored_away, through
from diaphragm_fem.load.surroundings import rear_leak
from diaphragm_fem.model.law import Elastic
from diaphragm_fem.model.structure import STIFFNESS, Load, Port, multipliers

COIL = "coil and supports"
IN_A_TUBE = 3 * PER_OCTAVE  # for waves in a bare one ring long: two of eleven up to 20 kHz in 100 mm were missed
RADIATED, RADIATED_BEHIND = "radiated", "radiated behind"  # by the open sides of a face in a baffle


def spent(found: Loaded, f: Array, motion: Complex) -> dict[str, Array]:
    """Cause to mean power in W (F,) of motions (N, F) of the small structure, peak phasors; the motor is not in it."""
    around, small, omega = found.around, found.reduced.small, 2 * np.pi * f
    causes: dict[str, Array] = {}
    parts = np.hstack((motion.real, motion.imag))  # the matrices are real: half the work
    for term, factor in zip(small.terms, multipliers(small.terms, f), strict=True):
        if term.derivatives == STIFFNESS:
            stored = ((np.asarray(term.matrix) @ parts) * parts).sum(axis=0).reshape(2, -1).sum(axis=0)
            name = term.law.material.name if isinstance(term.law, Elastic) else COIL
            causes[name] = causes.get(name, 0.0) + omega * factor.imag * stored / 2
    if around.rear_port is not None:
        total = (small.volume.sum(axis=0) @ motion)[:, None]
        stiffness = around.rear_stiffness(f)
        lost = stored_away(stiffness[:, None, None], total, omega)
        rear = around.driver.rear_chamber
        assert rear is not None
        leak = rear_leak(rear, around.still, omega)
        if leak is not None:
            causes["leak"] = through(leak, stiffness * total[:, 0])
            lost = lost - causes["leak"]
        if rear.loss_factor or rear.depth is not None:
            causes["filling" if rear.loss_factor else "rear chamber"] = lost
    if around.front_port is not None and around.chamber is not None:
        swept = (found.reduced.basis.T @ around.front_port.pattern).T @ motion
        pressure, slots = around.pressures(f, swept)
        if around.air.viscosity:
            causes["gap"] = in_gap(around.chamber, around.air, omega, pressure)
        channels, leaving = in_channels(around.network(f), slots)
        if around.air.viscosity:
            causes["slots and channels"] = channels
        causes["exit"] = leaving
    for side, name in zip(around.open_sides, (RADIATED, RADIATED_BEHIND), strict=False):
        moved = ((found.reduced.basis.T @ side.port.pattern).T @ motion).T
        causes[name] = stored_away(side.stiffness(f), moved, omega)
    return causes


@dataclass(frozen=True, eq=False)
class LossyModes:
    """Modes with everything on, the source's voltage held at zero: frequency_hz (M,); loss: cause to loss factor (M,),
    whose sum is one over the mode's quality factor; moving (M,): the zone that sweeps most volume, which need not be
    the one that holds the motion.
    """

    frequency_hz: Array
    loss: Mapping[str, Array]
    moving: tuple[str, ...]

    @property
    def loss_factor(self) -> Array:
        """All causes together (M,)."""
        return np.asarray(sum(self.loss.values(), np.zeros(len(self.frequency_hz))))


def lossy_modes(found: Loaded) -> LossyModes:
    """The loaded modes in the range, and what each loses to every cause.

    A cause that takes the power P from a mode x has the loss factor 2 P/(omega^3 m), m the mode's mass, air included.
    """
    small, motor = found.reduced.small, found.around.driver.motor
    brakes = []
    if motor is not None:
        port = Port("motor", small.pickup[:, None])
        brakes = [Load(port, lambda f: braking(motor, 2 * np.pi * f)[:, None, None])]
    rear = found.around.driver.rear_chamber
    often = IN_A_TUBE if rear is not None and rear.depth is not None else PER_OCTAVE
    modes = damped_modes(small.loaded(*brakes), found.solution.from_hz, found.solution.up_to_hz, often)
    f, shape = modes.frequency_hz, modes.shapes
    omega = 2 * np.pi * f
    causes = spent(found, f, shape)
    if motor is not None:
        coil = (small.pickup @ shape)[:, None]
        causes = {"motor": stored_away(braking(motor, omega)[:, None, None], coil, omega), **causes}
    scale = omega**3 * modes.mass / 2
    largest = np.argmax(np.abs(small.volume @ shape), axis=0)
    moving = tuple(small.zones[k].name for k in largest)
    return LossyModes(f, {name: watts / scale for name, watts in causes.items()}, moving)
