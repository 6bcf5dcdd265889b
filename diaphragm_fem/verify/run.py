"""Run the ladder, or part of it, and sum it up."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from time import perf_counter

import numpy as np
from threadpoolctl import ThreadpoolController

from diaphragm_fem.verify.check import Check, CheckResult
from diaphragm_fem.verify.ladder import RUNGS, all_checks


@cache
def _threads() -> ThreadpoolController:
    return ThreadpoolController()


def run_check(check: Check) -> CheckResult:
    """Run one check; whatever goes wrong becomes a failed result with its message, so that the others still run.

    The linear algebra runs on one thread: the matrices are small, and two threads only wait for each other.
    """
    start = perf_counter()
    error = ""
    try:
        with _threads().limit(limits=1):
            reference, ours = check.values()
        if ours.shape != reference.shape:
            error = f"expected values of shape {reference.shape}, received {ours.shape}"
    except Exception as problem:  # a check must never end the run
        nothing = np.full(1, np.nan)
        reference, ours, error = nothing, nothing, f"{type(problem).__name__}: {problem}"
    return CheckResult(check, reference, ours, perf_counter() - start, error)


def run_ladder(
    checks: Iterable[Check] | None = None, progress: Callable[[CheckResult], None] | None = None
) -> list[CheckResult]:
    """Run all checks, or those given; `progress` hears of each result as it comes."""
    results = []
    for check in all_checks() if checks is None else checks:
        result = run_check(check)
        if progress is not None:
            progress(result)
        results.append(result)
    return results


@dataclass(frozen=True)
class RungSummary:
    """One row of the accuracy table: the worst relative difference of a rung and what its check allows."""

    rung: str
    against: str
    checks: int
    values: int
    worst: float
    allowed: float
    passed: bool


def summarise(results: Iterable[CheckResult]) -> list[RungSummary]:
    """The accuracy table: one row per rung that has results, in the order of the ladder."""
    listed = list(results)
    found = []
    for rung in RUNGS:
        members = [r for r in listed if r.check.rung == rung.name]
        if members:
            worst = max(members, key=lambda r: abs(r.difference))
            found.append(
                RungSummary(
                    rung.name,
                    rung.against,
                    len(members),
                    sum(r.reference.size for r in members),
                    abs(worst.difference),
                    worst.check.allowed,
                    all(r.passed for r in members),
                )
            )
    return found


def accuracy_markdown(results: Iterable[CheckResult]) -> str:
    """The accuracy table in Markdown, as the README shows it."""
    lines = ["| What | Held against | Values | Worst difference |", "|---|---|---:|---:|"]
    for row in summarise(results):
        lines.append(f"| {row.rung} | {row.against} | {row.values} | {percent(row.worst)} |")
    return "\n".join(lines) + "\n"


def percent(value: float) -> str:
    """A relative difference in per cent with two significant digits; tiny ones say so."""
    if not np.isfinite(value):
        return "failed"
    size = abs(value) * 100
    return "< 0.001 %" if size < 1e-3 else f"{size:.2g} %"
