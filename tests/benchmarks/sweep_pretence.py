"""A batch task that only pretends to solve: it waits as long as real cases would take and returns rows of real size."""

import pickle
import time

import numpy as np

from diaphragm_fem.study.run.case_row import inputs_text
from diaphragm_fem.study.run.store import Row

FIGURES = (
    '{"fundamental_hz":98.30630311634467,"stiffness_n_per_m":815.183231571527,"moving_mass_kg":0.0021342343195448143,'
    '"low_area_m2":0.0021226115334279103,"high_area_m2":0.0006212944615683103,"decoupling_hz":859.3634170153707,'
    '"handed_over_hz":1782.295523273682,"departure_hz":4918.50064237444,"even_band_octaves":3.1856523187356835}'
)
CASE_SECONDS = 0.05
CURVE_BYTES = 2600  # as measured for 400 points of a complex curve and its frequencies


def pretend_batch(job, cases, version):
    time.sleep(CASE_SECONDS * len(cases))
    recipe = pickle.loads(job).recipe
    blob = np.random.default_rng(cases[0][0]).bytes(CURVE_BYTES)
    return [
        Row(number, "done", None, inputs_text(recipe, values), b"0123456789abcdef", FIGURES, None, blob, CASE_SECONDS)
        for number, values in cases
    ]
