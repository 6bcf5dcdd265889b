"""Blocks of the morning page about what varies: yields, spreads, and what each figure's variance comes from."""

from collections.abc import Iterable

import numpy as np

from diaphragm_fem.report.blocks.blocks import Block, Heading, Table, Words
from diaphragm_fem.report.words.study import limit_words, naming, yield_words
from diaphragm_fem.report.words.words import NONE, join_words, one, printed, signed
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.effects import TOLD_WITHIN, Pair
from diaphragm_fem.study.morning.scatter import Spread, at_once
from diaphragm_fem.study.plan.study import SPREADS, Variable
from diaphragm_fem.study.plan.wish import is_inside

TOO_FEW = "too few cases"
INTERVAL = "the 95 % interval of as many cases drawn by lot"
LEAST_PAIR = 0.005  # of a figure's variance: a weaker pair is not told


def scatter_blocks(morning: Morning) -> list[Block]:
    """Yield, what narrowing each scatter would bring, and the spread of every figure; empty unless parts scatter."""
    if not morning.tolerance:
        return []
    head = ["figure", "parts that have it", "mean", "deviation", "5 %", "middle", "95 %"]
    rows = []
    for spread in morning.spreads:
        figure = naming(spread.figure)
        cells = [figure.bare(value) for value in (spread.mean, spread.deviation, *spread.percentiles)]
        rows.append([figure.label, f"{spread.count} of {int(morning.results.independent.sum())}", *cells])
    return [*yield_blocks(morning), Table(head, rows)]


def yield_blocks(morning: Morning) -> list[Block]:
    """Yield and what narrowing each scatter would bring; empty unless parts scatter."""
    if not morning.tolerance:
        return []
    blocks: list[Block] = [Heading("Manufacturing scatter"), Words(_put_in(morning.results.study.recipe.variables))]
    if morning.yields:
        rows = []
        for found in morning.yields:
            share, interval = f"{100 * found.share:.1f} %", f"{100 * found.low:.1f} to {100 * found.high:.1f} %"
            rows.append([yield_words(found, morning), share, interval, f"{found.passing} of {found.of}"])
        note = "Yield over the parts that were solved, its interval of 95 % by Wilson (1927)."
        if unsolved := unsolved_parts(morning):
            least = morning.yields[-1].passing / (morning.yields[-1].of + unsolved)
            note += f" {one(unsolved, 'part')} could not be solved, which counts neither way: were none of them good, "
            note += f"{100 * least:.1f} % would keep to all limits."
        blocks += [Words(note), Table(["limit", "yield", "95 % interval", "parts"], rows), *_middle(morning)]
    return [*blocks, *_if_halved(morning)]


def _put_in(variables: Iterable[Variable]) -> str:
    """The scatter on which the yield rests: who reads "100 % of the parts" has to see by how much they were varied."""
    told = [_scatter_words(one) for one in variables if one.source in SPREADS]
    return f"What scatters, and how (±: standard deviation): {'; '.join(told)}."


def _scatter_words(variable: Variable) -> str:
    """ "tread in 0.6 ± 0.03 mm", "width 4.9 to 5.1 mm evenly", "most at 5 mm" of a triangle."""
    numbers, unit = [f"{float(number):.4g}" for number in variable.numbers], printed(f"1 {variable.unit}")[2:]
    if SPREADS[variable.source] == SPREADS["normal"]:
        told = f"{numbers[0]} ± {numbers[1]} {unit}".rstrip() + " (lognormal)" * (variable.source == "lognormal")
    else:
        ways = {"uniform": "evenly", "triangular": f"most at {numbers[1]}"}
        told = f"{numbers[0]} to {numbers[-1]} {unit}".rstrip() + f", {ways[variable.source]}"
    follows = f" times {variable.of.replace('_', ' ')}" if variable.of else ""
    return f"{variable.name.replace('_', ' ')} {told}{follows}"


def unsolved_parts(morning: Morning) -> int:
    """How many parts failed; nothing in a sensitivity plan, not all of whose cases are parts."""
    counts, how = morning.results.counts, morning.results.study.how
    return 0 if how == "sensitivity" else sum(counts.get(status, 0) for status in ("failed", "stopped"))


def _middle(morning: Morning) -> list[Block]:
    """Which limits the base design breaks itself, so that less scatter does not help."""
    limits, base = morning.results.study.limits, morning.base.found
    broken = [name for name, own in limits.items() if base.figures and not is_inside(base.judged, {name: own})]
    if not broken:
        return []
    told = [f"{limit_words(name, limits[name])} ({naming(name).text(morning.base.figure(name), 4)})" for name in broken]
    return [Words(f"The base design itself does not keep to {join_words(told)}: move it before narrowing any scatter.")]


def wished_words(spread: Spread, morning: Morning) -> str:
    """ "shelf band 3.9 to 5.6 octaves": between which values nine parts in ten lie, one where both read alike,
    and how many have none."""
    figure = naming(spread.figure)
    low, _, high = (figure.text(value) for value in spread.percentiles)
    results = morning.results
    without = int(results.independent.sum()) - spread.count
    never = results.never.get(spread.figure, np.empty(0))
    sought = never[np.isfinite(never)]
    up_to = f" up to {figure.text(sought.min())}" if len(sought) and sought.min() > 0 else ""
    none = f" ({without} {'has' if without == 1 else 'have'} none{up_to})" if without else ""
    span = "" if low == high else f"{low.removesuffix(high.lstrip('−-0123456789.'))} to "
    return f"{figure.words} {span}{high}{none}"


def _if_halved(morning: Morning) -> list[Block]:
    if not morning.halved:
        return []
    rows = [
        [found.variable.replace("_", " "), f"{100 * found.share:.1f} %", f"{signed(100 * found.gain, 1)} %",
         f"{100 * found.error:.1f} %"]
        for found in morning.halved
    ]  # fmt: skip
    words = "The yield against all limits if one scatter were half as wide, from the same parts, weighted."
    best, several = morning.halved[0], len(morning.halved)
    wider, among = at_once(several), f" among {several}" * (several > 1)  # beside a ± that is of each alone
    if not best.gain > wider * best.error:
        words += f" None brings more than these parts can tell from chance{among}: draw more of them."
    worst = morning.halved[-1]
    if -worst.gain > wider * worst.error:
        words += (
            f" Less scatter of {worst.variable.replace('_', ' ')} loses yield: the middle of the parts lies beyond "
            "a limit, so move that first."
        )
    return [Words(words), Table(["scatter halved", "yield", "change", "±"], rows)]


def matter_blocks(morning: Morning) -> list[Block]:
    """What the variance of each figure comes from."""
    if not morning.indices and not morning.effects:
        return []
    totals = any(np.isfinite(index.total) for index in morning.indices)
    if not morning.indices:
        words = "What the variance comes from cannot be told: no figure varies, or too few cases have one."
    elif totals:
        words = (
            "Sobol indices: the share of a figure's variance that a variable explains alone, and together with "
            f"others, within {INTERVAL}."
        )
        least, drawn = min(index.cases for index in morning.indices), sum(morning.results.counts.values())
        if least < drawn:
            words += (
                f" They rest on {least} of {drawn} cases: a block with one that has no figure is left out whole, and "
                "shares are those of the rest."
            )
    else:
        exact = are_exact(morning)
        words = (
            "Share of a figure's variance that each variable explains alone"
            + (", exact for this grid" if exact else f", within {INTERVAL}")
            + "; what is missing to 100 %"
            + ("" if exact else " beyond that")
            + " comes from variables acting together"
            + (_pair_words(morning.pair) or '. A plan "sensitivity" splits that too.')
        )
    if morning.indices and morning.results.has_gaps:
        words += (
            " Cases that were ruled out or not solved are missing, and the rest may not vary independently: shares "
            "may then overlap and add up to more than 100 %."
        )
    head = ["figure", "variable", "alone", "±", *(["with others", "±"] if totals else [])]
    rows = []
    for index in morning.indices:
        cells = [_percent(index.first), _percent(index.first_error) if index.first_error else "exact"]
        if totals:
            cells += [_percent(index.total), _percent(index.total_error)]
        if not index.told:
            cells = [TOO_FEW, *[""] * (len(cells) - 1)]
        rows.append([naming(index.figure).words, index.variable.replace("_", " "), *cells])
    told = [Table(head, rows, 2)] if rows else []
    few = too_few_words(morning)
    return [Heading("What matters"), Words(words), *told, *([Words(few)] if few else [])]


def _pair_words(pair: Pair | None) -> str:
    if pair is None or pair.share < LEAST_PAIR:
        return ""
    one, other = (name.replace("_", " ") for name in pair.variables)
    return f": of {naming(pair.figure).words} {_percent(pair.share)} from {one} with {other}, the strongest pair."


def are_exact(morning: Morning) -> bool:
    """Whether shares and means owe nothing to chance: those of a whole grid."""
    return bool(morning.indices) and not any(index.error for index in morning.indices)


def too_few_words(morning: Morning) -> str:
    """That cases are too few to tell some shares, and how many would do; "" where all are told."""
    untold = [index for index in morning.indices if not index.told]
    if not untold:
        return ""
    most = max(index.wanted for index in untold)
    size = 10 ** max(len(str(most)) - 2, 0)
    within = f"{100 * TOLD_WITHIN:.0f} %"
    return (
        f"{TOO_FEW.capitalize()}: a share of less than twice its own interval, and that wider than {within}, is not "
        f"told. Some {-(-most // size) * size} solved cases would tell every share within {within}; "
        f"there are {max(index.cases for index in untold)}."
    )


def _percent(share: float) -> str:
    """ "−3.8 %"; what rounds to nothing has no sign."""
    return f"{round(100 * share, 1) + 0.0:.1f} %".replace("-", "−") if np.isfinite(share) else NONE
