"""How long a large stroke takes; run with --benchmark-enable."""

from pathlib import Path

import pytest

from diaphragm_fem.answer.stroke.figures import stroke_figures
from diaphragm_fem.answer.stroke.stroke import evaluate_stroke
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.design.stroke_plan import plan_stroke

STEPPED_V = Path(__file__).parents[2] / "studies" / "stepped_v.toml"
pytestmark = pytest.mark.long


def planned(**keys):
    file = read_design_file(STEPPED_V, {f"stroke.{key}": value for key, value in keys.items()})
    return file.design, plan_stroke(file.spec.stroke, file.design)


def test_forty_steps_with_modes_at_nine_strokes(benchmark):
    """As the file asks; four steps and three strokes where nothing is measured. The path adds states where it bends."""
    steps, strokes = (4, 3) if benchmark.disabled else (40, 9)
    asked = planned(steps=steps, mode_states=strokes)
    answer = benchmark.pedantic(evaluate_stroke, asked, rounds=3, warmup_rounds=1)
    assert len(answer.path.stroke) > steps and len(answer.modes) == strokes


def test_a_case_of_a_sweep(benchmark):
    asked = planned(steps=20, drive={"motion": "0.3 mm", "frequency": ["400 Hz"]})
    assert benchmark.pedantic(stroke_figures, asked, rounds=3, warmup_rounds=1)["fibre_strain"] > 0
