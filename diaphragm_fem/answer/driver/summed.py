"""Figures of what two sections send together through their exit, behind the crossover, at the rated voltage.

Definitions
    highest of the sum       of the whole range, and lowest within an octave of the crossover.
    cancelled                how far the sum lies below the louder section there, at most (`lost_about`).
    other polarity           by how much less the sections would cancel with the other polarity; below 0 by how much
                             more: the sign says which polarity is the right one.
    overlap                  octaves in which both play without filters; below 0 what is missing between them.
    median, spread, plays    of the sum, as those of a driver's level (`levels_over`), over the octaves to both sides of
                             the crossover, and over bands that a study names.
Source: definitions of this project.
"""

from collections.abc import Mapping

from diaphragm_fem.analysis.figures.definitions import SUM_BANDED, SUM_OWN
from diaphragm_fem.answer.driver.figures import Heard, levels_over
from diaphragm_fem.answer.driver.sections import Sections


def summed(
    sections: Sections, bands: Mapping[str, tuple[float, float]] | None = None
) -> tuple[dict[str, float | None], dict[str, str]]:
    """The figures of two sections, also over named bands in Hz as 'sum_median_level_db:NAME', and why one is None."""
    f, lost = sections.frequency_hz, sections.lost[1]
    hz, lowest = sections.lowest
    gain = lost - sections.lost_turned[1]
    own = (float(sections.sum_db.max()), lowest, hz, lost, gain, sections.overlap)
    about = (sections.crossover_hz / 2, sections.crossover_hz * 2)
    ends = {"": about} | {f":{name}": band for name, band in (bands or {}).items()}
    heard = Heard(f, sections.sum_db, None)
    over = {
        f"sum_{name}{of}": value
        for of, band in ends.items()
        for name, value in levels_over(heard, (max(band[0], float(f[0])), min(band[1], float(f[-1])))).items()
        if f"sum_{name}" in SUM_BANDED
    }
    reasons = {"overlap_octaves": sections.reason} if sections.overlap is None else {}
    return dict(zip(SUM_OWN, own, strict=True)) | over, reasons
