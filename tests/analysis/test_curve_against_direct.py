"""The quick path to a curve against direct solves on the same mesh, on sampled designs of four groups.

At 300 frequencies, peaks and dips among them: total and zone areas within 0.02 % of the larger of |S| and the area at
rest, coil force within 0.02 % of the larger of |F| and its value at the lowest frequency, extremes within 0.05 dB,
dips down to 50 dB below the area at rest. Where a loss factor is below 1e-3 the direct solve itself is uncertain: that
much, or five times the scatter of two factorisations there and at two neighbours each side, since how their rounding
falls is chance: 4e-4 and 2e-5 were seen at two points of one peak. Every peak and dip of more than 0.5 dB that direct
solves find by their own refinement is on the returned curve within 0.2 dB: none missed with the elastomers of the
package, at most one in a thousand elsewhere. Run long tests with -s to see what each design measures.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from direct_reference import DB, STANDS_OUT_DB, banded_area, chosen, missed, reference
from numpy.typing import NDArray
from places import STUDIES
from sampled_designs import GROUPS, sampled_design

from diaphragm_fem.analysis.curve.curve import Curve, picked
from diaphragm_fem.analysis.figures.definitions import Wanted
from diaphragm_fem.analysis.figures.reading import Reading
from diaphragm_fem.analysis.figures.smooth_measures import smooth_measures
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.model.shell.shell import build_shell

FROM_HZ, UP_TO_HZ = 20.0, 20e3
FREQUENCIES, POINTS = 300, 400
OFF, OFF_DB, DEEPEST_DB = 2e-4, 0.05, 50.0
SCATTERS = 5.0
LOW_LOSS = 1e-3
EACH = 15  # designs of a group


@dataclass(frozen=True)
class Outcome:
    """Worst differences of one design over what is allowed there, and as they are; extremes met, and those missed."""

    name: str
    area: float
    force: float
    level_db: float
    scatter: float
    over: float
    extremes: int
    missed: tuple[str, ...]

    def __str__(self) -> str:
        return (
            f"{self.name:12} area {self.area:.1e}, force {self.force:.1e}, extremes {self.level_db:.1e} dB, scatter "
            f"{self.scatter:.1e}; worst over allowed {self.over:.2f}; {self.extremes} extremes, missed: "
            f"{'; '.join(self.missed) or 'none'}"
        )


def judge(design: Design) -> Outcome:
    from scipy.ndimage import maximum_filter1d

    structure = build_shell(design, up_to_hz=UP_TO_HZ).structure(0)
    solution = solve(structure, UP_TO_HZ, FROM_HZ)
    found = reference(structure, FROM_HZ, UP_TO_HZ)
    index = chosen(found, FREQUENCIES)
    direct = picked(found.curve, index)
    banded = banded_area(structure, direct.frequency_hz)
    quick = solution.reduced.curve(direct.frequency_hz)
    low = abs(float(solution.static.low.sum()))

    area, force = _apart(quick, direct, low)
    area_scatter, force_scatter = _apart(banded, direct, low)
    level = np.abs(DB * np.log(np.abs(quick.total / direct.total)))
    level_scatter = np.abs(DB * np.log(np.abs(banded.total / direct.total)))
    shallow = np.abs(direct.total) > low * 10 ** (-DEEPEST_DB / 20)
    extreme = np.isin(index, [e.index for e in found.extremes(STANDS_OUT_DB)]) & shallow

    area_scatter, force_scatter, level_scatter = (
        maximum_filter1d(one, 5) for one in (area_scatter, force_scatter, level_scatter)
    )
    uncertain = SCATTERS if least_loss(design) < LOW_LOSS else 0.0
    over = [
        area / np.maximum(OFF, uncertain * area_scatter),
        force / np.maximum(OFF, uncertain * force_scatter),
        (level / np.maximum(OFF_DB, uncertain * level_scatter))[extreme],
    ]
    return Outcome(
        design.name,
        float(area.max()),
        float(force.max()),
        float(level[extreme].max(initial=0.0)),
        float(area_scatter.max()),
        float(np.concatenate(over).max()),
        len(found.extremes(STANDS_OUT_DB)),
        tuple(missed(solution.curve(POINTS), found, structure, uncertain)),
    )


def _apart(curve: Curve, direct: Curve, low: float) -> tuple[NDArray, NDArray]:
    """Differences (F,) of the areas, total and zone by zone, and of the coil force, each over its own scale."""
    area = np.abs(np.vstack((curve.total, curve.zone)) - np.vstack((direct.total, direct.zone))).max(axis=0)
    force = np.abs(curve.coil_force - direct.coil_force)
    resting = np.maximum(np.abs(direct.coil_force), abs(direct.coil_force[0]))
    return area / np.maximum(np.abs(direct.total), low), force / resting


def least_loss(design: Design) -> float:
    band = np.geomspace(FROM_HZ, UP_TO_HZ, 50)
    return min(float(np.min(material.loss(band))) for material in design.materials)


@pytest.mark.parametrize("group, number", [("library", 1), ("lossless", 3)])
def test_a_sampled_design_meets_its_direct_solves(group: str, number: int) -> None:
    outcome = judge(sampled_design(group, number))
    assert outcome.over <= 1 and not outcome.missed, outcome


@pytest.mark.long
@pytest.mark.parametrize("group", GROUPS)
def test_every_sampled_design_meets_its_direct_solves(group: str) -> None:
    outcomes = [judge(sampled_design(group, number)) for number in range(EACH)]
    print("", *outcomes, sep="\n")
    assert not [str(outcome) for outcome in outcomes if outcome.over > 1]
    lost = sum(len(outcome.missed) for outcome in outcomes)
    assert lost <= (0 if group == "library" else 1e-3 * sum(outcome.extremes for outcome in outcomes))


def test_smooth_measures_of_a_design_are_those_of_20000_points():
    """By the trapezoidal rule on even points, so many that twice as many change 1e-5 dB. On the points of the scan
    alone the ripple was 0.0095 dB off, and jumped by 2.6e-4 dB along 1e-5 of a tread."""
    band = (2e3, 15e3)
    found = quick(load_design(STUDIES / "stepped_v.toml"), wanted=Wanted({"high": band}))
    even = Reading(found.solution.reduced.curve(np.geomspace(*band, 20000)))
    for (measure, *zone), value in smooth_measures(even, found.figures.evened, band).items():
        told = found.figures.measures[", ".join((f"{measure}:high", *zone))]
        assert told == pytest.approx(value, abs=6e-4), measure  # 4.3e-4 dB octaves, 3.4e-4 dB are found
