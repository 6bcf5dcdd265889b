"""A study of as many cases as one likes, its figures told by hand, for the tests of its page."""

from contextlib import chdir
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import numpy as np
from filled_studies import filled

from diaphragm_fem.report.contents.morning import morning_blocks
from diaphragm_fem.report.page.study import write_study_page
from diaphragm_fem.study.morning import Morning, morning
from diaphragm_fem.study.run.case_row import EVALUATOR

STUDY = """
[study]
name = "<b>sifted</b>"
base = "base.toml"
[vary.thickness]
key = "plate.thickness"
range = ["20 um", "60 um"]
[vary.material]
key = "plate.material"
list = ["PEN film", "titanium"]
[plan]
how = "latin hypercube"
cases = {cases}
seed = 3
[morning]
wish = [{{ figure = "moving_mass_kg", aim = "low" }}, {{ figure = "even_band_octaves", aim = "high", weight = 0.5 }}]
limits = {{ fundamental_hz = {{ below = "45 Hz" }} }}
pareto = {{ moving_mass_kg = "low", even_band_octaves = "high" }}
"""


def figures(thickness: float, material: str) -> dict[str, float | None]:
    """By hand: the mass follows the thickness, the resonance its root, the band falls; thick titanium has none."""
    heavy = 4.5 if material == "titanium" else 1.3
    band = None if heavy * thickness > 250 else 6 - thickness / 20
    return {
        "moving_mass_kg": 1e-5 * thickness * heavy, "fundamental_hz": 6 * np.sqrt(thickness), "even_band_octaves": band,
    }  # fmt: skip


@cache
def study(cases: int, evaluator: str = EVALUATOR) -> Morning:
    folder = Path(mkdtemp())
    with chdir(folder):  # its store lies below where one works
        return morning(filled(folder, STUDY.format(cases=cases), figures), evaluator=evaluator)


def page_of(found: Morning, path: Path) -> Path:
    return write_study_page(found, path, morning_blocks(found, {}, []))
