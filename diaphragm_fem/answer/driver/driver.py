"""One driver, everything: the diaphragm in vacuum and with its surroundings on, second opinion, cautions."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.analysis.curve.sampling import thinned
from diaphragm_fem.analysis.solution import FROM_HZ
from diaphragm_fem.answer.asked import check_asked, check_fineness
from diaphragm_fem.answer.driver.cautions import driver_cautions
from diaphragm_fem.answer.driver.chamber_opinion import ask_chamber_opinion, ask_wall_in_air
from diaphragm_fem.answer.driver.curve import DriverCurve, driver_curve, driver_scan, level_extremes
from diaphragm_fem.answer.driver.figures import DriverFigures, driver_figures
from diaphragm_fem.answer.driver.loaded import Loaded, evenly_pressed, load_design_on
from diaphragm_fem.answer.driver.losses import LossyModes, lossy_modes
from diaphragm_fem.answer.driver.pressure_opinion import PressureOpinion, ask_air_opinion
from diaphragm_fem.answer.driver.sections import Pair, Sections, Together, pair_of, sections_of
from diaphragm_fem.answer.driver.summed import summed
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design

PLACES = 61  # along the gap, of the picture of its pressure


@dataclass(frozen=True, eq=False)
class DriverAnswer:
    """All of one driver: the loaded diaphragm, its curve, the curve with even pressure in front, figures, what each of
    its modes loses, doubts; wall_in_air: wall and air in two dimensions as one, where that was asked; air_opinion: free
    air on finer elements.
    """

    loaded: Loaded
    curve: DriverCurve
    even_level_db: Array | None
    figures: DriverFigures
    modes: LossyModes
    opinion: PressureOpinion | None
    sections: Sections | None
    cautions: tuple[str, ...]
    wall_in_air: PressureOpinion | None = None
    air_opinion: PressureOpinion | None = None


def answer_driver(
    design: Design,
    *,
    up_to_hz: float = 20e3,
    points: int = 400,
    refine: int = 1,
    second_opinion: bool = True,
    wall_in_air: bool = False,
    corrected: bool = True,
) -> DriverAnswer | None:
    """Everything about a driver; None where the file describes none. wall_in_air solves wall and air in two dimensions
    as one besides, which takes some seconds; corrected is the shell's, see `evaluate`.

    Raises AnalysisError without a drive, MeshError for a gap or slots that cannot be, ModelError for air or ends
    outside their formulas or tables.
    """
    check_asked(design, up_to_hz)
    check_fineness(points)
    if design.driver is None:
        return None
    found = load_design_on(design, up_to_hz=up_to_hz, refine=refine, corrected=corrected)
    bends = thinned(found.reduced.scan(FROM_HZ), points).frequency_hz
    pair = pair_of(found)
    told = bends, level_extremes(found), *([] if pair is None else [pair.bends()])
    frequency = np.unique(np.concatenate((np.geomspace(FROM_HZ, up_to_hz, points), *told)))
    curve = driver_curve(found, frequency, places=PLACES)
    even = None
    front = design.driver.front
    if curve.exit_pressure is not None and front is not None and front.kind == "thin chamber":
        even = driver_curve(evenly_pressed(found), frequency, power=False).level_db
    figures, sections = driver_figures(found, curve), None
    if pair is not None:
        figures, sections = _with_sum(figures, pair, pair.at(frequency))
    opinion = ask_chamber_opinion(found) if second_opinion else None
    cautions = driver_cautions(found, curve, figures, sections)
    whole = ask_wall_in_air(found) if wall_in_air else None
    air = ask_air_opinion(found) if second_opinion else None
    return DriverAnswer(found, curve, even, figures, lossy_modes(found), opinion, sections, cautions, whole, air)


def quick_figures(
    found: Loaded, bands: Mapping[str, tuple[float, float]] | None = None, *, both: bool = True,
    scan: DriverCurve | None = None,
) -> DriverFigures:  # fmt: skip
    """The figures alone, from the scan of the level, solved where none is given, of two sections from that of their sum
    too, also over named bands in Hz: what a sweep asks of a case. both: whether what two sections send together is
    asked."""
    figures, pair = driver_figures(found, scan or driver_scan(found), bands), pair_of(found) if both else None
    return figures if pair is None else _with_sum(figures, pair, pair.scan(), bands)[0]


def _with_sum(
    figures: DriverFigures, pair: Pair, together: Together, bands: Mapping[str, tuple[float, float]] | None = None
) -> tuple[DriverFigures, Sections]:
    """The figures of a first section with those of both, and both."""
    sections = sections_of(pair, together, figures.band_hz)
    found, reasons = summed(sections, bands)
    return replace(figures, summed=found, reasons={**figures.reasons, **reasons}), sections
