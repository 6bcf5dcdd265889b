"""Designs side by side: figures with differences to a baseline, curves on one axis, modes followed by shape."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve, decibels
from diaphragm_fem.analysis.solution import solve_area
from diaphragm_fem.answer.comparison.figure_rows import FigureRow, figure_rows
from diaphragm_fem.answer.comparison.mode_tracks import Track, follow_modes
from diaphragm_fem.answer.comparison.variants import NamedDesign
from diaphragm_fem.answer.evaluate import ORDERS, Answer, evaluate
from diaphragm_fem.answer.measured import put_beside
from diaphragm_fem.answer.trust.convergence import FREQUENCY_TOLERANCE
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.library.evidence import doubtful_numbers
from diaphragm_fem.design.measured.measured import MeasuredCurve
from diaphragm_fem.errors import DiaphragmError, StudyError

HALF_WIDTHS = np.array([-16, -8, -4, -2, -1, -0.5, 0, 0.5, 1, 2, 4, 8, 16])
LEAST_LOSS = 1e-5  # so that a lossless resonance is still sampled beside its top


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
    design and curve where a design has no such prediction."""
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
    points: int = 400,
    orders: Iterable[int] = ORDERS,
    tolerance: float = FREQUENCY_TOLERANCE,
    second_opinion: bool = True,
    corrected: bool = True,
) -> Comparison:
    """Evaluate designs and lay them against the one numbered `baseline` (from 0).

    The other settings are those of `evaluate`. Raises StudyError for fewer than two designs, repeated names or a
    baseline that is not among them; a design that cannot be solved passes its own error on, under its name.
    """
    designs = tuple(designs)
    _check(designs, baseline)
    orders = sorted(set(orders))
    settings = {
        "up_to_hz": up_to_hz, "points": points, "orders": orders, "tolerance": tolerance,
        "second_opinion": second_opinion, "corrected": corrected,
    }  # fmt: skip
    evaluations = tuple(_evaluate(one, **settings) for one in designs)
    tracks = {}
    for m in orders:
        structures, modes = [e.structures[m] for e in evaluations], [e.modes[m] for e in evaluations]
        tracks[m] = follow_modes(structures, modes, baseline=baseline)
    remarks = tuple(f"{one.name}: {text}" for one, e in zip(designs, evaluations, strict=True) for text in e.warnings)
    return Comparison(
        designs, baseline, evaluations, figure_rows(designs, evaluations, baseline),
        tuple(_response(e) for e in evaluations),
        tracks, _doubts(designs), remarks, up_to_hz,
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


def _doubts(designs: Sequence[NamedDesign]) -> tuple[str, ...]:
    users: dict[str, list[str]] = {}
    for one in designs:
        for line in doubtful_numbers(*one.design.materials):
            users.setdefault(line, []).append(one.name)
    return tuple(
        line if len(names) == len(designs) else f"{line} (in {', '.join(names)})" for line, names in users.items()
    )
