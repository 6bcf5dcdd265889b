"""Drivers side by side: the level of each at its rated voltage, and how far it is from the baseline's."""

import numpy as np

from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.comparison.figure_rows import shared_band
from diaphragm_fem.answer.driver.curve import DriverCurve
from diaphragm_fem.report.sheets.designs import list_designs, looks
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import GRID, INK, frequency_axis, pale

DEEPEST_DB = 60.0  # below the highest level: what lies deeper is cut
DIFFERENCES_DB = 20.0


def has_levels(comparison: Comparison) -> bool:
    """Whether two designs or more have a level."""
    return sum(curve is not None for curve in _curves(comparison)) > 1


def levels_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """Levels over frequency, and below them the differences where the baseline has one."""
    curves = _curves(comparison)
    base, known = curves[comparison.baseline], [curve for curve in curves if curve is not None]
    above = sheet.axes(25.0, 96.0 if base else 29.0, 172.0, 98.0 if base else 165.0)
    for curve, look in zip(curves, looks(comparison), strict=True):
        if curve is not None and curve.level_db is not None:
            above.plot(curve.frequency_hz, curve.level_db, color=look.colour, ls=look.dash, lw=look.width,
                       zorder=look.order)  # fmt: skip
    levels = np.concatenate([np.asarray(curve.level_db) for curve in known])
    above.set_ylim(max(levels.min(), levels.max() - DEEPEST_DB) - 2, levels.max() + 3)
    where = {curve.level_where for curve in known}
    above.set_ylabel(f"level {where.pop()}, dB" if len(where) == 1 else "level where each gives it, dB")
    ends = known[0].frequency_hz[[0, -1]]
    frequency_axis(above, *ends, label=base is None)
    band = shared_band(comparison.evaluations)
    compared = band is not None and band[1] > band[0]
    if band is not None and compared:
        above.axvspan(*band, color=pale(GRID, 0.5), lw=0, zorder=0.4)
    if base is not None:
        below = sheet.axes(25.0, 29.0, 172.0, 60.0)
        for curve, look in zip(curves, looks(comparison), strict=True):
            if curve is not None and curve is not base:
                below.plot(*_difference(curve, base), color=look.colour, ls=look.dash, lw=look.width, zorder=look.order)
        below.axhline(0.0, color=INK, lw=2.0, zorder=3)
        below.set_ylim(-DIFFERENCES_DB, DIFFERENCES_DB)
        below.set_ylabel("over the baseline, dB")
        frequency_axis(below, *ends)
    list_designs(sheet, comparison)
    volts = sorted({f"{curve.voltage:g} V" for curve in known})
    shaded = "; shaded: the band compared" if compared else ""
    return f"at {', '.join(volts)}; dB re 20 µPa{shaded}; loud: protect hearing"


def _curves(comparison: Comparison) -> list[DriverCurve | None]:
    """Each design's curve, None where it has no level."""
    drivers = (answer.driver for answer in comparison.evaluations)
    return [None if d is None or d.curve.level_db is None else d.curve for d in drivers]


def _difference(curve: DriverCurve, base: DriverCurve) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies of both, and the level over the baseline's there."""
    f = np.union1d(curve.frequency_hz, base.frequency_hz)
    levels = (np.interp(np.log(f), np.log(c.frequency_hz), np.asarray(c.level_db)) for c in (curve, base))
    one, other = levels
    return f, one - other
