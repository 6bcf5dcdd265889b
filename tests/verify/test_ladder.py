"""Every check of the ladder is a test: one list, two uses."""

import pytest

from diaphragm_fem.verify.ladder import (
    LEAST,
    RUNGS,
    all_checks,
    percent,
    run_check,
    run_ladder,
    select,
    summarise,
)
from diaphragm_fem.verify.tables import rows

MOST = 5.0  # times what it measures is the most that a check may allow
ROUNDING = 1e-7  # below it a difference is mostly rounding, ...
ROUNDING_SCATTER = 30.0  # ... which changed by up to 28 times between processors (wall/former 1.06e-8 and 3.8e-10)


# dear, and each of a kind with one that stays: 9 of 56 s of processor time
REPEATED = {f"radiation/ring-{k}" for k in (0.2, 0.6, 0.8, 0.9)} | {"joined/cone-cylinder-thin"}
REPEATED |= {f"stroke/cap-{k}" for k in ("dead-4", "dead-5", "dead-6", "follower-5", "follower-6")}


@pytest.mark.parametrize(
    "check", [pytest.param(x, id=x.id, marks=[pytest.mark.long] if x.id in REPEATED else []) for x in all_checks()]
)
def test_check_holds(check):
    result = run_check(check)
    assert not result.error, result.error
    index = result.worst
    assert result.passed, (
        f"{check.problem}: {check.quantity} {result.ours.ravel()[index]:.6g}, "
        f"reference {result.reference.ravel()[index]:.6g} "
        f"({check.source}), difference {result.difference:.2e}, allowed {check.allowed:.1e} ({check.reason})"
    )
    size = abs(result.difference)
    most = MOST * size * (ROUNDING_SCATTER if size < ROUNDING else 1.0)
    assert check.allowed <= max(most, LEAST), (
        f"{check.id} allows {check.allowed:.1e}, more than five times the {size:.1e} it measures: "
        f"write '{check.id},{size:.1e}' into verify/tables/measured.csv"
    )


def test_what_was_measured_is_kept_for_every_check_and_no_other():
    kept = [row["id"] for row in rows("measured")]
    assert sorted(kept) == sorted(check.id for check in all_checks())


def test_ids_are_unique_and_every_rung_is_used():
    ids = [check.id for check in all_checks()]
    assert len(ids) == len(set(ids))
    assert {check.rung for check in all_checks()} == {rung.name for rung in RUNGS}
    assert set(ids) > REPEATED


def test_every_check_names_its_source_and_reason():
    for check in all_checks():
        assert len(check.source) > 10 or check.rung in (
            "shell against solid",
            "laws and limits",
            "order of convergence",
        ), check.id
        assert check.reason and check.problem and check.quantity, check.id
        assert 0 < check.allowed < 0.2 or check.id == "law/rate", check.id


def test_a_wrong_value_fails_and_a_crash_is_reported():
    from dataclasses import replace

    check = select("static/hemisphere")[0]
    assert run_check(check).passed
    exact = check.values()[0]
    off = replace(check, values=lambda: (exact, exact * 1.01))
    assert not run_check(off).passed
    assert run_check(off).difference == pytest.approx(0.01)

    def crash():
        raise ValueError("no such wall")

    broken = run_check(replace(check, values=crash))
    assert not broken.passed and "no such wall" in broken.error and percent(broken.difference) == "failed"


def test_summary_tells_the_worst_of_each_rung():
    results = run_ladder(select("static/*"))
    table = summarise(results)
    assert [row.rung for row in table] == ["shells and plates at rest"]
    assert table[0].worst == max(abs(r.difference) for r in results)
