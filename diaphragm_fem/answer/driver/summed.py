"""Figures of what two sections send together through their exit, behind the crossover, at the rated voltage.

Definitions
    highest of the sum       of the whole range, and lowest within an octave of the crossover.
    cancelled                how far the sum lies below the louder section there, at most (`lost_about`).
    other polarity           by how much less the sections would cancel with the other polarity; below 0 by how much
                             more: the sign says which polarity is the right one.
    overlap                  octaves in which both play without filters; below 0 what is missing between them.
    median, spread, plays    of the sum, as those of a driver's level (`levels_over`), over the octaves to both sides of
                             the crossover, and over bands that a study names.
What is told about a crossover is None where that lies outside the range.
Source: definitions of this project.
"""

from collections.abc import Mapping

from diaphragm_fem.analysis.figures.definitions import SUM_BANDED, SUM_OWN
from diaphragm_fem.answer.driver.figures import Heard, levels_over
from diaphragm_fem.answer.driver.sections import Sections

BEYOND = "the crossover lies outside the range"


def summed(
    sections: Sections, bands: Mapping[str, tuple[float, float]] | None = None
) -> tuple[dict[str, float | None], dict[str, str]]:
    """The figures of two sections, also over named bands in Hz as 'sum_median_level_db:NAME', and why one is None."""
    f, crossing = sections.frequency_hz, sections.crossover_hz
    found: dict[str, float | None] = dict.fromkeys((*SUM_OWN, *SUM_BANDED))
    reasons = dict.fromkeys(found, BEYOND)
    found |= {"sum_highest_db": float(sections.sum_db.max()), "overlap_octaves": sections.overlap}
    reasons["overlap_octaves"] = sections.reason
    ends = {f":{name}": band for name, band in (bands or {}).items()}
    if sections.crosses:
        hz, lowest = sections.lowest
        lost = sections.lost[1]
        gain = lost - sections.lost_turned[1]
        found |= {"sum_lowest_db": lowest, "sum_lowest_hz": hz, "sum_lost_db": lost, "sum_turned_gain_db": gain}
        ends[""] = crossing / 2, crossing * 2
    heard = Heard(f, sections.sum_db, None)
    found |= {
        f"sum_{name}{of}": value
        for of, band in ends.items()
        for name, value in levels_over(heard, (max(band[0], float(f[0])), min(band[1], float(f[-1])))).items()
        if f"sum_{name}" in SUM_BANDED
    }
    return found, {name: why for name, why in reasons.items() if found[name] is None}
