"""The library of materials: the packaged data file, a user's own file, and overrides in a design file.

`spec/material.py` has the form of a table.
"""

import re
from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from diaphragm_fem.design.files.input_file import LONGEST_TEXT, expect_kind, read_toml_file
from diaphragm_fem.design.files.key_path import format_path
from diaphragm_fem.design.library.evidence import QUANTITIES
from diaphragm_fem.design.material.material import Evidence, Material
from diaphragm_fem.design.spec.material import MaterialSpec, MaterialsSpec
from diaphragm_fem.design.spec.refusal import refusal
from diaphragm_fem.errors import MaterialError, echo

PACKAGED_FILE = Path(__file__).with_name("materials.toml")
HOW_TO_LIST = "run `diaphragm-fem materials` to list them with their sources"


def load_materials(
    extra_file: Path | None = None,
    overrides: Mapping[str, Mapping[str, Any] | MaterialSpec] | None = None,
    *,
    overrides_from: str = "the design file",
) -> dict[str, Material]:
    """All materials by name: the packaged ones, then those of `extra_file`, then `overrides`.

    Later tables change or add to earlier ones. `overrides_from` names the overrides' file in messages.
    Raises MaterialError naming file, material, key, what was received and what is allowed.
    """
    materials = dict(_packaged())
    if extra_file is not None:
        path = Path(extra_file)
        tables = read_toml_file(path, MaterialError, before="the materials file ")
        expect_kind(tables, "materials", path)
        if tables and not any(isinstance(one, Mapping) for one in tables.values()):  # it may be a secret
            raise MaterialError(f"{path}: a file of materials is wanted here, a table [NAME] for each")
        _refuse_nested(tables, path)
        materials = _read_tables(tables, materials, str(path), f"given in {path.name}")
    if overrides:
        materials = _read_tables(overrides, materials, overrides_from, "given in the design file")
    return materials


def _refuse_nested(tables: Mapping[str, Any], path: Path) -> None:
    """MaterialError for materials headed as in a design file."""
    named = tables.get("materials")
    if isinstance(named, Mapping) and any(isinstance(one, Mapping) for one in named.values()):
        nested, own = (f"[{format_path([*head, *list(named)[:1]])}]" for head in (["materials"], []))
        raise MaterialError(
            f"{path}: {nested} is how a design file heads a material of its own; in a file of materials write {own}"
        )


def find_material(materials: Mapping[str, Material], name: str, *, where: str = "") -> Material:
    """The material of that name; MaterialError with the nearest name where there is none.

    `where` names file and key for the message, for example "dome.toml, key wall.material".
    """
    if name in materials:
        return materials[name]
    by_word: dict[str, str] = {known.lower(): known for known in materials}
    for known in materials:
        for word in known.lower().split():
            by_word.setdefault(word, known)
    wanted = str(name)[:80].lower()
    near = [known for known in materials if known.lower() == wanted]
    near = near or [by_word[word] for word in re.split(r"[^a-z]+", wanted)[:1] if word in by_word]
    near = near or [by_word[hit] for hit in get_close_matches(wanted, by_word, n=1, cutoff=0.65)]
    near = near or [known for known in materials if wanted and wanted in known.lower()]
    hint = f"did you mean '{near[0]}'? " if near else ""
    place = f"{where}: " if where else ""
    raise MaterialError(f"{place}unknown material {echo(name)}; {hint}{HOW_TO_LIST}")


@cache
def _packaged() -> Mapping[str, Material]:
    return _read_tables(read_toml_file(PACKAGED_FILE), {}, PACKAGED_FILE.name, None)


def _read_tables(
    tables: Mapping[str, Any], known: Mapping[str, Material], file: str, default_source: str | None
) -> dict[str, Material]:
    """`known` with the materials of `tables` added or changed.

    Without a default source each number must bring its own kind and source.
    """
    try:
        specs = MaterialsSpec.model_validate(dict(tables)).root
    except ValidationError as error:
        raise MaterialError(refusal(error, tables, f"{file}: ", MaterialsSpec)) from None
    materials = dict(known)
    for name, spec in specs.items():
        if spec.based_on in specs and spec.based_on not in materials:
            unread = {other: told for other, told in specs.items() if other not in materials}
            raise MaterialError(f"{file}, material '{name}', key based_on: {_not_above(name, unread)}")
        materials[name] = _read_material(name, spec, materials, file, default_source)
    return materials


def _not_above(name: str, unread: Mapping[str, MaterialSpec]) -> str:
    """What is wrong with a material based on one that is not read yet: a circle, or what stands below."""
    way, base = [name], unread[name].based_on
    while base is not None and base in unread and base not in way:
        way.append(base)
        base = unread[base].based_on
    if base in way:
        round_ = ", that on ".join(map(echo, [*way[1:], base]))
        return f"{echo(name)} is based on {round_}: give its numbers, or base it on a material that is known"
    return f"{echo(way[1])} stands below it; put the table of {echo(way[1])} above that of {echo(name)}"


def _read_material(
    name: str, spec: MaterialSpec, known: Mapping[str, Material], file: str, default_source: str | None
) -> Material:
    place = f"{file}, material '{name}'"
    if not name.strip():
        raise MaterialError(f"{place}: a material needs a name")
    base = known.get(name)
    if spec.based_on is not None:
        base = find_material(known, spec.based_on, where=f"{place}, key based_on")
    given = {quantity: getattr(spec, quantity) for quantity in QUANTITIES}
    given["loss_factor"] = spec.loss_factor or spec.relaxation
    values: dict[str, Any] = {"stiffening": base.stiffening if base else None}
    evidence: dict[str, Evidence] = {}
    for quantity, number in given.items():
        if number is not None:
            if default_source is None and not (number.kind and number.source):
                raise MaterialError(
                    f"{place}, key {quantity}: each number of the packaged file needs a kind and a source of its own"
                )
            values[quantity] = number.law if quantity == "loss_factor" else float(number.numbers[0])
            evidence[quantity] = replace(number.evidence(default_source or ""), before=_before(base, quantity))
        elif base is not None:
            values[quantity], evidence[quantity] = getattr(base, quantity), _inherited(base, quantity, name)
            if len(evidence[quantity].source) > LONGEST_TEXT:  # of 9,000 in a row they took 1.3 GB
                raise MaterialError(
                    f"{place}, key based_on: the source of its {quantity} gets longer than {LONGEST_TEXT} letters; "
                    "base it on an earlier one, or shorten that"
                )
        else:
            raise MaterialError(
                f"{place}: {quantity} is missing; give it ({MaterialSpec.model_fields[quantity].description}) or add "
                'based_on = "..." to take what is not given from a known material'
            )
    if spec.youngs_modulus is not None and spec.youngs_modulus.frequency is not None:
        values["stiffening"] = spec.youngs_modulus.law
    for key in ("note", "caution"):
        values[key] = getattr(spec, key) or getattr(base, key, "")
    try:
        return Material(name=name, evidence=evidence, **values)
    except MaterialError as error:
        raise MaterialError(f"{file}, {error}") from error


def _before(base: Material | None, quantity: str) -> tuple[float, float] | None:
    """The range of a number of the material that is changed, or its value as both ends; None without, or for a law."""
    if base is None or not isinstance(value := getattr(base, quantity), float):
        return None
    return base.evidence[quantity].range or (value, value)


def _inherited(base: Material, quantity: str, name: str) -> Evidence:
    """The base's evidence, which says whose it is where the new material bears another name."""
    known = base.evidence[quantity]
    return known if base.name == name else replace(known, source=f"as {base.name}: {known.source}")
