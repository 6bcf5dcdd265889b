"""What to change: how every figure moves when one thickness, length, modulus, loss or mass of a file grows by a tenth.

A driver's figures are those with everything on. What surrounds it is varied, too: force factor, resistances,
inductances, volumes, areas and filling beside its lengths, on a part that is solved once. Its level, spread and
efficiency are taken over the band of the design as it is: over a band of its own a part that leaves its coil earlier
would pass for a louder and more even one; those of what two sections send over the octaves beside their crossover. Free
air before a baffle takes 0.1 to 1.2 s for every shape: of a face of many wavelengths, where it would take longer, all
is in vacuum, and only what is felt there has a row. Advice in vacuum cost a dome in a baffle what is heard of it: 0.8
dB of level, 0.8 dB of spread in three rounds (2026-11-28).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import log
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from diaphragm_fem.analysis.modes.pairing import LEAST_LIKENESS
from diaphragm_fem.analysis.solution import Solution
from diaphragm_fem.answer.change.levers import Lever, levers, with_lever
from diaphragm_fem.answer.change.named_levers import (
    band_judged,
    best_jump,
    fails_to_hand_over,
    gain,
    handing_over,
    holds,
    named_figures,
    sent,
    to_turn,
)
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.machine.cores import on_all_cores, one_thread
from diaphragm_fem.answer.mode_shapes import Shapes, modal_assurance, shapes_at
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.read.read import DesignFile
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.load.air import SOUND_SPEED

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.figures import Heard

STEP = 0.1
BESIDE = (0.5, 1.5)  # of a step that brings a jump: whether it holds
FAR = ((0.5, -1 / 3), (1.0, -1 / 2), (2.0, -2 / 3))  # steps where a hand-over fails: up to three times or a third
WIDEST, WIDEST_RING = 22.0, 16.0
"""k r of a face in a baffle whose air is solved for every shape, 60 mm at 20 kHz; of one with an inner edge, which
takes more patterns of pressure, 44 mm. Either takes 1.2 s of processor a shape there."""
AROUND = ("air", "motor", "rear_chamber", "front", "exit", "second_section")  # tables felt by loaded figures alone
FARTHER = 1.03  # times the share of the gap: where a diaphragm touches already, what is no more of it is left alone
NEVER = ("stroke",)  # that no figure of the table feels
ASKED = "front.level_distance"  # where one listens: nearer by a tenth is 0.9 dB louder, and no better a driver


class Tried(NamedTuple):
    """The figures with one lever moved, or with none; None and the error where the design refuses; of a driver
    what is heard, its band and all its nulls in Hz too. shape: that of its break-up mode, where it is in the range.
    reach: the largest excursion over the narrowest gap before a plug, 0 without."""

    figures: Mapping[str, float | None] | None
    taken_at: float | None
    error: DiaphragmError | None = None
    heard: Heard | None = None
    band: tuple[float, float] | None = None
    nulls: Sequence[float] = ()
    shape: Shapes | None = None
    reach: float = 0.0


@one_thread
def sensitivities(file: DesignFile, *, up_to_hz: float = 20e3, corrected: bool = True) -> Sensitivities:
    """Change of every figure per +10 % of every lever of a driven design file.

    The step is taken as it is, not as a derivative: a figure at a threshold may jump, and then it is told. Raises
    AnalysisError for a design without a drive. corrected is the shell's, see `evaluate`.
    """
    trials = trials_of_levers(file, up_to_hz=up_to_hz, corrected=corrected)
    return trials.table(on_all_cores(lambda work: work(), trials.work))


@dataclass(frozen=True, eq=False)
class Trials:
    """What a table of changes takes, of the levers of a file, figures `loaded` or in vacuum."""

    file: DesignFile
    up_to_hz: float
    corrected: bool
    loaded: bool
    levers: Sequence[Lever]

    @property
    def work(self) -> list[Callable[[], Tried]]:
        """A piece of work a design, the design as it is first, for whoever has time."""
        return [partial(self.tried, None, 0.0), *(partial(self.tried, one, STEP, -STEP) for one in self._in_turn)]

    @property
    def _in_turn(self) -> list[Lever]:
        """What is around the wall first, while that, which they share, is remembered."""
        return sorted(self.levers, key=lambda lever: lever.table not in AROUND)

    def tried(self, lever: Lever | None, *steps: float) -> Tried:
        """The first of some steps of a lever that gives a design, or what the first of them was refused with."""
        first = None
        for step in steps:
            try:
                return self._solved(self.file.design if lever is None else with_lever(self.file, lever, 1 + step), step)
            except DiaphragmError as error:
                first = first or error
        return Tried(None, None, first)

    def _solved(self, design: Design, step: float) -> Tried:
        if not self.loaded:
            found = quick(design, up_to_hz=self.up_to_hz, corrected=self.corrected)
            known = found.figures.table()
            return Tried(known, step, shape=_shape(found.solution, known["break_up_mode_hz"]))
        from diaphragm_fem.answer.driver.cautions import reach_into_gap
        from diaphragm_fem.answer.driver.curve import driver_scan
        from diaphragm_fem.answer.driver.driver import quick_figures
        from diaphragm_fem.answer.driver.figures import heard_of, nulls_hz
        from diaphragm_fem.answer.driver.loaded import load_design_on

        driver = load_design_on(design, up_to_hz=self.up_to_hz, corrected=self.corrected)
        curve = driver_scan(driver)
        figures = quick_figures(driver, scan=curve)
        known = figures.figures()
        shape = _shape(driver.solution, known["loaded_break_up_mode_hz"])
        nulls, reach = nulls_hz(curve, figures), reach_into_gap(driver, figures)
        return Tried(known, step, None, heard_of(curve), figures.band_hz, nulls, shape, reach)

    def table(self, found: Sequence[Tried]) -> Sensitivities:
        """The table made of what all work found; levers that a verdict will name are solved the other way, too."""
        as_it_is, base = found[0], found[0].figures
        if base is None:
            assert as_it_is.error is not None  # either of the two
            raise as_it_is.error
        by_lever = dict(zip(self._in_turn, found[1:], strict=True))
        rows = {lever: _changed(lever, by_lever[lever], as_it_is) for lever in self.levers}
        rows = {lever: row for lever, row in rows.items() if row.taken_at is None or _is_felt(row)}
        # again while what helps neither way, or little, leaves its place to others
        while turned := to_turn(Sensitivities(base, tuple(rows.values()), self.loaded), of_steps(self.file.design)):
            less = on_all_cores(lambda lever: self.tried(lever, -STEP), turned)
            backs = [_changed(lever, one, as_it_is) for lever, one in zip(turned, less, strict=True)]
            rows |= {lever: replace(rows[lever], back=back) for lever, back in zip(turned, backs, strict=True)}
        every = self._held(Sensitivities(base, tuple(rows.values()), self.loaded), as_it_is)
        fails = fails_to_hand_over(every) and not handing_over(every)
        far = next(filter(None, (self._far_enough(every, as_it_is, steps) for steps in FAR)), []) if fails else []
        judged = sent(every, "level_spread_db") if self.loaded else f"{band_judged(base)}_octaves"
        return replace(every, hands_over=tuple(sorted(far, key=lambda one: -gain(one, judged))))

    def _held(self, every: Sensitivities, as_it_is: Tried) -> Sensitivities:
        """The table with what is known of the best jump of each figure that a verdict names: whether it holds."""
        names = named_figures(every)
        asked = {id(one): one for name in names if (one := best_jump(every, name)) is not None}
        moves = [(one.lever, share * (one.taken_at or 0.0)) for one in asked.values() for share in BESIDE]
        near = on_all_cores(lambda move: _changed(move[0], self.tried(*move), as_it_is), moves)
        held = {
            which: frozenset(name for name in names if holds(every, one, half, more, name))
            for (which, one), half, more in zip(asked.items(), near[::2], near[1::2], strict=True)
        }

        def known(row: Sensitivity) -> Sensitivity:
            back = None if row.back is None else known(row.back)
            return replace(row, back=back, held=held.get(id(row), frozenset()))

        return replace(every, rows=tuple(map(known, every.rows)))

    def _far_enough(self, every: Sensitivities, as_it_is: Tried, steps: tuple[float, ...]) -> list[Sensitivity]:
        """The levers of steps that bring the hand-over by steps so long."""
        rows = {row.lever: row for row in every.rows}
        moved = [
            (lever, step) for lever in levers_of_steps(rows, self.file.design, self.loaded) for step in steps
            if (self.loaded or step * _raises(rows[lever]) <= 0) and lever.can_be(step)
        ]  # fmt: skip
        far = on_all_cores(lambda move: _changed(move[0], self.tried(*move), as_it_is), moved)
        return [one for one in far if every.handed_over in one.gained and not one.touches]


def trials_of_levers(file: DesignFile, *, up_to_hz: float, corrected: bool) -> Trials:
    """The table of `sensitivities` in pieces."""
    loaded = _with_all_on(file.design, up_to_hz)
    if loaded:
        import diaphragm_fem.answer.driver.driver  # noqa: F401  here: loaded once, whoever works
    left_out = NEVER if loaded else (*NEVER, *AROUND)
    as_written = [lever for lever in levers(file) if lever.table not in left_out and lever.key != ASKED]
    return Trials(file, up_to_hz, corrected, loaded, as_written)


def _changed(lever: Lever, tried: Tried, as_it_is: Tried) -> Sensitivity:
    """What a lever changes, of a driver over the band of the design as it is too."""
    own = _row(lever, tried, as_it_is)
    if as_it_is.band is None or tried.figures is None or tried.heard is None:
        return own
    from diaphragm_fem.answer.driver.figures import levels_over

    over = levels_over(tried.heard, as_it_is.band)
    found = _row(lever, tried._replace(figures={**tried.figures, **over}), as_it_is)
    return replace(found, own_band={name: own.change[name] for name in over})


def _row(lever: Lever, tried: Tried, as_it_is: Tried) -> Sensitivity:
    base = as_it_is.figures
    if base is None or tried.figures is None or tried.taken_at is None:
        return Sensitivity(lever, {}, None, str(tried.error))
    touches = tried.reach > max(1.0, FARTHER * as_it_is.reach)
    turned, known = 1 if tried.taken_at > 0 else -1, tried.figures
    change = {
        name: None if value is None or (now := known.get(name)) is None else turned * (now - value)
        for name, value in base.items()
    }
    gained = frozenset(name for name, value in base.items() if value is None and known.get(name) is not None)
    lost = frozenset(name for name, value in base.items() if value is not None and known.get(name) is None)
    jumped = {"worst_null_db"} if _other_null(as_it_is, tried) else set()
    if _other_shape(as_it_is.shape, tried.shape):
        jumped |= {"break_up_mode_hz", "loaded_break_up_mode_hz"} & base.keys()
    return Sensitivity(
        lever, change, tried.taken_at, gained=gained, lost=lost, jumped=frozenset(jumped), touches=touches
    )


def _is_felt(row: Sensitivity) -> bool:
    """Whether a lever moves any figure by any bit; a thickness of [wall] that no zone takes moves none."""
    return bool(row.gained or row.lost or any(row.change.values()))


def _raises(row: Sensitivity) -> float:
    """By how much more of a lever raises where steps let go: in vacuum the other way is the one that may hand over."""
    return sum(change or 0.0 for name, change in row.change.items() if name.startswith("decoupling_hz:"))


def _shape(solution: Solution, hz: float | None) -> Shapes | None:
    """The shape of the mode at hz, zone by zone; None beyond the range, where shapes are not kept."""
    if hz is None or not len(solution.mode_hz) or hz > solution.up_to_hz:
        return None
    structure, vectors = solution.structure, solution.pairs.vectors[:, solution.structure.rigid_modes :]
    one = vectors[:, [np.abs(solution.mode_hz - hz).argmin()]]
    return shapes_at(structure, one, [[zone] for zone in range(len(structure.zones))])


def _other_shape(before: Shapes | None, after: Shapes | None) -> bool:
    """Whether a mode is another one, by its shape: it need not lie farther off than a lever moves a mode of its own.

    On a V with two steps, +10 % of a former's thickness moved the break-up mode by 15 %: another mode's, whose share of
    strain had passed a half. Shapes of one mode were alike by 0.81 to 1, of two by less than 0.05; 0.50 where two mix.
    """
    if before is None or after is None or len(before.area) != len(after.area):
        return False
    return float(modal_assurance(before, after)[0, 0]) < LEAST_LIKENESS


def _other_null(before: Tried, after: Tried) -> bool:
    """Whether the worst null is another one: not each the nearest, over log f, of all that there are on the other side.

    A null that is crossed by a deeper one need not move farther than a lever of its own moves it.
    """
    was, now = ((one.figures or {}).get("worst_null_hz") for one in (before, after))
    if was is None or now is None:
        return False
    return any(
        abs(log(hz / start)) < (1 - 1e-9) * abs(log(now / was))
        for start, others in ((was, after.nulls), (now, before.nulls))
        for hz in others
    )


def of_steps(design: Design, what: str = "modulus") -> set[str]:
    """The moduli of what steps are made of, the levers of a softer one; or the losses."""
    walls = [piece.wall for piece in design.meridian if piece.zone.role is Role.STEP]
    return {f"{what} of {layer.material.name}" for wall in walls for layer in wall.layers}


def levers_of_steps(known: Iterable[Lever], design: Design, loaded: bool) -> list[Lever]:
    """Every number of a step: what is written of it, and modulus and loss of what it is made of; with everything on,
    where the chamber's pressure moves what lies beyond, those of the chamber too."""
    materials = of_steps(design) | of_steps(design, "loss")
    around = {"front"} if loaded and materials else set()
    return [one for one in known if ".steps[" in one.key or one.key in materials or one.table in around]


def _with_all_on(design: Design, up_to_hz: float) -> bool:
    """Whether a design has surroundings, and such as are solved in about a second for each shape."""
    driver = design.driver
    if driver is None or driver.front is None or driver.front.kind != "baffle":
        return driver is not None
    radius = max(piece.curve.ends[1].point[0] for piece in design.meridian)
    widest = WIDEST if design.inner_edge is None else WIDEST_RING
    return 2 * np.pi * up_to_hz / SOUND_SPEED * radius <= widest
