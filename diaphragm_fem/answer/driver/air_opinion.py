"""A second look at free air: the same face on elements two thirds as long and half again as many patterns."""

from dataclasses import replace

import numpy as np

from diaphragm_fem.answer.driver.curve import driver_curve
from diaphragm_fem.answer.driver.loaded import Loaded, loaded
from diaphragm_fem.answer.driver.pressure_opinion import PressureOpinion
from diaphragm_fem.load.open_side import finer

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
