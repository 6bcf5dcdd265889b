"""Designs side by side: figures with differences to a baseline, curves on one axis, modes followed by shape."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.analysis.curve import Curve, decibels
from diaphragm_fem.analysis.solution import solve_area
from diaphragm_fem.answer.convergence import FREQUENCY_TOLERANCE
from diaphragm_fem.answer.doubts import doubtful_figures
from diaphragm_fem.answer.driver_figures import IN_BAFFLE, OWN, SHARED, level_shared
from diaphragm_fem.answer.evaluate import ORDERS, Answer, evaluate
from diaphragm_fem.answer.measured import put_beside
from diaphragm_fem.answer.mode_tracks import Follow, Track, follow_modes
from diaphragm_fem.answer.stroke_figures import stroke_figures
from diaphragm_fem.answer.variants import NamedDesign
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.evidence import doubtful_numbers
from diaphragm_fem.design.measured import MeasuredCurve
from diaphragm_fem.errors import DiaphragmError, StudyError

HALF_WIDTHS = np.array([-16, -8, -4, -2, -1, -0.5, 0, 0.5, 1, 2, 4, 8, 16])
LEAST_LOSS = 1e-5  # so that a lossless resonance is still sampled beside its top


@dataclass(frozen=True)
class FigureRow:
    """One figure of D designs, SI units, None where a design has none and `reasons` say why.

    doubtful[d]: a number of design d's materials that nothing published stands behind moves the figure by more than
    2 % within its range; at_least[d]: a band of design d that touches the end of the range; apart: values that stand at
    different places, as levels in an exit and before a baffle, of which no difference is told.
    """

    name: str
    values: tuple[float | None, ...]
    baseline: int
    doubtful: tuple[bool, ...]
    reasons: tuple[str, ...]
    at_least: tuple[bool, ...]
    apart: bool = False

    @property
    def differences(self) -> tuple[float | None, ...]:
        """value - baseline."""
        base = None if self.apart else self.values[self.baseline]
        return tuple(None if base is None or value is None else value - base for value in self.values)

    @property
    def relative(self) -> tuple[float | None, ...]:
        """value/baseline - 1."""
        base = None if self.apart else self.values[self.baseline]
        return tuple(None if not base or value is None else value / base - 1 for value in self.values)


@dataclass(frozen=True)
class Response:
    """What one design radiates over frequency: frequency_hz (F,), area (F,) in m2 and volume velocity (F,), complex.

    The volume velocity U of the whole front face is per newton of coil force, in m3/(N s); exp(+i omega t).
    """

    frequency_hz: Array
    area: Complex
    volume_velocity: Complex


@dataclass(frozen=True)
class Comparison:
    """D designs side by side; `tracks` go by circumferential order, `responses` hold None for a design without drive.

    doubts: lines on material numbers without published source, with the designs that use them; remarks: warnings,
    each with the name of its design.
    """

    designs: tuple[NamedDesign, ...]
    baseline: int
    evaluations: tuple[Answer, ...]
    rows: tuple[FigureRow, ...]
    responses: tuple[Response | None, ...]
    tracks: Mapping[int, tuple[Track, ...]]
    follow: Follow
    doubts: tuple[str, ...]
    remarks: tuple[str, ...]
    up_to_hz: float

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(one.name for one in self.designs)

    def row(self, name: str) -> FigureRow:
        """The row of one figure; StudyError with the known names where there is none."""
        for row in self.rows:
            if row.name == name:
                return row
        raise StudyError(f"no figure '{name}' in this comparison; there are {', '.join(row.name for row in self.rows)}")


def beside_measured(comparison: Comparison, curves: Sequence[MeasuredCurve]) -> Comparison:
    """The same with measured curves beside what each of its designs is predicted to do. Raises AnalysisError naming
    design and curve where a design has no such prediction.
    """
    found = []
    for one, answer in zip(comparison.designs, comparison.evaluations, strict=True):
        try:
            found.append(replace(answer, measured=put_beside(answer, curves)))
        except DiaphragmError as error:
            raise type(error)(f"{one.name}: {error}") from error
    return replace(comparison, evaluations=tuple(found))


def compare(
    designs: Sequence[NamedDesign],
    baseline: int = 0,
    *,
    up_to_hz: float = 20e3,
    from_hz: float = 20.0,
    points: int = 400,
    orders: Iterable[int] = ORDERS,
    tolerance: float = FREQUENCY_TOLERANCE,
    follow: Follow = Follow.NEIGHBOUR,
    second_opinion: bool = True,
    corrected: bool = True,
) -> Comparison:
    """Evaluate designs and lay them against the one numbered `baseline` (from 0).

    The other settings are those of `evaluate`; `follow` says what each design's mode shapes are laid against.
    Raises StudyError for fewer than two designs, repeated names or a baseline that is not among them; a design that
    cannot be solved passes its own error on, under its name.
    """
    designs = tuple(designs)
    _check(designs, baseline)
    orders = sorted(set(orders))
    settings = {
        "up_to_hz": up_to_hz, "from_hz": from_hz, "points": points, "orders": orders, "tolerance": tolerance,
        "second_opinion": second_opinion, "corrected": corrected,
    }  # fmt: skip
    evaluations = tuple(_evaluate(one, **settings) for one in designs)
    tracks = {}
    for m in orders:
        structures, modes = [e.structures[m] for e in evaluations], [e.modes[m] for e in evaluations]
        tracks[m] = follow_modes(structures, modes, baseline=baseline, follow=follow)
    remarks = tuple(f"{one.name}: {text}" for one, e in zip(designs, evaluations, strict=True) for text in e.warnings)
    rows = _rows(evaluations, baseline)
    return Comparison(
        designs, baseline, evaluations, (*rows, *_stroke_rows(designs, rows, corrected)),
        tuple(_response(e) for e in evaluations),
        tracks, follow, _doubts(designs), remarks, up_to_hz,
    )  # fmt: skip


def _response(e: Answer) -> Response | None:
    """Response at the area curve's own frequencies, which resolve S, and more around every mode, which resolve U/F."""
    if e.area is None:
        return None
    modes = e.modes[0]
    half = modes.frequency_hz * np.maximum(modes.loss_factor, LEAST_LOSS) / 2
    around = (modes.frequency_hz[:, None] + half[:, None] * HALF_WIDTHS).ravel()
    first, last = e.area.frequency_hz[[0, -1]]
    frequency = np.union1d(e.area.frequency_hz, around[(around > first) & (around < last)])
    return response_of(solve_area(e.structures[0], frequency, absolute=False))


def response_of(curve: Curve) -> Response:
    """Volume velocity per newton from an area curve: U/F = S v_c/F = S i omega/(F/x_c).

    S (F,) effective area in m2, v_c the coil's velocity, F/x_c (F,) the force per metre of coil motion in N/m. Sound
    pressure far away goes with omega U. Neither air load nor the motor's electrical damping is in it.
    """
    omega = 2 * np.pi * curve.frequency_hz
    return Response(curve.frequency_hz, curve.total, curve.total * 1j * omega / curve.coil_force)


def level_difference(one: Response, baseline: Response) -> tuple[Array, Array]:
    """20 log10 |U/U_baseline| in dB for equal coil force, at the frequencies of both curves.

    The curves are resolved, so each is read between its points by straight lines of level over log frequency.
    """
    frequency = np.union1d(one.frequency_hz, baseline.frequency_hz)
    low = max(one.frequency_hz[0], baseline.frequency_hz[0])
    high = min(one.frequency_hz[-1], baseline.frequency_hz[-1])
    frequency = frequency[(frequency >= low) & (frequency <= high)]
    return frequency, _level(one, frequency) - _level(baseline, frequency)


def _level(response: Response, frequency: Array) -> Array:
    level = decibels(np.abs(response.volume_velocity))
    return np.asarray(np.interp(np.log(frequency), np.log(response.frequency_hz), level))


def _check(designs: tuple[NamedDesign, ...], baseline: int) -> None:
    if len(designs) < 2:
        raise StudyError(
            f"a comparison needs at least two designs, received {len(designs)}: give a second file or a list of values"
        )
    repeated = [name for name, count in Counter(one.name for one in designs).items() if count > 1]
    if repeated:
        raise StudyError(
            f"each design needs a name of its own, received '{repeated[0]}' more than once: give other names"
        )
    if not 0 <= baseline < len(designs):
        raise StudyError(f"the baseline must be one of the {len(designs)} designs, counted from 0, received {baseline}")


def _evaluate(one: NamedDesign, **settings: object) -> Answer:
    try:
        return evaluate(one.design, **settings)
    except DiaphragmError as error:
        raise type(error)(f"design '{one.name}': {error}") from error


def _rows(evaluations: Sequence[Answer], baseline: int) -> tuple[FigureRow, ...]:
    band = shared_band(evaluations)
    tables = [{} if e.figures is None else {**e.figures.table(), **_driver_table(e, band)} for e in evaluations]
    names = list(dict.fromkeys(name for table in tables for name in table))
    names.sort(key=lambda name: ":" in name)  # the figures of single steps after those of whole designs
    doubtful = [
        frozenset() if e.figures is None else doubtful_figures(e.design, up_to_hz=e.up_to_hz, corrected=e.corrected)
        for e in evaluations
    ]
    rows, elsewhere = [], len(level_places(evaluations)) > 1
    for name in names:
        values = tuple(table.get(name) for table in tables)
        alone = SHARED.get(name, name)
        marks = tuple(v is not None and alone in weak for v, weak in zip(values, doubtful, strict=True))
        reasons = tuple(_reason(e, name) if v is None else "" for v, e in zip(values, evaluations, strict=True))
        at_least = tuple(_at_least(e, name) for e in evaluations)
        apart = elsewhere and alone == "median_level_db"
        rows.append(FigureRow(name, values, baseline, marks, reasons, at_least, apart))
    return tuple(rows)


def level_places(evaluations: Sequence[Answer]) -> list[str]:
    """Where the levels of drivers stand, each place once."""
    curves = [e.driver.curve for e in evaluations if e.driver is not None]
    return sorted({curve.level_where for curve in curves if curve.level_db is not None})


def shared_band(evaluations: Sequence[Answer]) -> tuple[float, float] | None:
    """Ends in Hz of the band that all drivers have, but for those without a band, over which their levels are compared:
    a spread over each one's own would flatter the narrowest. None for fewer than two; the second end is not above the
    first where they share none.
    """
    bands = [e.driver.figures.band_hz for e in evaluations if e.driver is not None]
    ends = [band for band in bands if band is not None]
    return (max(low for low, _ in ends), min(high for _, high in ends)) if len(ends) > 1 else None


def _driver_table(e: Answer, band: tuple[float, float] | None) -> dict[str, float | None]:
    """What a driver does with everything on, its level over the band shared with others where there is one."""
    if e.driver is None:
        return {}
    table, curve = e.driver.figures.figures(), e.driver.curve
    if band is None:
        return table
    shared: dict[str, float | None] = dict.fromkeys(SHARED)
    if curve.level_db is not None and e.driver.figures.band_hz is not None and band[1] > band[0]:
        shared = level_shared(curve.frequency_hz, curve.level_db, band)
    return shared | {name: value for name, value in table.items() if name not in ("median_level_db", "level_spread_db")}


def _stroke_rows(designs: Sequence[NamedDesign], rows: Sequence[FigureRow], corrected: bool) -> list[FigureRow]:
    """Rows of large stroke where at least one design's file asks for it."""
    if not rows or not any(one.stroke for one in designs):
        return []
    tables = [stroke_figures(one.design, one.stroke, corrected=corrected) if one.stroke else {} for one in designs]
    doubtful = tuple(bool(table) and any(doubtful_numbers(m) for m in one.design.materials)
                     for table, one in zip(tables, designs, strict=True))  # fmt: skip
    found = []
    for name in dict.fromkeys(name for table in tables for name in table):
        values = tuple(table.get(name) for table in tables)
        reasons = tuple(
            "" if v is not None else "not within the strokes" if table else "its file has no [stroke]"
            for v, table in zip(values, tables, strict=True)
        )
        found.append(replace(rows[0], name=name, values=values, doubtful=doubtful, reasons=reasons))
    return found


def _at_least(e: Answer, name: str) -> bool:
    stem = name.removeprefix("loaded_")
    figures = e.figures if stem == name else None if e.driver is None else e.driver.figures.loaded
    return figures is not None and figures.at_least(stem)


def _reason(e: Answer, name: str) -> str:
    if e.figures is None:
        return "nothing drives the design"
    if name in SHARED and e.driver is not None:
        return e.driver.figures.reason(SHARED[name]) or "the drivers share no band"
    if name in (*OWN, *IN_BAFFLE, *SHARED) or name.startswith("loaded_"):
        return "the file describes no surroundings" if e.driver is None else e.driver.figures.reason(name)
    return e.figures.reason(name)


def _doubts(designs: Sequence[NamedDesign]) -> tuple[str, ...]:
    users: dict[str, list[str]] = {}
    for one in designs:
        for material in one.design.materials:
            for line in doubtful_numbers(material):
                users.setdefault(line, []).append(one.name)
    return tuple(
        line if len(names) == len(designs) else f"{line} (in {', '.join(names)})" for line, names in users.items()
    )
