"""How long a design takes to draw: a sweep does it once per case."""

import tomllib

from places import STUDIES

from diaphragm_fem.design.read.read import design_from


def test_bench_draw_stepped_v(benchmark):
    data = tomllib.loads((STUDIES / "stepped_v.toml").read_text(encoding="utf-8"))
    assert benchmark(design_from, data).joint is not None
