"""Reading designs: from a TOML file, from the same data in Python."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.driver.from_spec import make_driver
from diaphragm_fem.design.files.input_file import check_data, expect_kind, read_toml_file
from diaphragm_fem.design.files.key_path import copied, write_path
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.read.build import build_design
from diaphragm_fem.design.read.outline import draw_outline
from diaphragm_fem.design.read.usual import check_usual, unusual_values
from diaphragm_fem.design.spec.file import DesignSpec
from diaphragm_fem.design.spec.refusal import refusal
from diaphragm_fem.errors import DesignError, UnusualError

Changes = Mapping[str, Any]


@dataclass(frozen=True)
class DesignFile:
    """A design with where it came from: the file's data with the changes made, the checked tables, the design."""

    path: Path | None
    data: Mapping[str, Any]
    spec: DesignSpec
    design: Design


def load_design(path: str | Path, changes: Changes | None = None, *, allow_unusual: bool = False) -> Design:
    """The design of a TOML file; `changes` maps key paths such as "profile.outer.steps[0].tread" to new values.

    Raises DesignError naming the file, the key, what was received and what is allowed; UnusualError for values
    outside what is commonly built, unless allow_unusual or the file's own list `unusual` says they are meant.

    >>> load_design("studies/metal_dome.toml", {"wall.thickness": "40 um"})
    <Design 'north hall, metal dome': dome, surround, former, winding>
    """
    return read_design_file(path, changes, allow_unusual=allow_unusual).design


def read_design_file(path: str | Path, changes: Changes | None = None, *, allow_unusual: bool = False) -> DesignFile:
    """As load_design, with the file's data and checked tables beside the design: `spec.stroke` is for `plan_stroke`.

    With allow_unusual what lies outside the usual is not asked about: its keys are added to `unusual` in the data.
    """
    path = Path(path)
    data = read_toml_file(path)
    expect_kind(data, "design", path)
    data = changed(data, changes or {}, str(path))
    check_data(data)
    return _read(data, str(path), path, allow_unusual)


def design_from(
    data: Mapping[str, Any],
    origin: str = "design",
    *,
    folder: str | Path = ".",
    changes: Changes | None = None,
    allow_unusual: bool = False,
) -> Design:
    """The design of the same data from Python; files it names lie in `folder`, messages begin with `origin`."""
    data = changed(data, changes, origin) if changes else data
    return _read(data, origin, Path(folder) / "design", allow_unusual).design


def changed(data: Mapping[str, Any], changes: Changes, origin: str = "design") -> dict[str, Any]:
    """A copy of the data with values set by key path (`files/key_path.py`); DesignError where a path does not fit."""
    copy: dict[str, Any] = copied(data)
    for path, value in changes.items():
        try:
            write_path(copy, path, value)
        except DesignError as error:
            raise DesignError(f"{origin}: {error}") from None
    return copy


def _read(data: Mapping[str, Any], origin: str, path: Path, allow_unusual: bool = False) -> DesignFile:
    try:
        spec = DesignSpec.model_validate(data)
    except ValidationError as error:
        raise DesignError(refusal(error, data, f"{origin}: ", DesignSpec)) from None
    try:
        materials = _materials(spec, path, origin)
        written = tuple(unusual_values(data))
        check_usual(data, written=written)
        outline = draw_outline(spec, materials, path.parent)
        design = build_design(spec, materials, outline, path.stem)
        driver = make_driver(spec, path.parent, design.joint is not None)
        design = design if driver is None else replace(design, driver=driver)
        design = replace(design, unusual=check_usual(data, design, written))
    except UnusualError as error:
        if allow_unusual and error.keys:  # named as meant, and asked whether more is unusual
            return _read({**data, "unusual": [*data.get("unusual", ()), *error.keys]}, origin, path, allow_unusual)
        raise UnusualError("\n".join(f"{origin}: {line}" for line in str(error).splitlines()), error.keys) from None
    except DesignError as error:
        if str(error).startswith(origin):
            raise
        raise type(error)(f"{origin}: {error}") from error
    return DesignFile(path, data, spec, design)


def _materials(spec: DesignSpec, path: Path, origin: str) -> Mapping[str, Material]:
    if spec.materials:
        extra = path.parent / spec.materials_file if spec.materials_file else None
        return load_materials(extra, spec.materials, overrides_from=origin)
    return _library(path.parent / spec.materials_file if spec.materials_file else None)


@lru_cache(maxsize=8)
def _library(extra: Path | None) -> Mapping[str, Material]:
    return load_materials(extra)
