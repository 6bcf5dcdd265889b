"""The yield if one scatter were halved, from the same parts: against the distribution functions."""

import pytest
from filled_studies import filled
from scipy import stats

from diaphragm_fem.study.morning import morning

pytestmark = pytest.mark.usefixtures("own_folder")

HEAD = '[study]\nbase = "base.toml"\n[vary.t]\nkey = "plate.thickness"\n'
PLAN = '[plan]\nhow = "sobol"\ncases = 4096\n[morning.limits]\ny_hz = {{ above = {}, below = {} }}\n'


def normal(deviation):
    return stats.norm(100, deviation)


def lognormal(deviation):
    import numpy as np

    spread = np.sqrt(np.log1p((deviation / 100) ** 2))
    return stats.lognorm(spread, scale=100 * np.exp(-(spread**2) / 2))


CASES = {
    'normal = { mean = "100 um", deviation = "5 um" }': (normal(5), normal(2.5)),
    'lognormal = { mean = "100 um", deviation = "20 um" }': (lognormal(20), lognormal(10)),
    'uniform = { low = "90 um", high = "114 um" }': (stats.uniform(90, 24), stats.uniform(96, 12)),
    'triangular = { low = "90 um", peak = "98 um", high = "120 um" }': (
        stats.triang(8 / 30, 90, 30),
        stats.triang(8 / 30, 94, 15),
    ),
}


@pytest.mark.parametrize(
    ("scatter", "laws"), CASES.items(), ids=lambda x: x.split(" ")[0] if isinstance(x, str) else ""
)
def test_the_yield_if_halved_is_that_of_the_narrower_law(tmp_path, scatter, laws):
    found = morning(filled(tmp_path, HEAD + scatter + "\n", lambda t: {"y_hz": t}, PLAN.format(97, 107)))
    (halved,) = found.halved
    whole, half = (law.cdf(107) - law.cdf(97) for law in laws)
    # 4096 points of a Sobol sequence: measured at most 9e-4 off, from the points nearest to the limits
    assert halved.share == pytest.approx(half, abs=4e-3)
    assert halved.gain == pytest.approx(half - whole, abs=4e-3)
    assert halved.gain - halved.error < half - whole < halved.gain + halved.error


def test_the_interval_of_a_gain_is_that_of_a_ratio_of_means(tmp_path):
    """An even scatter over 24 um, of which 10 keep: a part of the inner half counts twice, h = 10/12 of it keep where
    s = 10/24 do, and the gain's variance is the mean square of w (k - h) - (k - s), piece by piece (delta method)."""
    text = HEAD + 'uniform = { low = "90 um", high = "114 um" }\n'
    (halved,) = morning(filled(tmp_path, text, lambda t: {"y_hz": t}, PLAN.format(97, 107))).halved
    h, s = 10 / 12, 10 / 24
    variance = 12 / 24 * s**2 + 2 / 24 * (s - 2 * h) ** 2 + 10 / 24 * (2 * (1 - h) - (1 - s)) ** 2
    assert halved.error == pytest.approx(1.96 * (variance / 4096) ** 0.5, rel=0.01)


def test_the_scatter_that_costs_most_stands_first_and_one_that_costs_nothing_gains_nothing(tmp_path):
    other = '[vary.tread]\nkey = "plate.steps[0].tread"\nnormal = { mean = "5 mm", deviation = "1 mm" }\n'
    other += '[vary.idle]\nkey = "plate.steps[1].tread"\nnormal = { mean = "5 mm", deviation = "1 mm" }\n'
    text = HEAD + 'normal = { mean = "100 um", deviation = "1 um" }\n' + other
    found = morning(filled(tmp_path, text, lambda t, tread, idle: {"y_hz": t + 3 * tread}, PLAN.format(110, 120)))
    assert [one.variable for one in found.halved] == ["tread", "t", "idle"]
    # the sum is normal: deviation sqrt(1 + 9) as it is, sqrt(1 + 9/4) and sqrt(1/4 + 9) with one halved
    for one, variance in zip(found.halved, (3.25, 9.25, 10), strict=True):
        assert one.share == pytest.approx(2 * stats.norm.cdf(5 / variance**0.5) - 1, abs=8e-3)


def test_no_limits_no_yield(tmp_path):
    text = HEAD + 'normal = { deviation = "4 %" }\n'
    assert morning(filled(tmp_path, text, lambda t: {"y_hz": t}, '[plan]\nhow = "sobol"\ncases = 16\n')).halved == ()
