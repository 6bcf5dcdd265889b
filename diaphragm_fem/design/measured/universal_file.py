"""Universal files in text (ASCII) form: curves as data sets 58, points as 15 (or, read, 2411), shapes as 55, units as
164.

The only file that knows pyuff, and only its text form: its binary one writes files that nobody can read. A number of a
curve keeps twelve digits there, a frequency six; a shape six.
"""

import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from math import dist, hypot, isfinite
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.files.input_file import read_file_bytes
from diaphragm_fem.design.measured.measured import (
    MOST_CURVES,
    QUANTITIES,
    Measurable,
    MeasuredCurve,
    check_curve,
    factor_of,
)
from diaphragm_fem.design.units import units
from diaphragm_fem.errors import DesignError, echo, plain

FREQUENCY, VELOCITY, DISPLACEMENT, ACCELERATION, FORCE, GENERAL = 18, 11, 8, 12, 13, 0  # specific data types
MOTIONS = {DISPLACEMENT: 1, VELOCITY: 0, ACCELERATION: -1}  # power of i omega that makes a velocity of it
MOST_SETS = 2000  # of a file, shapes and all: a millisecond or two each
POINTS = (15, 2411)  # data sets of nodes
READ = (*POINTS, 58, 164)
MARK = re.compile(rb"    -1(?:[\r\n]|\Z| {74})")  # of a data set's begin and end, as pyuff seeks them
INNER = re.compile(rb"(?<=[0-9])( {4,}-1)(?=[\r\n]|\Z)")  # a line's last number, as a node's colour: no mark
BINARY = re.compile(rb"-1[ \t]*[\r\n]+[ \t]*58b", re.IGNORECASE)  # where a data set begins, and in no remark
WIDEST = 1e12  # factor of a unit
SAME = 1e-4  # of a node's place that stands twice: a data set 15 has six digits
DUST = 1e-8  # m: of a place at the axis, where rounding is all there is
AXIAL = 3  # direction +z


@dataclass(frozen=True, eq=False)
class Shape:
    """One mode: order, number within it, frequency in Hz, loss factor, motion (P, 3) in x, y, z, and the mass in kg of
    just that motion."""

    order: int
    number: int
    frequency_hz: float
    mass: float
    loss_factor: float
    motion: Array


def read_universal_file(path: Path) -> list[MeasuredCurve]:
    """Every data set 58 of a file over frequency. Raises DesignError naming the file and the data set."""
    shown = plain(str(path))
    sets = _sets(path, shown)
    curves = [(k, one) for k, one in enumerate(sets, start=1) if one["type"] == 58]
    if not curves:
        kinds = ", ".join(sorted({str(one["type"]) for one in sets})) or "none"
        raise DesignError(f"{shown}: holds no curve, which is a data set 58; its data sets are of type {kinds}")
    if len(curves) > MOST_CURVES:
        raise DesignError(f"{shown}: holds {len(curves)} curves; at most {MOST_CURVES} are read")
    length, force = _units(sets, shown)
    nodes = _nodes(sets, length, shown)
    return [_curve(one, f"{shown}, data set {k}", nodes, length, force) for k, one in curves]


def _sets(path: Path, shown: str) -> list[dict[str, Any]]:
    data = read_file_bytes(path)
    if BINARY.search(data):
        raise DesignError(f"{shown}: holds curves in binary form (58b); write the file in text (ASCII) form")
    parted = INNER.sub(rb"\1 ", data)
    marks = len(MARK.findall(parted))
    if marks > 2 * MOST_SETS:
        raise DesignError(f"{shown}: holds more than {MOST_SETS} data sets, the most that are read; keep the curves")
    if marks % 2:
        raise DesignError(f"{shown}: its last data set has no end, so the file was cut short; write it anew")
    if parted == data:
        return _read_sets(path, shown)
    with TemporaryDirectory() as folder:  # pyuff reads files alone
        copy = Path(folder) / "copy.uff"
        copy.write_bytes(parted)
        return _read_sets(copy, shown)


def _read_sets(path: Path, shown: str) -> list[dict[str, Any]]:
    import pyuff

    file = pyuff.UFF(str(path))
    kinds = [int(kind) for kind in file.get_set_types()]
    sets: list[dict[str, Any]] = []
    for number, kind in enumerate(kinds, start=1):
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                sets.append(file.read_sets(number - 1) if kind in READ else {"type": kind})
        except Exception as error:  # pyuff raises plain Exception for all that is wrong
            raise DesignError(
                f"{shown}, data set {number}: is no data set {kind} of a universal file; write the file anew"
            ) from error
    return sets


def _units(sets: list[dict[str, Any]], shown: str) -> tuple[float, float]:
    """One unit of length in m and one of force in N; a data set 164 holds what SI numbers are multiplied by."""
    found = {(float(one["length"]), float(one["force"])) for one in sets if one["type"] == 164} or {(1.0, 1.0)}
    if len(found) > 1:
        raise DesignError(f"{shown}: its data sets 164 are of different units; write curves of each to their own file")
    ((length, force),) = found
    for word, factor in (("length", length), ("force", force)):
        if not 1 / WIDEST <= factor <= WIDEST:
            raise DesignError(
                f"{shown}: a data set 164 says what SI numbers are multiplied by, from {1 / WIDEST:g} to {WIDEST:g}; "
                f"received {factor:g} for {word}"
            )
    return 1 / length, 1 / force


def _nodes(sets: list[dict[str, Any]], length: float, shown: str) -> dict[int, tuple[float, float]]:
    """(r, z) in m of the nodes by number; the axis is z. One whose place is no number has none."""
    found: dict[int, tuple[float, float]] = {}
    for one in sets:
        if one["type"] not in POINTS:
            continue
        for number, *place in zip(one["node_nums"], one["x"], one["y"], one["z"], strict=False):
            if not all(map(isfinite, (number, *place))):
                continue
            x, y, z = (length * one for one in place)
            here = hypot(x, y), z
            if dist(found.setdefault(int(number), here), here) > SAME * hypot(*here) + DUST:
                raise DesignError(f"{shown}: node {int(number)} has two places; write each measurement to its own file")
    return found


def _curve(
    one: dict[str, Any], place: str, nodes: dict[int, tuple[float, float]], length: float, force: float
) -> MeasuredCurve:
    if one.get("abscissa_spec_data_type") != FREQUENCY:
        raise DesignError(
            f"{place}: must be a curve over frequency (specific data type {FREQUENCY} of its abscissa); received "
            f"{echo(one.get('abscissa_spec_data_type'))}"
        )
    frequency, values = np.asarray(one["x"], float) * _hertz(one, place), np.asarray(one["data"])
    if len(frequency) != int(one["num_pts"]):
        raise DesignError(f"{place}: says it has {one['num_pts']} points; received {len(frequency)}")
    if len(values) != len(frequency):
        raise DesignError(f"{place}: {len(frequency)} frequencies but {len(values)} values")
    quantity, factor = _quantity(one, frequency, place, length, force)
    phase = bool(np.iscomplexobj(values))
    values = values * (factor if phase else np.abs(factor))
    if phase and (int(one.get("rsp_dir", 0)) < 0) != (int(one.get("ref_dir", 0)) < 0):  # one of both against its axis
        values = -values
    r = z = None
    if quantity.at_a_point:
        node, direction = int(one.get("rsp_node", 0)), int(one.get("rsp_dir", 0))
        if abs(direction) != AXIAL:
            raise DesignError(
                f"{place}: the motion must be along the axis, direction 3 or -3; received direction {direction}"
            )
        if node not in nodes:
            raise DesignError(f"{place}: node {node} has no place; add a data set 15 with the coordinates of all nodes")
        r, z = nodes[node]
    return check_curve(MeasuredCurve(quantity, frequency, values, phase, place, r, z))


def _hertz(one: dict[str, Any], place: str) -> float:
    """What one unit of the abscissa is in Hz, where its label says."""
    unit = one.get("abscissa_axis_units_lab", "").strip(" ()[]")
    if unit.casefold() in ("", "none", "hz", "hertz"):
        return 1.0
    try:
        return units.read_quantity(f"1 {unit}", units.FREQUENCY).factor
    except DesignError as error:
        raise DesignError(f"{place}: the unit {echo(unit)} of its abscissa: {error}") from None


def _quantity(
    one: dict[str, Any], frequency: Array, place: str, length: float, force: float
) -> tuple[Measurable, NDArray[Any] | float]:
    """What a curve is of, and what makes SI of its values: by the label of its ordinate, else by its data types."""
    label, unit = one.get("ordinate_axis_lab", "").strip().lower(), one.get("ordinate_axis_units_lab", "").strip()
    if label in QUANTITIES:
        try:
            factor, is_level = factor_of(unit, QUANTITIES[label])
        except DesignError as error:
            raise DesignError(f"{place}: {error}") from None
        if is_level:
            raise DesignError(f"{place}: a curve here is in a unit, not in dB; received [{plain(unit)}]")
        return QUANTITIES[label], factor
    above, below = int(one.get("ordinate_spec_data_type", 0)), int(one.get("orddenom_spec_data_type", 0))
    if above in MOTIONS and below in (FORCE, above):
        if below == above:
            return QUANTITIES["velocity"], 1.0
        return QUANTITIES["mobility"], (2j * np.pi * frequency) ** MOTIONS[above] * length / force
    raise DesignError(
        f"{place}: must say what it is of: the label of its ordinate one of {', '.join(QUANTITIES)}, or a motion over "
        f"a force or a motion of its kind; received {echo(label)}, data types {above} over {below}"
    )


def write_curves(path: Path, curves: Sequence[MeasuredCurve], remark: str) -> Path:
    """Write curves as data sets 58 with the points they were taken at as 15, in SI, each with a remark.

    Of frequencies that are the same in the six digits written the first is.
    """
    taken = [curve for curve in curves if curve.r is not None]
    number = {id(curve): k for k, curve in enumerate(taken, start=1)}
    sets = [_in_si()]
    if taken:
        sets.append(_points([c.r or 0.0 for c in taken], [c.z or 0.0 for c in taken]))
    for curve in curves:
        above, below = {"velocity": (VELOCITY, VELOCITY), "mobility": (VELOCITY, FORCE)}.get(
            curve.quantity.name, (GENERAL, GENERAL)
        )
        frequency = np.array([float(f"{hz:.5e}") for hz in curve.frequency_hz])
        kept = np.append(True, np.diff(frequency) > 0)
        sets.append({
            "type": 58, "binary": 0, "func_type": 4, "id1": _line(curve.title), "id2": _line(remark),
            "rsp_node": number.get(id(curve), 0), "rsp_dir": AXIAL if curve.r is not None else 0, "ref_node": 0,
            "ref_dir": 0, "abscissa_spacing": 0, "abscissa_spec_data_type": FREQUENCY, "abscissa_axis_lab": "frequency",
            "abscissa_axis_units_lab": "Hz", "ordinate_spec_data_type": above, "orddenom_spec_data_type": below,
            "ordinate_axis_lab": curve.quantity.name, "ordinate_axis_units_lab": curve.quantity.unit,
            "z_axis_spec_data_type": 0, "x": frequency[kept], "data": np.array(curve.values)[kept],
        })  # fmt: skip
    return _write(path, sets)


def write_shapes(path: Path, r: Array, z: Array, shapes: Sequence[Shape], remark: str) -> Path:
    """Write modes as data sets 55 on the points (r, z) of the meridian in m, which are a data set 15, in SI.

    x is the radius, y around, z the axis; a mode of order m goes around as cos(m theta), its y as sin(m theta).
    """
    numbers = list(range(1, len(r) + 1))
    sets = [_in_si(), _points(r.tolist(), z.tolist())]
    for shape in shapes:
        sets.append({
            "type": 55, "id1": f"order {shape.order}, mode {shape.number}", "id2": _line(remark),
            "id3": "x along the radius and z along the axis as cos(m theta), y around as sin(m theta)", "model_type": 1,
            "analysis_type": 2, "data_ch": 2, "spec_data_type": DISPLACEMENT, "load_case": shape.order,
            "mode_n": shape.number, "freq": shape.frequency_hz, "modal_m": shape.mass, "modal_damp_vis": 0.0,
            "modal_damp_his": shape.loss_factor, "node_nums": numbers, "r1": shape.motion[:, 0],
            "r2": shape.motion[:, 1], "r3": shape.motion[:, 2],
        })  # fmt: skip
    return _write(path, sets)


def _in_si() -> dict[str, Any]:
    return {
        "type": 164, "units_code": 1, "units_description": "SI: m, N, K", "temp_mode": 1, "length": 1.0, "force": 1.0,
        "temp": 1.0, "temp_offset": 273.15,
    }  # fmt: skip


def _points(r: list[float], z: list[float]) -> dict[str, Any]:
    return {"type": 15, "node_nums": list(range(1, len(r) + 1)), "x": r, "y": [0.0] * len(r), "z": z}


def _line(words: str) -> str:
    return plain(words).encode("ascii", "replace").decode()[:80] or "NONE"


def _write(path: Path, sets: list[dict[str, Any]]) -> Path:
    import pyuff

    pyuff.UFF(str(path)).write_sets(sets, mode="overwrite")
    return path
