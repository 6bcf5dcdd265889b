"""Where a driver's model ends or the user's hearing does: in words, each with its numbers."""

from collections.abc import Iterator

import numpy as np

from diaphragm_fem.answer.driver.curve import DriverCurve
from diaphragm_fem.answer.driver.figures import DriverFigures
from diaphragm_fem.answer.driver.loaded import Loaded
from diaphragm_fem.answer.driver.sections import Sections
from diaphragm_fem.design.driver.driver import RearChamber
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.plug import Plug

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


def driver_cautions(
    found: Loaded, curve: DriverCurve, figures: DriverFigures, sections: Sections | None = None
) -> tuple[str, ...]:
    """What every reader must know: of the air, what lies behind, how loud it is, and what a baffle or a plug leaves
    out."""
    driver, air, top = found.around.driver, found.around.still, found.solution.up_to_hz
    texts = list(air.notes)
    if driver.rear_chamber is not None:
        texts += (
            *_of_chamber(found, driver.rear_chamber, curve, figures),
            *_waves_behind(driver.rear_chamber, air, top),
        )
    elif driver.front is not None and not driver.front.open_rear:
        opened = ", or open_rear = true to [front]" if driver.front.kind == "baffle" else ""
        texts.append(f"nothing lies behind the diaphragm: add a [rear_chamber]{opened}")
    texts += _loud(curve, sections)
    if curve.radiated:
        texts.append(OF_EVERY_BAFFLE)
    if found.around.plug is not None and driver.front is not None and driver.exit is not None:
        if driver.front.volume is None:
            texts += _far(found.around.plug, figures)
        texts += _short_waves(found.around.plug, driver.exit.diameter, air, top)
        texts.append(OF_EVERY_PLUG)
    return tuple(texts)


def _of_chamber(found: Loaded, rear: RearChamber, curve: DriverCurve, figures: DriverFigures) -> Iterator[str]:
    """What a small rear chamber takes, and whether its leak is shut."""
    if rear.volume < SMALLEST_CHAMBER * figures.held_volume_m3:
        yield (
            f"the rear chamber of {rear.volume * 1e6:.3g} cm³ is below four times the diaphragm's equivalent air "
            f"volume with its coil held ({figures.held_volume_m3 * 1e6:.3g} cm³): it takes the low area from "
            f"{1e4 * abs(found.solution.static.low.sum()):.3g} to {1e4 * figures.loaded.low_area_m2:.3g} cm²"
        )
    if rear.leak_diameter is not None and figures.loaded.fundamental_hz is not None:
        hz = figures.loaded.fundamental_hz
        there = np.array([hz])
        leaking, shut = (around.rear_stiffness(there)[0].real for around in (found.around, found.around.shut))
        share = float(leaking / shut)
        if abs(share - 1) > SHUT:
            yield (
                f"the leak is not shut at the loaded fundamental: there the rear chamber {_leaking(share)}; the low "
                f"area is told with it {'shut' if found.shuts(hz) else 'open'}"
            )
            turns = curve.area.turns_hz
            others = turns[(found.around.rear_stiffness(turns).real > 0) != (leaking > 0)]
            if len(others):
                other = float(others[np.argmin(np.abs(np.log(others / hz)))])
                yield (
                    f"behind the leak the coil resonates at {show_frequency(other, computed=True)} as well as at the "
                    f"loaded fundamental, {show_frequency(hz, computed=True)}: with another leak the fundamental may "
                    "jump from one to the other"
                )


def _leaking(share: float) -> str:
    """What a chamber with a leak is, by its stiffness over that without; near the leak's own resonance that is huge."""
    if share < 0:
        return "is no spring but a mass, that of the air in the leak"
    if share < 2:
        return f"has {100 * share:.0f} % of its stiffness without a leak"
    return f"is {f'{share:.2g}' if share < 100 else 'over 100'} times as stiff as without a leak"


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
            "the rear chamber is taken as a spring, as it is below a sixth of the wavelength, up to "
            f"{show_frequency(limit, computed=True)} for a ball of {ball * 1e3:.3g} mm; waves in it, left out, dig "
            "holes of 20 dB in a bare straight box: give its depth"
        )


def loudest_db(curve: DriverCurve, sections: Sections | None) -> float:
    """The highest level in dB, -inf without any: in an exit of two sections the loudest of either, of the first alone
    and of their sum, whatever their polarity."""
    levels = [] if curve.level_db is None else [curve.level_db]
    if sections is not None:
        levels += [sections.upper_db, sections.lower_db, sections.sum_db, sections.turned_db]
    return max((float(level.max()) for level in levels), default=-np.inf)


def _loud(curve: DriverCurve, sections: Sections | None) -> Iterator[str]:
    """Levels that can harm."""
    loudest = loudest_db(curve, sections)
    if loudest >= LOUD_DB:
        where = f"{curve.radiated[0].distance:.3g} m before the baffle" if curve.radiated else "in the exit"
        yield f"levels of up to {loudest:.0f} dB {where} {HARM}"


def reach_into_gap(found: Loaded, figures: DriverFigures) -> float:
    """The largest excursion at the rated voltage over the narrowest gap before a plug; 0 where there is none."""
    plug, front = found.around.plug, found.around.driver.front
    if plug is None or front is None or front.volume is not None:
        return 0.0
    return (figures.excursion_m or 0.0) / float(plug.face.width.min())


def _far(plug: Plug, figures: DriverFigures) -> Iterator[str]:
    """Excursions that the air in the gap, or the plug itself, does not allow."""
    gap, far = float(plug.face.width.min()), figures.excursion_m
    if far is not None and far > gap / 3:
        yield (
            f"at the rated voltage {figures.excursion_of} moves by {far * 1e3:.2g} mm (peak) at "
            f"{figures.excursion_hz:.0f} Hz, more than a third of the gap of {gap * 1e3:.3g} mm: the air in it is "
            "no longer linear"
            + (", and the diaphragm would touch the plug" if far > gap else "")
            + "; lower the voltage or keep low frequencies away"
        )


def _short_waves(plug: Plug, exit_diameter: float, air: Air, top: float) -> Iterator[str]:
    """From where on below a frequency in Hz waves are shorter than gap and exit allow."""
    wide = float(plug.face.width.max())
    limit = THIN * air.sound_speed / (2 * np.pi * wide)
    if limit < top:
        yield f"a gap of {wide * 1e3:.3g} mm is thin (k g below 0.3) up to {limit / 1e3:.3g} kHz only"
    cross = CROSS_MODE * air.sound_speed / (np.pi * exit_diameter)
    if cross < top:
        yield (
            f"above {cross / 1e3:.3g} kHz, the first cross mode of the exit that is alike all around, the plane "
            "wave that the levels stand for is a model"
        )
