"""Means, shares and indices over the right cases of a plan, and a page that says what they mean."""

from contextlib import chdir
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from filled_studies import filled
from study_standin import solve_here, write_study

from diaphragm_fem.errors import StudyError
from diaphragm_fem.report.blocks.blocks import Words
from diaphragm_fem.report.contents.morning import morning_blocks
from diaphragm_fem.report.contents.scatter import matter_blocks, wished_words
from diaphragm_fem.study.morning import morning
from diaphragm_fem.study.morning.effects import TOLD_WITHIN, by_chance, main_effect, sensitivity, strongest_pair
from diaphragm_fem.study.morning.results import Column, load_results, where_unsolved
from diaphragm_fem.study.morning.scatter import Spread, is_tolerance_study, spreads, yields
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study

VARY = """
[study]
base = "base.toml"
[vary.tread]
key = "plate.steps[0].tread"
normal = { mean = "1.2 mm", deviation = "5 %" }
[vary.thickness]
key = "plate.thickness"
normal = { mean = "25 um", deviation = "5 %" }
[vary.far_tread]
key = "plate.steps[1].tread"
ratio = 0.5
of = "tread"
[plan]
how = "sensitivity"
cases = 128
[morning.limits]
fundamental_hz = { below = 262 }
"""


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    folder = tmp_path_factory.mktemp("statistics")
    write_study(folder)
    (folder / "study.toml").write_text(VARY)
    study = read_study(folder / "study.toml")
    solve_here(study, folder / "cases.sqlite")
    return load_results(study, folder / "cases.sqlite")


def test_a_single_ratio_takes_no_dimension_of_a_sensitivity_plan(results):
    sampler = Sampler(results.study)
    assert len(sampler) == 128 == 32 * (2 + 2)
    cases = sampler.block(0, 128)
    assert len(set(cases)) == 128
    assert {index.variable for index in sensitivity(results, "fundamental_hz")} == {"tread", "thickness"}


def test_the_error_of_a_mean_is_its_standard_error(tmp_path, monkeypatch):
    """s/sqrt(n) with n - 1 degrees of freedom (any statistics textbook), of the cases of each film."""
    monkeypatch.chdir(tmp_path)
    text = '[study]\nbase = "base.toml"\n[vary.film]\nkey = "behaviour"\nlist = ["well", "crash"]\n'
    text += '[vary.t]\nkey = "plate.thickness"\nnormal = { mean = "25 um", deviation = "2 um" }\n'
    more = '[plan]\nhow = "latin hypercube"\ncases = 30\n'
    found = load_results(filled(tmp_path, text, lambda film, t: {"x_hz": t + 5 * (film == "well")}, more))
    effect, x = main_effect(found, found.column("film"), "x_hz"), found.figure("x_hz")
    for place, mean, error, count in zip(effect.place, effect.mean, effect.error, effect.count, strict=True):
        own = x[found.column("film").values == place]
        assert count == len(own) > 10 and mean == pytest.approx(own.mean())
        assert error == pytest.approx(own.std(ddof=1) / len(own) ** 0.5)


def test_means_and_shares_are_taken_over_independent_cases_alone(results):
    """In the rows between, one thing is as in the first row of its block and the rest as in the last: counted too,
    they would say the same twice.
    """
    assert results.independent.sum() == 64
    assert set(results.numbers[results.independent] % 4) == {0, 3}
    effect = main_effect(results, results.column("tread"), "fundamental_hz")
    assert effect.count.sum() == 64
    assert {found.of for found in yields(results)} == {64}
    assert {spread.count for spread in spreads(results) if spread.figure == "moving_mass_kg"} == {64}
    mean = results.figure("moving_mass_kg")[results.independent].mean()
    assert next(s.mean for s in spreads(results) if s.figure == "moving_mass_kg") == pytest.approx(mean)


def test_the_indices_follow_from_the_sum_that_the_figure_is(results):
    """f = 1e7 h + 1e4 t with deviations 12.5 Hz and 0.6 Hz: the thickness explains 0.998 of the variance."""
    found = {index.variable: index for index in sensitivity(results, "fundamental_hz")}
    assert found["thickness"].total == pytest.approx(12.5**2 / (12.5**2 + 0.6**2), abs=0.1)
    assert abs(found["tread"].total) < 0.05
    assert np.isfinite(found["thickness"].first)


def test_only_a_study_of_distributions_alone_speaks_of_parts(results, tmp_path):
    assert is_tolerance_study(results)
    write_study(tmp_path)
    mixed = VARY.replace('normal = { mean = "25 um", deviation = "5 %" }', 'range = ["20 um", "30 um"]')
    (tmp_path / "study.toml").write_text(mixed)
    study = read_study(tmp_path / "study.toml")
    solve_here(study, tmp_path / "cases.sqlite")
    assert not is_tolerance_study(load_results(study, tmp_path / "cases.sqlite"))


def noise(folder, cases, part=0.0):
    """A study of two things, and a figure that is noise but for a part of its variance, which the first explains."""
    text = '[study]\nbase = "base.toml"\n' + "".join(
        f'[vary.{name}]\nkey = "{key}"\nrange = ["1 mm", "2 mm"]\n'
        for name, key in (("a", "plate.thickness"), ("b", "plate.steps[0].tread"))
    )
    rng = np.random.default_rng(6)  # of 20 seeds one or two have a share of mere chance beyond its interval
    folder.mkdir()
    plan = f'[plan]\nhow = "latin hypercube"\ncases = {cases}\n'

    def x_hz(a, b):
        return {"x_hz": np.sqrt(12 * part) * a + rng.normal(0, np.sqrt(1 - part))}

    with chdir(folder):
        return morning(filled(folder, text, x_hz, plan))


def test_shares_that_few_cases_cannot_tell_are_not_told_and_so_many_would_do(tmp_path):
    few = noise(tmp_path / "few", 12)
    assert not any(index.told for index in few.indices)
    *_, table, words = matter_blocks(few)
    assert [row[2] for row in table.rows] == ["too few cases"] * 2 and "there are 12." in words.text
    enough = max(index.wanted for index in few.indices)
    assert f"Some {-(-enough // 10) * 10} solved cases" in words.text and 100 < enough < 1000
    found = {index.variable: index for index in noise(tmp_path / "enough", enough, part=0.3).indices}
    assert all(index.told for index in found.values())
    # within what was promised, and a third more for the intervals themselves, which are drawn forty times
    assert max(index.error for index in found.values()) < 1.33 * TOLD_WITHIN
    assert found["a"].first == pytest.approx(0.3, abs=TOLD_WITHIN) and found["b"].first < TOLD_WITHIN


def test_the_strongest_pair_of_a_grid_is_that_of_a_product(tmp_path):
    """Of a + b + b c, each -1, 0 or 1, variances are 2/3, 2/3 and 4/9: the pair has 1/4 (Fisher 1925).
    A grid with a hole has none: what the hole moves is no pair's.
    """
    keys = {"a": "plate.thickness", "b": "plate.steps[0].tread", "c": "plate.steps[1].tread"}
    text = '[study]\nbase = "base.toml"\n' + "".join(
        f'[vary.{name}]\nkey = "{key}"\nrange = ["1 mm", "3 mm"]\ncount = 3\n' for name, key in keys.items()
    )
    with chdir(tmp_path):
        found = morning(filled(tmp_path, text, lambda a, b, c: {"x_hz": a + b + (b - 2) * (c - 2)}))
    pair = strongest_pair(found.results, "x_hz")
    assert pair == found.pair and pair.variables == ("b", "c") and pair.share == pytest.approx(0.25)
    told = "comes from variables acting together: of x 25.0 % from b with c, the strongest pair."
    assert told in matter_blocks(found)[1].text
    (tmp_path / "hole").mkdir()
    with chdir(tmp_path / "hole"):
        study = filled(tmp_path / "hole", text, lambda a, b, c: {"x_hz": a + b * c if a * b * c < 27 else None})
        assert strongest_pair(load_results(study), "x_hz") is None


@pytest.mark.parametrize(("plan", "within"), [("Sobol", 0.04), ("LatinHypercube", 0.3)])
def test_shares_of_a_sum_add_up_to_all_of_it(plan, within):
    """3 a + 2 b^2 + sin 6 c has shares of 0.461, 0.219 and 0.321 (integrals by 2^20 points). Of 40 Sobol sequences of
    64 cases each, lines fitted one by one left 0.86 of the sum in the mean and 0.77 at worst, together 1.00 and 0.96.
    """
    from scipy.stats import qmc  # half a second, in each process that collects the tests

    how = "sobol" if plan == "Sobol" else "latin hypercube"
    for seed in range(5):
        at = getattr(qmc, plan)(3, seed=seed).random(64)
        values = 3 * at[:, 0] + 2 * at[:, 1] ** 2 + np.sin(6 * at[:, 2])
        columns = tuple(Column(name, at[:, k]) for k, name in enumerate("abc"))
        told = SimpleNamespace(
            study=SimpleNamespace(how=how), varying=columns, has_gaps=False, figure=lambda _, values=values: values
        )
        found = {index.variable: index for index in sensitivity(told, "x")}
        assert sum(index.first for index in found.values()) == pytest.approx(1, abs=within)
        for name, share in zip("abc", (0.461, 0.219, 0.321), strict=True):
            assert found[name].first == pytest.approx(share, abs=found[name].error)


def test_an_interval_of_chance_alone_is_that_of_the_f_test():
    """4000 draws of pure noise: half of the interval of their adjusted correlation ratio, known to 2 %."""
    rng, n, k = np.random.default_rng(2), 60, 5
    values, group = rng.normal(size=(4000, n)), np.arange(n) % k
    mean = np.stack([values[:, group == g].mean(axis=1) for g in range(k)], axis=1)
    within = ((values - mean[:, group]) ** 2).sum(axis=1) / (n - k)
    ratio = 1 - within / values.var(axis=1, ddof=1)
    assert 1.96 * ratio.std() == pytest.approx(by_chance(n, k), rel=0.05)


def test_a_range_of_few_cases_lies_in_bins_not_in_levels_of_one_case_each(tmp_path):
    effects = {effect.variable: effect for effect in noise(tmp_path / "bins", 12).effects}
    assert len(effects["a"].place) == 4 and effects["a"].count.sum() == 12


@pytest.mark.parametrize(
    ("left", "told"), [(0.9, "They rest on "), (0.05, "cannot be told: no figure varies, or too few")]
)
def test_blocks_that_are_left_out_are_counted(tmp_path, left, told):
    """Without any whole block the page spoke of shares, exact for a grid, and had none."""
    text = '[study]\nbase = "base.toml"\n' + "".join(
        f'[vary.{name}]\nkey = "{key}"\nrange = ["1 mm", "2 mm"]\n'
        for name, key in (("a", "plate.thickness"), ("b", "plate.steps[0].tread"))
    )
    plan = '[plan]\nhow = "sensitivity"\ncases = 256\n'
    with chdir(tmp_path):
        found = morning(filled(tmp_path, text, lambda a, b: {"x_hz": a + b if a < 1 + left else None}, plan))
    _, words, *tables = matter_blocks(found)
    if left > 0.5:
        whole = min(index.cases for index in found.indices)
        assert 0 < whole < 256 and f"{told}{whole} of 256 cases" in words.text and tables
    else:
        assert told in words.text and not tables


@pytest.mark.parametrize(("high", "told"), [(2.1202e-3, "moving mass 2.12 g"), (2.2e-3, "moving mass 2.12 to 2.20 g")])
def test_what_nine_parts_in_ten_have_is_a_span_where_its_ends_read_apart(high, told):
    """The mass of a winner whose sizes alone scatter was told as "2.12 to 2.12 g"."""
    spread = Spread("moving_mass_kg", 4, 2.12e-3, 1e-7, (2.1198e-3, 2.12e-3, high))
    results = SimpleNamespace(independent=np.ones(4, bool), never={})
    assert wished_words(spread, SimpleNamespace(results=results)) == told


def test_a_share_below_nothing_has_the_sign_of_all_other_numbers(tmp_path):
    """What Sobol's estimate has of chance may lie below 0: "-0.0 %" and "-1.7 %" stood beside "−0.3 dB"."""
    found = noise(tmp_path / "few", 400)
    shares = [replace(found.indices[0], first=share, first_error=0.05) for share in (-0.017, -1e-9)]
    *_, table = matter_blocks(replace(found, indices=tuple(shares)))
    assert [row[2] for row in table.rows] == ["−1.7 %", "0.0 %"]


@pytest.mark.parametrize("without", ["discarded", "failed"])
def test_cases_that_fail_make_what_varies_depend_as_much_as_those_ruled_out(tmp_path, monkeypatch, without):
    """x + y over the half of a square in which it is below 1: E(x + y | x) = (1 + x)/2, which varies by 1/72, the sum
    itself by 1/18 (x of density 2(1 - x)). Each explains a quarter; fitted together each was told 100 %, and nothing
    said that cases were missing."""
    monkeypatch.chdir(tmp_path)
    text = '[study]\nbase = "base.toml"\n' + "".join(
        f'[vary.{name}]\nkey = "plate.steps[{place}].tread"\nrange = ["0 mm", "1 mm"]\n'
        for place, name in enumerate("xy")
    )
    plan = '[plan]\nhow = "sobol"\ncases = 2048\n'
    study = filled(tmp_path, text, lambda x, y: {"x_hz": x + y} if x + y < 1 else None, plan, without=without)
    found = morning(study)
    assert [index.first for index in found.indices] == pytest.approx([0.25, 0.25], abs=0.03)
    told = next(block.text for block in matter_blocks(found) if hasattr(block, "text") and "variance" in block.text)
    assert "are missing, and the rest may not vary independently" in told


def test_where_cases_could_not_be_solved_is_told(tmp_path, monkeypatch):
    """Half of a tolerance study failed on one side of a slot's own gap, which the reasons did not say."""
    monkeypatch.chdir(tmp_path)
    text = '[study]\nbase = "base.toml"\n[vary.x]\nkey = "plate.steps[0].tread"\nrange = ["0 mm", "1 mm"]\n'
    text += '[vary.film]\nkey = "plate.material"\nlist = ["one", "other"]\n'
    plan = '[plan]\nhow = "sobol"\ncases = 64\n'

    said = []

    def told(solvable):
        study = filled(tmp_path, text, lambda *case: {"x_hz": 1.0} if solvable(*case) else None, plan, without="failed")
        found = where_unsolved(load_results(study))
        said.append(" ".join(b.text for b in morning_blocks(morning(study), {}, ()) if isinstance(b, Words)))
        (tmp_path / study.store_path).unlink()
        return found and (found.column.name, found.side, found.unsolved, found.solved)

    # a Sobol sequence of 64 has 16 in each quarter; 4 of the other 48 are lost besides
    assert told(lambda x, film: x >= 0.25 and not 0.5 < x < 0.5625) == ("x", "<=", 16, 0)
    assert " cases that were not solved 16 have x of 0.2" in said[0] and "mm or less, of the 44 that were 0." in said[0]
    assert told(lambda x, film: x <= 0.75) == ("x", ">=", 16, 0)
    assert told(lambda x, film: film == "one" or x < 0.1)[:2] == ("film", "==")
    assert " have film other, of the " in said[2]
    assert told(lambda x, film: (x * 1e3) % 1 < 0.5) is None
    assert told(lambda x, film: x > 0.05) is None  # four or fewer are no part


def test_a_morning_without_a_solved_case_says_why(tmp_path, monkeypatch):
    """ "no case has been solved yet" was told of a study that had failed to its end."""
    monkeypatch.chdir(tmp_path)
    text = '[study]\nbase = "base.toml"\n[vary.x]\nkey = "plate.steps[0].tread"\nlist = ["1 mm", "2 mm", "3 mm"]\n'
    with pytest.raises(StudyError, match=r"no case has been solved yet, .*; 3 of 3 failed: by hand$"):
        load_results(filled(tmp_path, text, lambda x: None, '[plan]\nhow = "grid"\n', without="failed"))
