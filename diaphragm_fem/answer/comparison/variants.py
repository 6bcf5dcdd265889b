"""The designs that a comparison is made of: from files, or one design with a key set to one value after another."""

from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from itertools import combinations, product
from math import isclose, prod
from pathlib import Path
from typing import Any

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.files.input_file import read_toml_file
from diaphragm_fem.design.files.key_path import nearest_paths, parse_path, write_path
from diaphragm_fem.design.read.read import DesignFile, read_design_file
from diaphragm_fem.design.stroke_plan import StrokePlan, plan_stroke
from diaphragm_fem.design.units.grammar import split_amount
from diaphragm_fem.design.units.units import everyday_sizes
from diaphragm_fem.errors import DesignError, StudyError, echo

AS_DRAWN = "as drawn"
MOST_DESIGNS = 100


@dataclass(frozen=True)
class NamedDesign:
    """A design, the short name it bears in tables and figures, what its file asks about large stroke, and the keys
    whose values that name tells."""

    name: str
    design: Design
    stroke: StrokePlan | None = None
    varied: tuple[str, ...] = ()


def read_designs(paths: Sequence[str | Path], *, allow_unusual: bool = False) -> tuple[NamedDesign, ...]:
    """Designs of several files, each under its own name, or its file's where two share a name, behind that of its
    folder where two share both: `examine` keeps each round of a design as a design.toml."""
    files = [read_design_file(path, allow_unusual=allow_unusual) for path in paths]
    names, stems = [file.design.name for file in files], [Path(path).stem for path in paths]
    folders = [f"{Path(path).resolve().parent.name}/{stem}" for path, stem in zip(paths, stems, strict=True)]
    return tuple(
        _named(name if names.count(name) == 1 else stem if stems.count(stem) == 1 else folder, file)
        for name, stem, folder, file in zip(names, stems, folders, files, strict=True)
    )


def vary(
    design_file: str | Path, values: Mapping[str, Sequence[Any]], *, as_drawn: bool = False, allow_unusual: bool = False
) -> tuple[NamedDesign, ...]:
    """One design for every combination of the values of some keys, written as in its file, the last key fastest.

    Example: vary("v.toml", {"wall.thickness": ["50 um", "60 um"]}); `as_drawn` puts the unchanged design first.
    Raises StudyError for an empty list or one with a value twice, a key that does not fit the file or, beside it as
    drawn, no other design, DesignError for a value that is refused.
    """
    path = Path(design_file)
    for key, options in values.items():
        if isinstance(options, str) or not options:
            raise StudyError(f"{key}: needs a list with at least one value, received {echo(options)}")
    data = read_toml_file(path)
    for key, options in values.items():
        try:
            write_path(deepcopy(data), key, options[0])
        except DesignError as error:
            near = nearest_paths(data, key)
            hint = f"; did you mean {' or '.join(near)}?" if near else ""
            raise StudyError(f"{path}: '{key}' names no key of this design ({error}){hint}") from None
    if prod(map(len, values.values())) > MOST_DESIGNS:
        raise StudyError(
            f"{path}: at most {MOST_DESIGNS} designs are laid side by side, received "
            f"{' x '.join(str(len(options)) for options in values.values())} of them; a study takes more"
        )
    for key, options in values.items():
        for one, other in combinations(options, 2):
            if _same(one, other):
                raise StudyError(f"{key}: {echo(one)} and {echo(other)} are the same value; leave one out")
    found = [_named(AS_DRAWN, read_design_file(path, allow_unusual=allow_unusual))] if as_drawn else []
    for choice in product(*values.values()):
        changes = dict(zip(values, choice, strict=True))
        name = ", ".join(_name(key, value, changes) for key, value in changes.items())
        file = read_design_file(path, changes, allow_unusual=allow_unusual)
        found_here = replace(_named(name, file), varied=tuple(changes))
        if as_drawn and found_here.design == found[0].design:  # the drawn design among its own variants
            found[0] = replace(found_here, name=f"{name}, {AS_DRAWN}")
        else:
            found.append(found_here)
    if as_drawn and len(found) == 1:
        raise StudyError(f"{path}: {name} is how it is drawn, so there is nothing to compare with; give another value")
    return tuple(found)


def _same(one: Any, other: Any) -> bool:
    """Whether two values of a key are one amount, however it is written: "50 um" and "0.05 mm"."""
    if one == other or not (isinstance(one, str) and isinstance(other, str)):
        return bool(one == other)
    try:
        (number, unit), (another, its_unit) = split_amount(one), split_amount(other)
    except DesignError:
        return False
    sizes, others = everyday_sizes(unit), everyday_sizes(its_unit)
    return any(isclose(number * sizes[kind], another * others[kind]) for kind in sizes.keys() & others.keys())


def _named(name: str, file: DesignFile) -> NamedDesign:
    """A file's design under a name, with what the file asks about large stroke."""
    asked = file.spec.stroke
    return NamedDesign(name, file.design, None if asked is None else plan_stroke(asked, file.design))


def _name(key: str, value: Any, keys: Iterable[str]) -> str:
    """ "PEN film" for a material, else the last word of the key before the value, "tread 1.2 mm"; before it, where
    other keys end alike, what of the key they do not share: "inner tread 1.2 mm"."""
    path = parse_path(key)
    alike = [other for other in map(parse_path, keys) if other[-1] == path[-1] and other != path]
    apart = [k for k, part in enumerate(path[:-1]) if any(other[k : k + 1] != (part,) for other in alike)]
    steps = [path[k] for k in apart] + [path[-1]] * (path[-1] not in ("material", "kind"))
    words = [f"{step}" if isinstance(step, str) else f"{step + 1}" for step in steps]
    values = value if isinstance(value, list | tuple) else [value]
    return " ".join([*(word.replace("_", " ") for word in words), " to ".join(map(str, values))])
