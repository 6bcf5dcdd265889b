"""A face in a baffle in words: beam, directivity, level at angles, power."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.report.words.words import NONE, digits, show_hz

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer

Row = tuple[str, ...]
RADIATION = ("frequency", "on the axis", "30° off", "60° off", "beam to −6 dB", "directivity index", "power radiated")
LEVELS_AT = (0.0, 30.0, 60.0)  # degrees off the axis
AT_HZ = (250.0, 500.0, 1e3, 2e3, 4e3, 8e3, 12e3, 16e3, 20e3)
WHOLE = "the half space"  # a beam that never falls by 6 dB


def beam_rows(driver: DriverAnswer) -> list[Row]:
    """The figures that only a face in a baffle has, as rows beside those in vacuum; none for other fronts."""
    figures = driver.figures
    if not figures.baffled:
        return []
    narrows, index = (figures.baffled[name] for name in ("beam_narrows_hz", "directivity_index_db"))
    reason = figures.reasons.get("beam_narrows_hz", "level 45° off the axis 6 dB down")
    rows: list[Row] = [("beam narrows to 90° at", "", show_hz(narrows), reason)]
    if index is not None:
        rows.append(("directivity index, median", "", f"{index:.1f} dB", "far away, against the half space"))
    if driver.air_opinion is not None:
        worst = f"largest at {show_hz(driver.air_opinion.worst_hz)}, on the axis"
        size = f"{digits(driver.air_opinion.difference_db, 2)} dB"
        rows.append(("free air on elements two thirds as long differs", "", size, worst))
    return rows


def radiation_lines(driver: DriverAnswer) -> list[Row]:
    """Levels, beam, directivity and power at a few frequencies; levels against the axis where there is no motor."""
    curve = driver.curve
    if not curve.radiated:
        return []
    front, f = curve.radiated[0], curve.frequency_hz
    driven = curve.current is not None
    levels, rows = curve.levels_at(LEVELS_AT), []
    for hz in (hz for hz in AT_HZ if f[0] <= hz <= f[-1] * (1 + 1e-9)):
        at = [float(np.interp(hz, f, levels[:, k])) for k in range(len(LEVELS_AT))]
        shown = [f"{level:.1f} dB".replace("-", "−") for level in at]
        k = int(np.argmin(np.abs(np.log(f / hz))))
        beam = front.beam_degrees[k]
        watts = curve.voltage**2 * float(np.interp(hz, f, front.power))
        rows.append((
            show_hz(hz), *shown, WHOLE if np.isnan(beam) else f"{beam:.0f}°",
            f"{front.directivity_index_db[k]:.1f} dB".replace("-", "−"), show_watts(watts) if driven else NONE,
        ))  # fmt: skip
    return rows


def show_watts(value: float) -> str:
    return f"{digits(value * 1e3)} mW" if value < 0.9995 else f"{digits(value)} W"
