"""Predictions for other programs, in the forms that measured curves are read in: universal files of curves and shapes,
a table that declares quantity and unit."""

from pathlib import Path

import numpy as np

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.answer.face import face_of
from diaphragm_fem.answer.measured import pressure_of
from diaphragm_fem.design.measured.measured import QUANTITIES, MeasuredCurve
from diaphragm_fem.design.measured.universal_file import Shape, write_curves, write_shapes
from diaphragm_fem.report.blocks.blocks import Table, write_csv
from diaphragm_fem.report.files.shapes import unit_shapes

POINTS = 12  # of the face, whose motion is written
FILES = ("curves.uff", "curves.txt", "shapes.uff")


def write_for_others(evaluation: Answer, folder: Path) -> list[Path]:
    """The files of FILES that an evaluation has what it takes for."""
    curves = predicted_curves(evaluation)
    found = []
    if curves:
        found += [
            write_curves(folder / FILES[0], curves, evaluation.design.name),
            write_table(folder / FILES[1], [c for c in curves if c.quantity.name in ("area", "response")]),
        ]
    shapes = _shapes(evaluation)
    if shapes is not None:
        found.append(write_shapes(folder / FILES[2], *shapes, evaluation.design.name))
    return found


def predicted_curves(evaluation: Answer) -> list[MeasuredCurve]:
    """Area, response, motion of points of the face; with a driver impedance and level too. Empty without a drive.

    All of it as the design file has it, as measured curves are compared: in a driver with everything on.
    """
    area, face, driver = evaluation.area, evaluation.face, evaluation.driver
    if area is None or face is None:
        return []
    if driver is not None:
        area, loaded = driver.curve.area, driver.loaded
        face = face_of(loaded.solution, face.frequency_hz, loaded.reduced)

    def curve(name, frequency, values, r=None, z=None):  # type: ignore[no-untyped-def]
        return MeasuredCurve(QUANTITIES[name], frequency, values, True, "predicted", r, z)

    both = {"area": area.total, "response": area.response}
    found = [curve(name, area.frequency_hz, values) for name, values in both.items()]
    moving = np.flatnonzero(np.abs(face.axial).max(axis=1) > 0)  # a held edge does not
    for k in moving[np.unique(np.linspace(0, len(moving) - 1, POINTS).round().astype(int))]:
        found.append(curve("velocity", face.frequency_hz, face.axial[k], float(face.r[k]), float(face.z[k])))
    if driver is not None and driver.curve.terminal_impedance is not None:
        found.append(curve("impedance", driver.curve.frequency_hz, driver.curve.terminal_impedance))
        pressure = pressure_of(driver.curve)
        if pressure is not None:
            found.append(curve("level", driver.curve.frequency_hz, pressure))
    return found


def write_table(path: Path, curves: list[MeasuredCurve]) -> Path:
    """Curves of equal frequencies as a table that `examine --measured` reads, real and imag in SI."""
    head = ["frequency [Hz]"]
    columns = [curves[0].frequency_hz]
    for curve in curves:
        head += [f"{curve.quantity.name} {part} [{curve.quantity.unit}]" for part in ("real", "imag")]
        columns += [curve.values.real, curve.values.imag]
    return write_csv(path, Table(head, np.column_stack(columns).tolist()))


def _shapes(evaluation: Answer) -> tuple[np.ndarray, np.ndarray, list[Shape]] | None:
    """Points of the meridian and every mode on them; None where there is no mode."""
    found: list[Shape] = []
    place = None
    for m, modes in evaluation.modes.items():
        surface = evaluation.structures[m].surface
        if not len(modes):
            continue
        place = surface.r, surface.z
        shapes, mass = unit_shapes(surface, modes)
        for k, hz in enumerate(modes.frequency_hz.tolist()):
            loss = float(modes.loss_factor[k])
            found.append(Shape(m, k + 1, hz, float(mass[k]), loss, shapes[:, :, k]))
    return None if place is None else (*place, found)
