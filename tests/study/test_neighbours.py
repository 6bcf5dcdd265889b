"""Around the winner: manufacturing errors on both sides of it, ends of the study's ranges, and cases as good as it."""

import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from filled_studies import filled

from diaphragm_fem.report.blocks.blocks import Words
from diaphragm_fem.report.contents.around_winner import around_blocks
from diaphragm_fem.report.contents.morning import morning_blocks, ranking_blocks
from diaphragm_fem.study.morning import morning
from diaphragm_fem.study.morning.beside import drawn_amounts
from diaphragm_fem.study.morning.neighbours import assumed_scatter
from diaphragm_fem.study.plan.amount import amount_in_si
from diaphragm_fem.study.plan.study import Recipe, Variable
from diaphragm_fem.study.run.case_row import CaseResult

HEAD = '[study]\nbase = "base.toml"\n'
TREAD = '[vary.tread]\nkey = "plate.steps[0].tread"\nrange = ["1 mm", "2 mm"]\ncount = {}\n'
WALL = '[vary.wall]\nkey = "plate.thickness"\nrange = ["10 um", "20 um"]\ncount = {}\n'
IDLE = '[vary.idle]\nkey = "plate.steps[1].tread"\nrange = ["1 mm", "2 mm"]\ncount = 3\n'
HIGH = '[morning]\nwish = [{ figure = "x_hz", aim = "high" }]\n'


@pytest.fixture
def told(tmp_path, monkeypatch):
    """A morning whose designs have, solved or stored, the figures of one function of tread in mm and wall in um."""

    def solved(text, figures_of, more=HIGH):
        folder = Path(tempfile.mkdtemp(dir=tmp_path))
        monkeypatch.chdir(folder)

        recipes = []

        def evaluate(design, recipe=None):
            recipes.append(recipe)
            plate = design["plate"]
            return CaseResult(
                figures_of(1e3 * amount_in_si(plate["steps"][0]["tread"]), 1e6 * amount_in_si(plate["thickness"]))
            )

        monkeypatch.setattr("diaphragm_fem.study.morning.beside.find_evaluator", lambda name: evaluate)
        walls = "vary.wall" in text
        found = morning(
            filled(folder, text + more, lambda tread, *others: figures_of(tread, others[0] if walls else 25.0))
        )
        assert all(recipe is recipes[0] for recipe in recipes)  # for which a solver makes ready once
        return found

    return solved


def words(blocks):
    return " ".join(block.text for block in blocks if isinstance(block, Words))


def hill(tread, wall):
    return {"x_hz": 100 - 50 * (tread - 1.5) ** 2 - 0.01 * wall}


def spike(tread, wall):
    """A spike as wide as 0.02 mm, before a hill on which the next ranks stand."""
    return {"x_hz": 100.0 if abs(tread - 1.5) < 0.01 else 70 - 10 * (tread - 1.8) ** 2 - 0.01 * wall}


def edge(tread, wall):
    return {"x_hz": 100 + tread - 0.1 * wall, "y_hz": 1e3 * (tread > 1.29)}


def changes(found):
    return [(near.variable, near.change) for near in found.neighbourhood.behind]


def test_a_coarse_grid_tells_a_plateau_from_a_needle(told):
    found = told(HEAD + TREAD.format(3) + WALL.format(3), hill)
    assert [(n.variable, n.change) for n in found.neighbourhood.neighbours] == [
        ("tread", "−0.03 mm"), ("tread", "+0.03 mm"), ("wall", "−4 %"), ("wall", "+4 %"),
    ]  # fmt: skip
    amounts = [near.design.amounts for near in found.neighbourhood.neighbours]
    assert [one["tread"] for one in amounts] == ["1.47 mm", "1.53 mm", "1.5 mm", "1.5 mm"]
    assert [one["wall"] for one in amounts] == ["10 um", "10 um", "9.6 um", "10.4 um"]
    assert not found.neighbourhood.behind
    assert "stands on a plateau" in (text := words(around_blocks(found, ())))
    # 0.03 mm aside costs 0.045 of 12.6 Hz between best and worst
    assert f"a score of {1 - 0.045 / 12.6:.3f} at least, of 1.000." in text
    assert "With " not in text  # 0.045 of 100 Hz cannot be told
    lonely = told(HEAD + TREAD.format(3) + WALL.format(3), spike)
    assert changes(lonely) == [("tread", "−0.03 mm"), ("tread", "+0.03 mm")]
    text = words(around_blocks(lonely, ()))
    assert (
        "Case 3 stands on a needle" in text
        and "a fifth of its score with −0.03 mm of tread and +0.03 mm of tread." in text
    )
    assert "With −0.03 mm of tread it has x 68.8 Hz, not 100 Hz." in text
    # of the spike's other walls nothing is steadier; the first of the hill is rank 4
    assert lonely.neighbourhood.steady == 4 and "The first that keeps up is rank 4." in text


def test_what_errors_cost_is_told_on_a_plateau_too(told):
    """Of a stepped V 0.03 mm of tread took 0.6 of 6.1 octaves of shelf band, and "small errors cost it little"."""
    found = told(HEAD + TREAD.format(3), lambda tread, wall: {"x_hz": 100 - 100 * abs(tread - 1.5)})
    text = words(around_blocks(found, ()))
    assert not found.neighbourhood.behind and "no small manufacturing error costs it a fifth of its score" in text
    assert " of 1.000. With −0.03 mm of tread it has x 97.0 Hz, not 100 Hz. Such errors" in text


def test_a_score_that_falls_for_what_cannot_be_told_makes_no_needle(told):
    """Of 30 layouts of slots whose spreads lay within 0.9 dB the winner stood on a needle for 0.3 dB."""

    def flat(tread, wall):
        return {"x_hz": 100 + 0.8 * (tread == 1.5) - 0.5 * abs(tread - 1.5)}

    found = told(HEAD + TREAD.format(3), flat)
    around = found.neighbourhood.neighbours
    assert all(near.design.score < 0.8 * found.best[0].score for near in around)  # 1 % is all that is told apart
    apart = [found.ranking.alike("x_hz", near.design.found.figures["x_hz"], 100.8) for near in around]
    assert apart == [True, True] and not found.neighbourhood.behind
    assert " of 1.000, for differences that cannot be told apart." in words(around_blocks(found, ()))


def test_a_limit_broken_by_what_is_better_is_no_fall(told):
    """The needle was told by "it has x 132 Hz, not 129 Hz", where x is wished high."""
    limit = HIGH + "limits = { y_hz = { below = 1 } }\n"
    found = told(HEAD + TREAD.format(101), lambda x, _: {"x_hz": 100 * x, "y_hz": 1e3 * (x > 1.29)}, limit)
    assert changes(found) == [("tread", "+0.03 mm")]
    assert "one at a time, it breaks a limit with +0.03 mm of tread. The first that" in words(around_blocks(found, ()))


def test_a_rank_whose_neighbours_cannot_be_solved_does_not_keep_up(told):
    def alone(tread, wall):
        """A spike at 1.5 mm before three treads that nothing near them bears."""
        at = {1.0: 60.0, 1.25: 61.0, 1.5: 100.0, 1.75: 62.0, 2.0: 63.0, 1.47: 1.0, 1.53: 1.0}.get(round(tread, 4))
        return {} if at is None else {"x_hz": at}

    found = told(HEAD + TREAD.format(5), alone)
    assert len(changes(found)) == 2 and found.neighbourhood.steady is None
    text = words(around_blocks(found, ()))
    assert "+0.03 mm of tread. With −0.03 mm of tread it has x 1.00 Hz, not 100 Hz. None of the next ranks" in text
    assert " keeps up either. Such errors are assumed" in text
    one = replace(found, best=found.best[:1])
    assert "keeps up" not in words(around_blocks(one, ()))


def test_an_error_that_breaks_a_limit_or_cannot_be_solved_makes_a_needle(told):
    limit = HIGH + "limits = { y_hz = { below = 1 } }\n"
    found = told(HEAD + TREAD.format(101), edge, limit)
    assert found.best[0].amounts["tread"] == "1.29 mm" and changes(found) == [("tread", "+0.03 mm")]

    def breaks(tread, wall):
        return hill(tread, wall) if tread < 1.52 else {}

    found = told(HEAD + TREAD.format(3), breaks)
    assert changes(found) == [("tread", "+0.03 mm")]
    text = words(around_blocks(found, ()))  # what cannot be solved was told as if it cost the lead
    assert "Case 1 stands on the edge of what can be solved." in text
    assert "one at a time, it cannot be solved with +0.03 mm of tread." in text


def test_a_thing_that_does_nothing_stands_at_no_end(told):
    """The first of equal cases wins, so that its idle lies at the low end: nothing lies beyond."""
    assert told(HEAD + TREAD.format(3) + IDLE, hill).neighbourhood.at_end == ()
    rising = told(HEAD + TREAD.format(3) + IDLE, lambda tread, wall: {"x_hz": 10 * tread})
    assert rising.neighbourhood.at_end == ("tread",)


def test_an_end_is_one_of_the_study_not_of_what_keep_has_left(told):
    """Two cases in three ruled out: the longest tread of those left was called the end of its range."""
    text = HEAD + TREAD.format(11)
    assert told(text, lambda tread, wall: {"x_hz": 10 * tread}).neighbourhood.at_end == ("tread",)
    cut = told(text, lambda tread, wall: {"x_hz": 10 * tread} if tread < 1.35 else None)
    assert cut.neighbourhood.at_end == () and cut.best[0].amounts["tread"] == "1.3 mm"


def test_all_cases_as_good_as_the_winner_are_counted(told):
    found = told(HEAD + TREAD.format(101), hill)
    # 100 - 0.25 Hz less 1 %: within 0.14 mm of the middle
    assert len(found.neighbourhood.tied) == 29
    told_so = "Ranks 1 to 5 are a tie, and 29 cases as they were solved are as good as the winner: what is wished for"
    assert told_so in words(ranking_blocks(found, ()))


def test_the_best_along_a_limit_are_those_that_keep_to_it_once_rounded(told):
    """Rounding to 0.1 mm takes the five best, 1.25 to 1.29 mm, beyond 1.29 mm: those behind them are the best."""
    drawn = HIGH + 'limits = { y_hz = { below = 1 } }\ndrawn = { tread = "0.1 mm" }\n'
    found = told(HEAD + TREAD.format(101), edge, drawn)
    assert found.best[0].amounts["tread"] == "1.2 mm" and found.best[0].inside


def test_a_best_that_no_drawing_keeps_inside_is_not_called_the_best(told):
    def narrow(tread, wall):
        return {"x_hz": 10 * tread, "y_hz": abs(tread - 1.5)}

    limit = HIGH + 'limits = { y_hz = { below = 0.1 } }\ndrawn = { tread = "2 mm" }\n'
    found = told(HEAD + TREAD.format(11), narrow, limit)
    lead = morning_blocks(found, {}, ())[0].text
    assert lead.startswith("Of the best none keeps to all limits as drawn; the first is case 5, rounded for a drawing:")


def test_a_base_design_that_beats_every_case_is_told_at_once(told):
    for loss, words in (
        (10.0, "The base design is better."),
        (1.0, "The base design is as good, as far as figures can"),
    ):
        found = told(HEAD + TREAD.format(3), lambda tread, wall, loss=loss: {"x_hz": 100 - loss * abs(tread - 1.2)})
        assert f"tread 1 mm. {words}" in morning_blocks(found, {}, ())[0].text


def test_a_case_that_rounding_took_from_the_winner_is_no_tie(told):
    """Of 11 treads that of 1.6 mm is best by far; drawn in whole millimetres it is the case of 2 mm, and no better."""
    rounded = HIGH + 'drawn = { tread = "1 mm" }\n'
    found = told(HEAD + TREAD.format(11), lambda tread, wall: {"x_hz": 100 - 50 * abs(tread - 1.6)}, rounded)
    assert found.best[0].amounts["tread"] == "2 mm"
    treads = [amount_in_si(found.results.written[case][0]) for case in found.neighbourhood.tied]
    assert treads == pytest.approx([1.2e-3, 2e-3])  # 80 Hz both; that of 1.6 mm has 100


def test_a_factor_of_drawn_faces_is_a_thickness_and_1_where_a_design_leaves_it_out():
    """The base design stood as "none" in the ranking, and half the scatter of a thickness was tried."""
    factor = Variable("film", ('profile.thickness_factor."outer step"',), "range", (0.6, 1.6))
    other = Variable("given", ("profile.thickness_factor.rim",), "range", (0.6, 1.6))
    recipe = Recipe({"profile": {"kind": "free", "thickness_factor": {"rim": 0.8}}}, "part.toml", (factor, other))
    assert drawn_amounts(recipe, recipe.base) == {"film": 1.0, "given": 0.8}
    assert assumed_scatter(factor, 0.6) == "4 %"
