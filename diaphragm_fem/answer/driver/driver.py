"""One driver, everything: the diaphragm in vacuum and with its surroundings on, second opinion, cautions."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.curve.sampling import thinned
from diaphragm_fem.answer.asked import check_asked
from diaphragm_fem.answer.driver.chamber_opinion import ask_chamber_opinion, ask_wall_in_air
from diaphragm_fem.answer.driver.curve import DriverCurve, driver_curve, driver_scan, level_extremes
from diaphragm_fem.answer.driver.figures import DriverFigures, driver_figures
from diaphragm_fem.answer.driver.loaded import Loaded, evenly_pressed, load_design_on
from diaphragm_fem.answer.driver.losses import LossyModes, lossy_modes
from diaphragm_fem.answer.driver.pressure_opinion import PressureOpinion, ask_air_opinion
from diaphragm_fem.answer.driver.sections import Sections, dips_about_crossover, sections_of
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.driver import RearChamber
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.load.air import Air

PLACES = 61  # along the gap, of the picture of its pressure
LOUD_DB = 100.0  # from which a level is told to be able to harm
HARM = "can harm hearing at once: use protection and follow local rules"
CROSS_MODE = 3.8317  # first zero of J1: f = 3.83 c/(2 pi r) of a round exit
THIN = 0.3  # k g up to which the gap is thin
OF_EVERY_BAFFLE = (
    "the baffle is taken as endless and hard; an edge or a cabinet adds its own ripple. Orders m above 0, which "
    "rock and flutter, meet air as well; it is not modelled"
)
OF_EVERY_PLUG = (
    "orders m above 0, which rock and flutter, meet air as well; it is not modelled. The air is linear: no jets at "
    "slot edges, no waves that steepen"
)
OF_EVERY_DRIVER = (OF_EVERY_BAFFLE, OF_EVERY_PLUG)
SHORT = 6.0  # chambers to a wavelength: of longer ones none is a spring (common practice, no source)
SHUT = 0.1  # of a rear chamber's stiffness: what a leak may change of it at the fundamental
SMALLEST_CHAMBER = 4.0  # of the volume held: below it the rear chamber takes much of the area


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
    from_hz: float = 20.0,
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
    if design.driver is None:
        return None
    found = load_design_on(design, up_to_hz=up_to_hz, from_hz=from_hz, refine=refine, corrected=corrected)
    bends = thinned(found.reduced.scan(from_hz), points).frequency_hz
    told = bends, level_extremes(found), dips_about_crossover(found)
    frequency = np.unique(np.concatenate((np.geomspace(from_hz, up_to_hz, points), *told)))
    curve = driver_curve(found, frequency, places=PLACES)
    even = None
    front = design.driver.front
    if curve.exit_pressure is not None and front is not None and front.kind == "thin chamber":
        even = driver_curve(evenly_pressed(found), frequency, power=False).level_db
    figures = driver_figures(found, curve)
    opinion = ask_chamber_opinion(found) if second_opinion else None
    sections = sections_of(found, curve, figures.loaded.departure_hz)
    cautions = driver_cautions(found, curve, figures, sections)
    whole = ask_wall_in_air(found) if wall_in_air else None
    air = ask_air_opinion(found) if second_opinion else None
    return DriverAnswer(found, curve, even, figures, lossy_modes(found), opinion, sections, cautions, whole, air)


def quick_figures(found: Loaded, bands: Mapping[str, tuple[float, float]] | None = None) -> DriverFigures:
    """The figures alone, from the scan of the level, also over named bands in Hz: what a sweep asks of a case."""
    return driver_figures(found, driver_scan(found), bands)


def baffle_cautions(found: Loaded) -> list[str]:
    """What a face in a baffle leaves out."""
    texts = [OF_EVERY_BAFFLE]
    front, rear = found.around.driver.front, found.around.driver.rear_chamber
    if rear is None and front is not None and not front.open_rear:
        texts.append("nothing lies behind the diaphragm: add a [rear_chamber], or open_rear = true to [front]")
    return texts


def _waves_behind(rear: RearChamber, air: Air, top: float) -> Iterator[str]:
    """Which waves in the rear chamber are left out below a frequency in Hz."""
    if rear.depth is not None:
        wide = float(np.sqrt(4 * rear.volume / (np.pi * rear.depth)))
        limit = CROSS_MODE * air.sound_speed / (np.pi * wide)
        if limit < top:
            yield (
                f"the rear chamber is taken as a tube {rear.depth * 1e3:.3g} mm deep and {wide * 1e3:.3g} mm wide, its "
                f"end filled by the face: above {show_frequency(limit, computed=True)} waves stand across it, too"
            )
        return
    ball = (6 * rear.volume / np.pi) ** (1 / 3)
    limit = air.sound_speed / (SHORT * ball)
    if limit < top:
        yield (
            "the rear chamber is taken as a spring, which it is while shorter than a sixth of the wavelength: up "
            f"to {show_frequency(limit, computed=True)} for a ball of {ball * 1e3:.3g} mm. Waves that stand in it "
            "above are left out; in a bare straight box they dig narrow holes of 20 dB: give its depth"
        )


def driver_cautions(
    found: Loaded, curve: DriverCurve, figures: DriverFigures, sections: Sections | None = None
) -> tuple[str, ...]:
    """Where the model's limits or the user's hearing bite, each with its numbers: in an exit of two sections the
    loudest of either, of the first alone and of their sum, whatever their polarity."""
    texts: list[str] = []
    around, top = found.around, found.solution.up_to_hz
    driver, air = around.driver, around.still
    texts += air.notes
    rear = driver.rear_chamber
    if rear is not None and rear.volume < SMALLEST_CHAMBER * figures.held_volume_m3:
        texts.append(
            f"the rear chamber of {rear.volume * 1e6:.3g} cm3 is below four times the diaphragm's equivalent air "
            f"volume with its coil held ({figures.held_volume_m3 * 1e6:.3g} cm3): it takes the low area from "
            f"{1e4 * abs(found.solution.static.low.sum()):.3g} to {1e4 * figures.loaded.low_area_m2:.3g} cm2"
        )
    if rear is not None:
        texts += _waves_behind(rear, air, top)
    if rear is not None and rear.leak_diameter is not None and figures.loaded.fundamental_hz is not None:
        there = np.array([figures.loaded.fundamental_hz])
        share = float(around.rear_stiffness(there)[0].real) / around.rear_spring
        if abs(share - 1) > SHUT:
            texts.append(
                f"the leak is not shut at the loaded fundamental: there the rear chamber has {100 * share:.0f} % of "
                "its stiffness without a leak; low area, stiffness and moving mass are told with that"
            )
    levels = [] if curve.level_db is None else [curve.level_db]
    if sections is not None:
        levels += [sections.upper_db, sections.lower_db, sections.sum_db, sections.turned_db]
    loudest = max((float(level.max()) for level in levels), default=-np.inf)
    if loudest >= LOUD_DB:
        where = f"{curve.radiated[0].distance:.3g} m before the baffle" if curve.radiated else "in the exit"
        texts.append(f"levels of up to {loudest:.0f} dB {where} {HARM}")
    if curve.radiated:
        texts += baffle_cautions(found)
    if around.plug is not None and driver.front is not None and driver.exit is not None:
        gap = float(around.plug.face.width.min())
        far = figures.excursion_m
        if far is not None and driver.front.volume is None and far > gap / 3:
            texts.append(
                f"at the rated voltage {figures.excursion_of} moves by {far * 1e3:.2g} mm (peak) at "
                f"{figures.excursion_hz:.0f} Hz, more than a third of the gap of {gap * 1e3:.3g} mm: the air in it is "
                "no longer linear"
                + (", and the diaphragm would touch the plug" if far > gap else "")
                + "; lower the voltage or keep low frequencies away"
            )
        wide = float(around.plug.face.width.max())
        limit = THIN * air.sound_speed / (2 * np.pi * wide)
        if limit < top:
            texts.append(f"a gap of {wide * 1e3:.3g} mm is thin (k g below 0.3) up to {limit / 1e3:.3g} kHz only")
        cross = CROSS_MODE * air.sound_speed / (np.pi * driver.exit.diameter)
        if cross < top:
            texts.append(
                f"above {cross / 1e3:.3g} kHz, the first cross mode of the exit that is alike all around, the plane "
                "wave that the levels stand for is a model"
            )
        texts.append(OF_EVERY_PLUG)
    return tuple(texts)
