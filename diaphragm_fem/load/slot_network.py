"""What slots see together: their channels, joined in one exit or each with an end of its own; exp(+i omega t)."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Complex
from diaphragm_fem.load.line import passed_on, seen


@dataclass(frozen=True)
class SlotNetwork:
    """What J slots see together. admittance (F, J, J) in m3/(s Pa): flow into each slot = admittance @ pressure there.

    transfer (F, J): exit pressure = sum of transfer x slot pressure. exit_impedance (F,) ends them all.
    """

    admittance: Complex
    transfer: Complex
    exit_impedance: Complex


def join(channels: Sequence[Complex], exit_impedance: Complex) -> SlotNetwork:
    """Join two-ports (F, 2, 2) of J channels in one exit.

    With Y_aa = T22/T12, Y_ab = -1/T12, Y_bb = T11/T12 of each channel: t = -Y_ab/(1/Z_exit + sum Y_bb),
    Y = diag(Y_aa) + Y_ab t^T. Exact for plane waves; above the first even cross mode of a round exit,
    3.83 c/(2 pi r), it is a model.
    """
    t = np.stack(channels, axis=1)
    aa, ab, bb = t[..., 1, 1] / t[..., 0, 1], -1 / t[..., 0, 1], t[..., 0, 0] / t[..., 0, 1]
    transfer = -ab / (1 / exit_impedance + bb.sum(axis=1))[:, None]
    admittance = ab[:, :, None] * transfer[:, None, :]
    slots = np.arange(t.shape[1])
    admittance[:, slots, slots] += aa
    return SlotNetwork(admittance, transfer, exit_impedance)


def separate(channels: Sequence[Complex], ends: Sequence[Complex]) -> SlotNetwork:
    """Channels that never meet, each with an end of its own; transfer gives the pressure at each end's own slot."""
    t = np.stack(channels, axis=1)
    end = np.stack(ends, axis=1)
    admittance = np.eye(len(ends)) / seen(t, end)[:, None]
    return SlotNetwork(admittance, passed_on(t, end), end)
