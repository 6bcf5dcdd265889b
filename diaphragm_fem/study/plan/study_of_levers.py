"""A study of what moves a design most, ready to run: what tenths of one number at a time cannot find."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import product
from math import copysign
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np

from diaphragm_fem.answer.change.levers import BY_ZONES, check_buildable
from diaphragm_fem.answer.change.named_levers import LEVELS, band_judged, fails_to_hand_over, sent
from diaphragm_fem.answer.change.sensitivity import Sensitivities
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.files.key_path import all_paths, key_words, read_path
from diaphragm_fem.design.files.write import to_toml
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.errors import DiaphragmError, plain, typed
from diaphragm_fem.load.plug import draw_plug
from diaphragm_fem.study.plan.amount import Written, read_amount, split_amount, write_amount

VARIED, VALUES = 4, 4  # of each so many: 256 cases, a grid, whose joints are solved once for all that share them
SPAN = (0.6, 1.6)  # times what stands in the design file
SOFTER = {"thickness": (1 / 3, 1.0), "tread": (1.0, 1.6)}
"""The same of a step that does not hand over, as far as advice looks for what would make it."""
SOFT = ("butyl rubber", "nitrile rubber", "thermoplastic elastomer", "polyurethane foam")
"""What steps are made of (common practice, no source): a want of loss no other number of a step mends."""
SHORTER = (1.0, 0.5, 0.25, 0.0)  # of that way, in logarithms, each end goes as far as what it leads to can be built
WIDTH = "heard_octaves"  # of a driver: moves smoothly where what plays jumps
Kept: TypeAlias = tuple[str, float, float, str, float]
Asked: TypeAlias = tuple[dict[str, Any], list[tuple[str, str, int]], dict[str, dict[str, str]]]
KEPT: dict[str, Kept] = {
    "fundamental_hz": ("below", 1.25, 0.0, "{:.4g} Hz", 1.0),
    "area_per_mass_m2_per_kg": ("above", 0.8, 0.0, "{:.3g} cm^2/g", 10.0),
    "highest_peak_db": ("below", 1.0, 2.0, "{:.3g} dB", 1.0),
    "deepest_hole_db": ("above", 1.0, -2.0, "{:.3g} dB", 1.0),
}
"""What the best may not pay with: the side, how many times the design's own and how much more, about 2 dB of its
response per newton; how that is written. Of a ring V a peak of 11 dB won by a break-up mode that a threshold hid."""
WITHIN_DB = 3.0  # of its shelves a shelf band may be: a peak or hole of less is no price
KEPT_IN_A_DRIVER: dict[str, Kept] = {
    "loaded_departure_hz": ("above", 0.9, 0.0, "{:.4g} Hz", 1.0),
    WIDTH: ("above", 0.97, 0.0, "{:.3g} octaves", 1.0),
    "excursion_m": ("below", 1.0, 0.0, "{:.3g} mm", 1e3),
}
"""The same with everything on: levels are wished for over the design's own band, of two sections about the crossover,
and one that lets it end lower, or plays over less beyond it, is no better there. What does not touch its plug shall
not."""
REMARK = """What several numbers at once and far from where they stand do: advice tells of a tenth of one alone.

  diaphragm-fem sweep {path}
  diaphragm-fem morning {path}

Ranges, wishes and limits are a beginning: change what you can build, and what you want.
"""
OF_TWO = "Figures that begin with 'sum_' are of what both sections send, other levels of the first, unfiltered.\n"


def study_of_levers(evaluation: Answer, design: str, path: str, folder: Path) -> str | None:
    """Text of a study file, to stand at `path` beside the design file `design.toml` whose text is given; None where
    what to change was not asked, fewer than two numbers of the file can be varied, or a driver has no level to wish
    for. Files that the design names are found from `folder`.

    It varies the treads of steps, whose other lengths of shelf lie beyond a jump, and what moves the band that the
    design is judged by most, of a driver the spread of its level. Where in vacuum the motion is not handed over, what
    all steps are made of, their thickness and tread.
    """
    found = evaluation.sensitivities
    if found is None:
        return None
    data = tomllib.loads(design)
    before = evaluation.design if evaluation.driver else replace(evaluation.design, driver=None)  # it was left out
    softer = not found.loaded and fails_to_hand_over(found)
    vary = _varied(data, _keys(found, set(all_paths(data))), before, folder, softer=softer)
    if len(vary) < 2:
        return None
    asked = _of_driver(evaluation, found, _gap(data, vary, folder)) if found.loaded else _of_part(evaluation, found)
    if asked is None:
        return None
    wants, wishes, limits = asked
    words = [{"figure": figure, "aim": aim, "weight": weight} for figure, aim, weight in wishes]
    text = to_toml(
        {
            "study": {"base": "design.toml"},
            "vary": vary,
            "want": {"up_to": f"{evaluation.up_to_hz:.6g} Hz", **wants},
            "morning": {"wish": words} | ({"limits": limits} if limits else {}),
        }
    )
    both = found.loaded and evaluation.driver is not None and evaluation.driver.sections is not None
    remark = REMARK.format(path=typed(plain(path))) + OF_TWO * both
    return "".join(f"# {line}".rstrip() + "\n" for line in remark.splitlines()) + "\n" + text


def _of_part(evaluation: Answer, found: Sensitivities) -> Asked:
    """What is wanted of a part in vacuum, its wishes with their aims and weights, its limits."""
    wants = {} if evaluation.design.driver is None else {"in_vacuum": True}
    wishes = [(f"{band_judged(found.base)}_octaves", "high", 2), ("break_up_mode_hz", "high", 1)]
    return wants, wishes, _limits(KEPT, found.base)


def _of_driver(evaluation: Answer, found: Sensitivities, gap: float | None) -> Asked | None:
    """The same of a driver, over its own band, or over the octaves beside a crossover, and its gap in m, if any; None
    without a level."""
    heard = None if evaluation.driver is None else evaluation.driver.figures
    if heard is None or heard.band_hz is None or heard.median_level_db is None:
        return None
    level, spread, width = (sent(found, name) for name in (*LEVELS, WIDTH))
    wants, heard_now = {}, found.base.get(width)
    if level in LEVELS:
        level, spread, width = (f"{name}:use" for name in (level, spread, width))
        wants, heard_now = {"bands": {"use": [f"{end:.4g} Hz" for end in heard.band_hz]}}, heard.played[WIDTH]
    own = {
        "loaded_departure_hz": heard.loaded.departure_hz, width: heard_now,
        "excursion_m": gap if gap is not None and (heard.excursion_m or 0.0) < gap else None,
    }  # fmt: skip
    widths = {width: KEPT_IN_A_DRIVER[WIDTH]}
    return wants, [(spread, "low", 2), (level, "high", 1)], _limits({**KEPT_IN_A_DRIVER, **widths}, own)


def _limits(bounds: Mapping[str, Kept], own: Mapping[str, float | None]) -> dict[str, dict[str, str]]:
    return {
        name: {side: text.format(_bound(share * value, more) * factor)}
        for name, (side, share, more, text, factor) in bounds.items()
        if (value := own.get(name)) is not None
    }


def _keys(found: Sensitivities, written: set[str]) -> list[str]:
    """Keys that are written in the design file, or may be added, what is to be varied first in front; no diameters,
    moduli or losses."""
    figure = sent(found, "level_spread_db") if found.loaded else f"{band_judged(found.base)}_octaves"
    told = [row.lever for name in (figure, "break_up_mode_hz") for row in found.strongest(name)]
    treads = [row.lever for row in found.rows if row.lever.key.endswith(".tread")]
    return list(dict.fromkeys(one.key for one in (*treads, *told) if one.key in written or one.kind == BY_ZONES))


def _varied(
    data: dict[str, Any], keys: list[str], before: Design, folder: Path, *, softer: bool
) -> dict[str, dict[str, Any]]:
    """The tables of what is varied, by name; `softer`: what makes steps let go first, the same for all of them."""
    vary: dict[str, dict[str, Any]] = {}
    own = [path for path in all_paths(data) if ".steps[" in path]
    alike = {last: [key for key in own if key.endswith(f".{last}")] for last in ("material", *SOFTER) if softer}
    if of_steps := alike.pop("material", []):
        materials = dict.fromkeys((*(read_path(data, key) for key in of_steps), *SOFT))
        vary["step_material"] = {"key": of_steps, "list": list(materials)[:VALUES]}
    together = [(f"step_{last}", some, SOFTER[last]) for last, some in alike.items() if some]
    numbers = [some for key in keys if not (softer and key in own) for some in _numbers(data, key)]
    alone = [(_name(some[0]), some, SPAN) for some in numbers]
    for name, some, span in (*together, *alone):
        if len(vary) < VARIED and (ends := _range(data, some, span, vary, before, folder)):
            vary[name] = {"key": some if len(some) > 1 else some[0], "range": ends, "count": VALUES}
    return vary


def _numbers(data: dict[str, Any], key: str) -> list[list[str]]:
    """The keys of which each list gets one value: of thicknesses by points those of a zone, where they are alike."""
    value = read_amount(data, key)
    if not isinstance(value, list):
        return [[key]]
    by_zone: dict[Any, list[str]] = {}
    zones = data["profile"].get("zone", range(len(value)))
    for number, zone in enumerate(zones if key == "profile.thickness" else ()):
        by_zone.setdefault(zone, []).append(f"{key}[{number}]")
    return [some for some in by_zone.values() if len({read_path(data, one) for one in some}) == 1]


def _range(
    data: dict[str, Any], keys: list[str], span: tuple[float, float], varied: Mapping[str, Mapping[str, Any]],
    before: Design, folder: Path,
) -> list[str] | None:  # fmt: skip
    """Both ends of the range of an amount, which all `keys` get; None for a list of amounts, and where what lies
    between cannot be built, alone or with the ends of what is varied already, each with each, in the driver that
    `before` has: a slot by 0.6 to 1.6 times its radius left a face on either side, and 232 of 256 cases of a ring's
    study failed.
    """
    if (parts := split_amount(read_amount(data, keys[0]))) is None:
        return None
    number, unit = parts
    ranges = [[_all(one["key"], end) for end in one["range"]] for one in varied.values() if "range" in one]
    together = [{key: value for some in corner for key, value in some.items()} for corner in product(*ranges)]
    corners = [{}, *together] if varied else [{}]

    def built(value: float) -> bool:
        try:
            for corner in corners:
                changes = corner | _all(keys, write_amount(value, unit))
                design = design_from(data, folder=folder, changes=changes)
                check_buildable(design, before)
                if before.driver and design.driver and (front := design.driver.front) and front.slots:
                    draw_plug(design, front)
        except DiaphragmError:
            return False
        return True

    tried = ([float(f"{end**share * number:.3g}") for share in SHORTER] for end in span)
    low, high = (next((value for value in some if built(value)), number) for some in tried)
    if low == high or not all(map(built, np.linspace(low, high, VALUES)[1:-1].tolist())):
        return None
    return [str(write_amount(end, unit)) for end in (low, high)]


def _all(keys: str | list[str], value: Written) -> dict[str, Written]:
    return dict.fromkeys([keys] if isinstance(keys, str) else keys, value)


def _gap(data: dict[str, Any], vary: Mapping[str, Mapping[str, Any]], folder: Path) -> float | None:
    """The narrowest gap in m before the slots of a plug, where gaps are varied of the least; None without one."""
    changes = {one["key"]: one["range"][0] for one in vary.values() if one["key"] == "front.gap"}
    design = design_from(data, folder=folder, changes=changes)
    front = design.driver.front if design.driver else None
    if front is None or not front.slots or front.volume is not None:
        return None
    return float(draw_plug(design, front).face.width.min())


def pays_too_much(found: Sensitivities, after: Callable[[str], float | None]) -> bool:
    """Whether a step, which leaves a figure at `after` of its name, pays with what the best of the study may not pay
    with, of two sections the width in which both are heard; a stroke that reaches a plug is looked at elsewhere
    (`touches`)."""
    for name, (side, share, more, _, _) in (KEPT_IN_A_DRIVER if found.loaded else KEPT).items():
        figure = sent(found, name)
        value, now = found.base.get(figure), after(figure)
        if name != "excursion_m" and value is not None and now is not None:
            over = now - _bound(share * value, more)
            if (over if side == "below" else -over) > 0:
                return True
    return False


def _bound(value: float, more: float) -> float:
    """What a figure may become; a peak or hole as much as a shelf band holds."""
    return copysign(max(WITHIN_DB, abs(value + more)), more) if more else value


def _name(key: str) -> str:
    """ "profile.outer.steps[1].tread" as a name of a study: outer_step_2_tread."""
    return key_words(key).replace(" ", "_")
