"""The designs that a comparison is made of: from files, or one design with a key set to one value after another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.key_path import nearest_paths, parse_path
from diaphragm_fem.design.read import design_from, read_design_file, read_toml
from diaphragm_fem.design.spec.stroke import StrokeSpec
from diaphragm_fem.design.stroke_plan import StrokePlan, plan_stroke
from diaphragm_fem.errors import StudyError

AS_DRAWN = "as drawn"


@dataclass(frozen=True)
class NamedDesign:
    """A design, the short name it bears in tables and figures, and what its file asks about large stroke."""

    name: str
    design: Design
    stroke: StrokePlan | None = None


def read_designs(paths: Sequence[str | Path]) -> tuple[NamedDesign, ...]:
    """Designs of several files, each under its own name, or its file's where two share a name."""
    files = [read_design_file(path) for path in paths]
    names = [file.design.name for file in files]
    return tuple(
        NamedDesign(
            Path(path).stem if names.count(name) > 1 else name, file.design, _stroke(file.spec.stroke, file.design)
        )
        for path, file, name in zip(paths, files, names, strict=True)
    )


def vary(
    design_file: str | Path, key: str, values: Sequence[Any], *, as_drawn: bool = False
) -> tuple[NamedDesign, ...]:
    """One design with `key` set to each of `values`, both written as in the design file.

    Example: vary("v.toml", "wall.thickness", ["50 um", "60 um"]); `as_drawn` puts the unchanged design first.
    Raises StudyError for an empty list or a key that does not fit the file, and DesignError for a value that the
    design refuses.
    """
    return vary_together(design_file, {key: values}, as_drawn=as_drawn)


def vary_together(
    design_file: str | Path, values: Mapping[str, Sequence[Any]], *, as_drawn: bool = False
) -> tuple[NamedDesign, ...]:
    """One design for every combination of the values of several keys, the last key changing fastest."""
    path = Path(design_file)
    for key, options in values.items():
        if isinstance(options, str) or not options:
            raise StudyError(f"{key}: needs a list with at least one value, received {options!r}")
    data = read_toml(path)
    drawn = read_design_file(path) if as_drawn else None
    found = [NamedDesign(AS_DRAWN, drawn.design, _stroke(drawn.spec.stroke, drawn.design))] if drawn else []
    for choice in product(*values.values()):
        changes = dict(zip(values, choice, strict=True))
        copy = deepcopy(data)
        for key, value in changes.items():
            _set(copy, key, value, str(path))
        name = ", ".join(_name(key, value) for key, value in changes.items())
        design = design_from(copy, str(path), folder=path.parent)
        asked = StrokeSpec.model_validate(copy["stroke"]) if "stroke" in copy else None
        found.append(NamedDesign(name, design, _stroke(asked, design)))
    return tuple(found)


def _stroke(asked: StrokeSpec | None, design: Design) -> StrokePlan | None:
    return None if asked is None else plan_stroke(asked, design)


def _set(data: dict[str, Any], key: str, value: Any, origin: str) -> None:
    """Write a value by its path; tables that are missing are made, items of lists are not."""
    steps = parse_path(key)
    place: Any = data
    for step, following in zip(steps, (*steps[1:], None), strict=True):
        index: Any = step
        if isinstance(place, list):
            index = int(step) if str(step).isdigit() else len(place)
            if not index < len(place):
                raise _no_such_key(data, key, origin)
        elif not isinstance(place, dict):
            raise _no_such_key(data, key, origin)
        if following is None:
            place[index] = value
        else:
            place = place[index] if isinstance(place, list) else place.setdefault(index, {})


def _no_such_key(data: Mapping[str, Any], key: str, origin: str) -> StudyError:
    near = nearest_paths(data, key)
    hint = f"; did you mean {' or '.join(near)}?" if near else ""
    return StudyError(f"{origin}: '{key}' names no key of this design{hint}")


def _name(key: str, value: Any) -> str:
    """ "PEN film" for a material, else the last word of the key before the value: "tread 1.2 mm"."""
    last = str(parse_path(key)[-1])
    words = " to ".join(str(x) for x in value) if isinstance(value, list | tuple) else str(value)
    return words if last in ("material", "kind") else f"{last.replace('_', ' ')} {words}"
