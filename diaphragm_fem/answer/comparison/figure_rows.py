"""The table of a comparison: one figure of all designs a row, with differences to a baseline."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from diaphragm_fem.analysis.figures.definitions import OVER_A_BAND
from diaphragm_fem.answer.better import leaders
from diaphragm_fem.answer.comparison.variants import NamedDesign
from diaphragm_fem.answer.driver.figures import IN_BAFFLE, OF_TWO, OWN, SHARED, levels_over, null_over
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.answer.stroke.figures import stroke_figures
from diaphragm_fem.answer.trust.doubts import doubtful_figures
from diaphragm_fem.design.library.evidence import doubtful_numbers


@dataclass(frozen=True)
class FigureRow:
    """One figure of D designs, SI units, None where a design has none and `reasons` say why.

    doubtful[d]: a number of design d's materials that nothing published stands behind moves the figure by more than
    2 % within its range; at_least[d]: a band of design d that touches the end of the range; apart: values that stand at
    different places, as levels in an exit and before a baffle, of which no difference is told; judged: the values,
    those that never come as `Figures.never` says, for who wins.
    """

    name: str
    values: tuple[float | None, ...]
    baseline: int
    doubtful: tuple[bool, ...]
    reasons: tuple[str, ...]
    at_least: tuple[bool, ...]
    apart: bool = False
    judged: tuple[float | None, ...] = ()

    @property
    def winners(self) -> set[int]:
        """Designs that win the figure, all of them in a tie; none where no side is better or nobody can be told."""
        return set() if self.apart else leaders(self.name, self.judged or self.values, self.at_least)

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


def figure_rows(designs: Sequence[NamedDesign], evaluations: Sequence[Answer], baseline: int) -> tuple[FigureRow, ...]:
    """Rows of all figures, those of large stroke last."""
    rows = rows_of(evaluations, baseline)
    return (*rows, *_stroke_rows(designs, rows, all(e.corrected for e in evaluations)))


def rows_of(evaluations: Sequence[Answer], baseline: int) -> tuple[FigureRow, ...]:
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
        judged = tuple(v if v is not None else _never(e).get(name) for v, e in zip(values, evaluations, strict=True))
        rows.append(FigureRow(name, values, baseline, marks, reasons, at_least, apart, judged))
    return tuple(rows)


def level_places(evaluations: Sequence[Answer]) -> list[str]:
    """Where the levels of drivers stand, each place once."""
    curves = [e.driver.curve for e in evaluations if e.driver is not None]
    return sorted({curve.level_where for curve in curves if curve.level_db is not None})


def shared_band(evaluations: Sequence[Answer]) -> tuple[float, float] | None:
    """Ends in Hz of the band that all drivers have, but for those without a level or a band of it, over which their
    levels are compared: a spread over each one's own would flatter the narrowest. None for fewer than two; the second
    end is not above the first where they share none.
    """
    drivers = [e.driver for e in evaluations if e.driver is not None and e.driver.curve.level_db is not None]
    ends = [band for driver in drivers if (band := driver.figures.band_hz) is not None]
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
        over = levels_over(curve, band) | {"worst_null_db": null_over(curve.frequency_hz, curve.level_db, band)}
        shared = {name: over[own] for name, own in SHARED.items()}
    return shared | {name: value for name, value in table.items() if name not in OVER_A_BAND}


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
        reasons = tuple("" if table.get(name) is not None else _why_no_stroke(table, name) for table in tables)
        found.append(replace(rows[0], name=name, values=values, doubtful=doubtful, reasons=reasons, judged=values))
    return found


def _why_no_stroke(table: Mapping[str, float | None], name: str) -> str:
    if name in table:
        return "not within the strokes"
    return "its [stroke] does not ask for it" if table else "its file has no [stroke]"


def _never(e: Answer) -> dict[str, float]:
    found = {} if e.figures is None else e.figures.never
    return found if e.driver is None else {**found, **e.driver.figures.never}


def _at_least(e: Answer, name: str) -> bool:
    vacuum = e.figures is not None and e.figures.at_least(name)
    return vacuum or (e.driver is not None and e.driver.figures.at_least(name))


def _reason(e: Answer, name: str) -> str:
    if e.figures is None:
        return "nothing drives the design"
    if name in SHARED and e.driver is not None:
        return e.driver.figures.reason(SHARED[name]) or "the drivers share no band"
    if name in OF_TWO and (e.driver is None or e.driver.sections is None):
        return "the file describes no second section"
    if name in (*OWN, *IN_BAFFLE, *OF_TWO, *SHARED) or name.startswith("loaded_"):
        return "the file describes no surroundings" if e.driver is None else e.driver.figures.reason(name)
    return e.figures.reason(name)
