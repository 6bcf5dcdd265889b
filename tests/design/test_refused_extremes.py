"""Designs and frequencies for which no sensible answer can be computed are refused before time is spent on them."""

from pathlib import Path

import pytest

from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.errors import AnalysisError, MeshError
from diaphragm_fem.mesh.meridian import mesh_meridian

STRAIGHT_V = Path(__file__).parents[2] / "studies" / "straight_v.toml"


def test_a_wall_that_would_need_a_mesh_without_end_is_refused():
    design = load_design(STRAIGHT_V, {"wall.thickness": "10 nm", "unusual": ["wall.thickness"]})
    with pytest.raises(MeshError, match=r"would need \d+ elements .* is the thickness right, and the top frequency\?"):
        mesh_meridian(design)


def test_a_top_frequency_below_where_curves_begin_is_refused():
    with pytest.raises(AnalysisError, match=r"must lie above 20 Hz, where area curves begin; received 10 Hz"):
        quick(load_design(STRAIGHT_V), up_to_hz=10.0)
