"""A run of the ladder in blocks: every check with its source, ours, the difference and what it may be."""

from collections.abc import Sequence

import numpy as np

from diaphragm_fem.report.blocks.blocks import Block, Heading, Picture, Points, Table, Words
from diaphragm_fem.report.words.words import digits, one
from diaphragm_fem.verify.check import CheckResult
from diaphragm_fem.verify.ladder import RUNGS, percent, summarise

HEAD = ("check", "result", "difference", "allowed", "reference", "ours", "problem", "quantity")
"""What decides comes first: the last columns of a wide table are out of sight on a page."""


def verification_blocks(results: Sequence[CheckResult], pictures: Sequence[Picture] = ()) -> list[Block]:
    """Opening, figure, accuracy table, where published values disagree, then every check rung by rung."""
    blocks: list[Block] = [Words(_opening(results)), *pictures]
    blocks += [Heading("Accuracy, rung by rung"), _accuracy(results)]
    notes = [(r.check, r.check.note) for r in results if r.check.note]
    if notes:
        rows = [(check.problem, note) for check, note in notes]
        blocks += [Heading("Where published values disagree"), Table(("problem", "what was found"), rows, 2)]
    for rung in RUNGS:
        members = [r for r in results if r.check.rung == rung.name]
        if members:
            blocks += [Heading(rung.name[0].upper() + rung.name[1:]), Points(_sources(members)), _checks(members)]
    return blocks


def brief_blocks(results: Sequence[CheckResult]) -> list[Block]:
    """A line per rung, and each check that failed."""
    rungs = _accuracy(results)
    told = [[row[0], *row[2:]] for row in (rungs.head, *rungs.rows)]  # without what they are held against
    blocks: list[Block] = [Table(told[0], told[1:])]
    failed = [result for result in results if not result.passed]
    return [*blocks, Heading("Failed"), _checks(failed)] if failed else blocks


def _opening(results: Sequence[CheckResult]) -> str:
    passed = sum(r.passed for r in results)
    values = sum(r.reference.size for r in results)
    seconds = sum(r.seconds for r in results)
    words = (
        f"{passed} of {one(len(results), 'check')} passed; {values} values were compared in {seconds:.0f} s on this "
        "machine. Each check shows its worst value. A difference is relative to the reference value, or to the largest "
        "reference value of the check where a curve passes through zero."
    )
    failed = [r.check.id for r in results if not r.passed]
    return words + (f" Failed: {', '.join(failed)}." if failed else "")


def _accuracy(results: Sequence[CheckResult]) -> Table:
    rows = [
        (s.rung, s.against, str(s.checks), str(s.values), percent(s.worst), "pass" if s.passed else "FAIL")
        for s in summarise(results)
    ]
    return Table(("rung", "held against", "checks", "values", "worst difference", "result"), rows, 2)


def _sources(members: Sequence[CheckResult]) -> list[str]:
    """The sources of a rung's checks, each once, and the reasons for what they allow."""
    sources = [f"Reference: {source}." for source in dict.fromkeys(r.check.source for r in members)]
    most: dict[str, float] = {}
    for check in (r.check for r in members):
        most[check.reason] = max(most.get(check.reason, 0.0), check.allowed)
    return [*sources, *(f"Allowed, {percent(allowed)} at most: {reason}." for reason, allowed in most.items())]


def _checks(members: Sequence[CheckResult]) -> Table:
    return Table(HEAD, [_row(result) for result in members], 2, words=(6, 7))


def _row(result: CheckResult) -> tuple[str, ...]:
    check = result.check
    if result.error:
        return (check.id, "FAIL", "", percent(check.allowed), "", result.error, check.problem, check.quantity)
    reference, ours = result.reference.ravel()[result.worst], result.ours.ravel()[result.worst]
    apart = "pass" if result.passed else "FAIL", signed_percent(result.difference), percent(check.allowed)
    return (check.id, *apart, show_value(reference), show_value(ours), check.problem, check.quantity)


def show_value(value: complex | float) -> str:
    """A value with six digits; a complex one as real and imaginary part with four."""
    if isinstance(value, complex | np.complexfloating):
        sign = "+" if value.imag >= 0 else "−"
        return f"{_number(value.real, 4)} {sign} {_number(abs(value.imag), 4)} i"
    return _number(float(value), 6)


def _number(value: float, count: int) -> str:
    """Plain digits where they are readable, a power of ten for the very small and very large."""
    if value == 0 or 1e-3 <= abs(value) < 1e7:
        return digits(value, count)
    mantissa, power = f"{value:.{count - 1}e}".split("e")
    return f"{mantissa.replace('-', '−')}·10^{int(power)}"


def signed_percent(value: float) -> str:
    """A relative difference with its sign, so that a bias can be seen."""
    words = percent(value)
    if words[0] == "<" or not np.isfinite(value):
        return words
    return ("+" if value > 0 else "−") + words
