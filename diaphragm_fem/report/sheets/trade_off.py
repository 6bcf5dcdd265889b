"""Sheet of a study's morning: every case over two figures."""

from collections.abc import Sequence
from math import ceil

import numpy as np

from diaphragm_fem.report.sheets.callouts import number_points
from diaphragm_fem.report.sheets.morning_marks import BASE_MARK, BEST, CLOUD, LINE, NEAR_MISS, tell_inputs
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import SMALL, pale
from diaphragm_fem.report.words.study import aim_words, naming
from diaphragm_fem.report.words.words import one
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.beside import Beside

MOST_POINTS = 20000


def has_trade_off(morning: Morning) -> bool:
    """Whether two figures are at stake and some case has both."""
    if len(names := _traded(morning)) < 2 or (morning.ranking is None and not morning.aims):
        return False
    both = [np.isfinite(morning.results.judged(name)) for name in names[:2]]
    return bool((both[0] & both[1]).any())


def _traded(morning: Morning) -> list[str]:
    return list(morning.aims) if len(morning.aims) > 1 else list(morning.figures[:4])


def trade_off_sheet(sheet: Sheet, morning: Morning) -> str:
    """Sheet with every case over two figures: the cloud, the front that nothing beats, the best ones by number."""
    results = morning.results
    x_name, y_name = _traded(morning)[:2]
    x, y = naming(x_name), naming(y_name)
    across, up = x.shown(results.judged(x_name)), y.shown(results.judged(y_name))
    known = np.flatnonzero(np.isfinite(across) & np.isfinite(up))
    axes = sheet.axes(25, 32, 190, 160)
    shown = known[:: max(ceil(len(known) / MOST_POINTS), 1)]
    inside = np.ones(len(results), bool) if morning.ranking is None else morning.ranking.inside
    size = float(np.clip(60 / np.sqrt(len(known)), 2.2, 5.0))
    within, without = shown[inside[shown]], shown[~inside[shown]]
    if len(without):
        mark = {"ms": 0.8 * size, "color": pale(CLOUD, 0.3), "mew": 0.7}
        axes.plot(across[without], up[without], "x", label="outside a limit", **mark)
    axes.plot(across[within], up[within], "o", ms=size, color=CLOUD, mew=0, label="a case")
    if len(morning.front) and len(morning.aims) == 2:
        style = {"color": LINE, "ms": 3.4, "lw": 1.0, "marker": "o", "where": "post"}
        axes.step(across[morning.front], up[morning.front], label="nothing is better in both", **style)
    elif len(morning.front):
        label = f"nothing is better in all {len(_traded(morning))}"
        axes.plot(across[morning.front], up[morning.front], "o", color=LINE, ms=3.4, label=label)
    best = _places(morning.best, x_name, y_name)
    if len(best):
        axes.plot(*best.T, "D", ms=6.5, mfc="none", mec=BEST, mew=1.3, label="best, as drawn", ls="none")
    hanging = [best for best, near in zip(morning.best, morning.near_misses, strict=False) if near]
    if len(hung := _places(hanging, x_name, y_name)):
        axes.plot(*hung.T, label="its place hangs on a threshold", **NEAR_MISS)
    if len(base := _places([morning.base], x_name, y_name)):
        axes.plot(*base.T, label="base design", **BASE_MARK)
    axes.set_xlabel(_with_aim(morning, x_name))
    axes.set_ylabel(_with_aim(morning, y_name))
    axes.margins(0.05)
    axes.autoscale_view()
    if len(best):
        number_points(axes, best, np.vstack((np.column_stack((across, up))[shown], base)), BEST)
    sheet.legend(222, 194, None, labelspacing=0.7)
    _best_column(sheet, morning)
    tell_inputs(sheet, morning)
    return f"{one(len(known), 'case')} that have both figures"


def _with_aim(morning: Morning, figure: str) -> str:
    wishes = morning.ranking.wishes if morning.ranking is not None else ()
    aims = {**{wish.figure: aim_words(wish.aim, wish.figure) for wish in wishes}, **morning.aims}
    return f"{naming(figure).label}  ({aims[figure]} is wanted)" if figure in aims else naming(figure).label


def _places(designs: Sequence[Beside], x_name: str, y_name: str) -> np.ndarray:
    """Where designs stand (N, 2), in the units of the axes; those that have both figures."""
    x, y = naming(x_name), naming(y_name)
    both = [[design.found.judged.get(name) for name in (x_name, y_name)] for design in designs]
    places = np.array(both, float).reshape(-1, 2) / (x.factor, y.factor)
    return places[np.isfinite(places).all(axis=1)]


def _best_column(sheet: Sheet, morning: Morning) -> None:
    """The best designs in words beside the cloud, and the base design."""
    y = 143.0
    told = [(f"{place}  case {morning.results.numbers[best.case]}", best) for place, best in enumerate(morning.best, 1)]
    for head, design in [*told[:5], ("base design", morning.base)]:
        if not design.found.figures:
            continue
        sheet.text(224, y, head, size=SMALL, weight="bold")
        y -= 4.2
        for name in morning.figures[:3]:
            sheet.text(224, y, f"{naming(name).words} {naming(name).text(design.figure(name))}", size=SMALL)
            y -= 4.2
        y -= 2.0
