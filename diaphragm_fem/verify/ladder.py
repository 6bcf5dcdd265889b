"""The ladder: every check once, in rungs from a flat disc to a stepped V, run by the command and the tests alike."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from functools import cache
from math import inf
from time import perf_counter

import numpy as np
from threadpoolctl import ThreadpoolController

from diaphragm_fem.verify.check import Check, CheckResult
from diaphragm_fem.verify.rungs import (
    air_chambers,
    air_driven,
    air_parts,
    areas,
    cylinders,
    joined,
    large_stroke,
    laws,
    plates,
    radiating_shapes,
    radiation,
    rates,
    solids,
    spheres,
    statics,
    thick_plates,
    walls,
)
from diaphragm_fem.verify.tables import rows


@dataclass(frozen=True)
class Rung:
    """A group of checks: its name, and in short what they are held against."""

    name: str
    against: str


RUNGS = (
    Rung("thin circular plates", "Bessel determinants, Leissa (1969)"),
    Rung("annular plates", "Bessel determinants, problem of Vogel and Skinner (1965)"),
    Rung("plates that carry a ring", "Bessel determinants with a jump of shear, Leissa (1969)"),
    Rung("moderately thick plates", "Mindlin and Deresiewicz (1954), Irie et al. (1982), solved exactly"),
    Rung("cylinders", "Fluegge (1960); three-dimensional elasticity (Armenakas et al. 1969)"),
    Rung("spheres", "Lamb (1882): membrane form and exact hollow sphere"),
    Rung("spherical caps", "separate high-order solver; the shell of Kalnins (1964)"),
    Rung("open spherical shells", "Qu et al. (2013); Shock and Vibration (2020) 4130103"),
    Rung("truncated cones", "independent Ritz solver; geometry of Irie et al. (1984)"),
    Rung("joined shells with a kink", "independent Ritz solver; geometry of Efraim and Eisenberger (2006)"),
    Rung("domes, rolls and steps", "independent Ritz solver"),
    Rung("layers, tapers, rings and formers", "neutral-surface plates; extensional ring, Hoppe (1871); Ritz solver"),
    Rung("printed tables of few digits", "Leissa (1969) to three digits; a published thin-shell pipe"),
    Rung("solids", "NAFEMS FV41 and FV42 (1990); exact hollow sphere; elasticity of cylinders"),
    Rung("shell against solid", "two models that share no equations; a thick plate by Mindlin's theory"),
    Rung("shells and plates at rest", "Timoshenko and Woinowsky-Krieger (1959); Reissner (1946)"),
    Rung("large stroke", "closed form under tension; von Karman (1910), solved exactly; separate exact shell"),
    Rung("effective area", "Bessel closed forms with and without loss; independent Ritz solver"),
    Rung("lumped limits", "mass on a spring"),
    Rung("air, motor and lines", "CIPM-2007 and Cramer (1993); slit functions; nodal matrices; potential flow"),
    Rung("thin chambers", "Bessel functions; separate elements in two dimensions"),
    Rung("radiation", "Bessel and King integrals; exact spheres; separate elements of domes, bowls and a V recess"),
    Rung("laws and limits", "similarity, reciprocity, equal descriptions, limits"),
    Rung("order of convergence", "fourth power of the element size; second to third at free edges, m >= 1"),
)


MARGIN = 4.0  # times what a check was last measured to differ by: all that it may differ by
LEAST = 1e-10  # allowed everywhere: below it rounding differs from machine to machine

MODULES = (
    plates, thick_plates, cylinders, spheres, joined, walls, solids, statics, large_stroke, areas, laws, rates,
    air_parts, air_chambers, air_driven, radiation, radiating_shapes,
)  # fmt: skip


@cache
def all_checks() -> tuple[Check, ...]:
    """Every check in the order of the rungs, each allowed what its reason gives, or less where it was measured to hold
    more closely."""
    most = {row["id"]: max(MARGIN * float(row["measured"]), LEAST) for row in rows("measured")}
    found = [check for module in MODULES for check in module.checks()]
    order = [rung.name for rung in RUNGS]
    found.sort(key=lambda check: order.index(check.rung))
    return tuple(replace(check, allowed=min(check.allowed, most.get(check.id, inf))) for check in found)


def select(pattern: str = "*") -> tuple[Check, ...]:
    """Checks whose id or rung matches a shell pattern, for example "plate/*" or "spheres"."""
    return tuple(check for check in all_checks() if fnmatch(check.id, pattern) or fnmatch(check.rung, pattern))


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
            worst, values = max(members, key=lambda r: abs(r.difference)), sum(r.reference.size for r in members)
            told = len(members), values, abs(worst.difference), worst.check.allowed, all(r.passed for r in members)
            found.append(RungSummary(rung.name, rung.against, *told))
    return found


def percent(value: float) -> str:
    """A relative difference in per cent with two significant digits; tiny ones say so."""
    if not np.isfinite(value):
        return "failed"
    size = abs(value) * 100
    return "< 0.001 %" if size < 1e-3 else f"{size:.2g} %"
