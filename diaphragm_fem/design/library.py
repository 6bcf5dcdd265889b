"""The library of materials: the packaged data file, a user's own file, and overrides in a design file.

One table per material, the same shape everywhere:

    ["PEN film"]
    density = { value = "1360 kg/m^3", kind = "handbook", source = "..." }
    youngs_modulus = { value = "5.2 GPa", kind = "handbook", source = "...", range = ["5 GPa", "5.5 GPa"] }
    poisson_ratio = { value = 0.4, kind = "assumed", source = "..." }
    loss_factor = { value = [0.01, 0.02], frequency = ["100 Hz", "10 kHz"], kind = "paper", source = "..." }
    note = "..."        # optional, and so is `caution`

Modulus and loss over frequency (`viscoelastic` has the laws):

    youngs_modulus = { value = "4 MPa", frequency = "100 Hz" }                          # follows its loss from there
    youngs_modulus = { value = ["4 MPa", "7 MPa"], frequency = ["100 Hz", "1 kHz"] }    # measured, as is the loss
    relaxation = { rise = 50, frequency = "30 kHz", exponent = 0.5 }                    # in place of loss_factor

With a relaxation youngs_modulus is the modulus at rest. A number given bare over one known at frequencies is taken at
the first of them, and the rise stays; `frequency = []` makes it the same at every frequency.

`range` is the spread met between grades and sources: a guide to how far the number may move, not a tolerance.
A user may write a number bare (`youngs_modulus = "5.2 GPa"`, `loss_factor = 0.02`): it is then 'assumed', its source
the file it stands in. `based_on = "PEN film"` takes every number not given from that material; a table that bears the
name of a known material changes only the numbers it gives.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from math import inf, isfinite
from pathlib import Path
from typing import Any

from diaphragm_fem.design.file_kind import expect_kind
from diaphragm_fem.design.input_file import read_toml_file
from diaphragm_fem.design.material import Evidence, Kind, LossFactor, Material, Relaxation, Stiffening
from diaphragm_fem.design.units import DENSITY, FREQUENCY, MODULUS, Dimension, read_quantity
from diaphragm_fem.errors import DesignError, MaterialError, echo, nearest

PACKAGED_FILE = Path(__file__).with_name("materials.toml")
HOW_TO_LIST = "run `diaphragm-fem materials` to list them with their sources"

NUMBERS = ("density", "youngs_modulus", "poisson_ratio", "loss_factor")
DIMENSIONS = {"density": DENSITY, "youngs_modulus": MODULUS}
EXAMPLES = {"density": '"1360 kg/m^3"', "youngs_modulus": '"5.2 GPa"', "poisson_ratio": "0.38", "loss_factor": "0.02"}
RELAXATION = ("rise", "frequency", "exponent")
MATERIAL_KEYS = (*NUMBERS, "relaxation", "based_on", "note", "caution")
NUMBER_KEYS = ("value", "kind", "source", "range")
OVER_FREQUENCY = ("youngs_modulus", "loss_factor")


def load_materials(
    extra_file: Path | None = None,
    overrides: Mapping[str, Mapping[str, Any]] | None = None,
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
        materials = _read_tables(tables, materials, str(path), f"given in {path.name}")
    if overrides:
        materials = _read_tables(overrides, materials, overrides_from, "given in the design file")
    return materials


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
    materials = dict(known)
    for name, table in tables.items():
        materials[name] = _read_material(_Place(file, name), table, materials, default_source)
    return materials


@dataclass(frozen=True)
class _Place:
    """File, material and key a message speaks of."""

    file: str
    material: str
    key: str = ""

    def at(self, key: str) -> _Place:
        return _Place(self.file, self.material, key)

    def refuse(self, text: str) -> MaterialError:
        key = f", key {self.key}" if self.key else ""
        return MaterialError(f"{self.file}, material '{self.material}'{key}: {text}")


def _read_material(place: _Place, table: Any, known: Mapping[str, Material], default_source: str | None) -> Material:
    if not place.material.strip():
        raise place.refuse("a material needs a name")
    if not isinstance(table, Mapping):
        raise place.refuse(f"must be a table of {', '.join(NUMBERS)}, received {table!r}")
    _refuse_unknown_keys(place, table, MATERIAL_KEYS)
    base = _base(place, table, known)
    values: dict[str, Any] = {"stiffening": base.stiffening if base else None}
    evidence: dict[str, Evidence] = {}
    if "relaxation" in table:
        if "loss_factor" in table:
            raise place.at("loss_factor").refuse("a relaxation says what the loss is; leave one of the two out")
        values["loss_factor"], evidence["loss_factor"] = _read_relaxation(
            place.at("relaxation"), table["relaxation"], default_source
        )
    for quantity in NUMBERS:
        if quantity in values:
            continue
        if quantity in table:
            number = _read_number(place.at(quantity), quantity, table[quantity], default_source)
            values[quantity], evidence[quantity] = number
        elif base is not None:
            values[quantity], evidence[quantity] = getattr(base, quantity), _inherited(base, quantity, place.material)
        else:
            raise place.refuse(
                f"{quantity} is missing; give it, for example {quantity} = {EXAMPLES[quantity]}, or add "
                'based_on = "..." to take what is not given from a known material'
            )
    modulus = table.get("youngs_modulus")
    if isinstance(modulus, Mapping) and "frequency" in modulus:
        values["stiffening"] = _read_stiffening(place.at("youngs_modulus"), modulus)
    for key in ("note", "caution"):
        if key in table:
            values[key] = _text(place.at(key), table[key])
        elif base is not None:
            values[key] = getattr(base, key)
    try:
        return Material(name=place.material, evidence=evidence, **values)
    except MaterialError as error:
        raise MaterialError(f"{place.file}, {error}") from error


def _base(place: _Place, table: Mapping[str, Any], known: Mapping[str, Material]) -> Material | None:
    if "based_on" not in table:
        return known.get(place.material)
    name = _text(place.at("based_on"), table["based_on"])
    return find_material(known, name, where=f"{place.file}, material '{place.material}', key based_on")


def _inherited(base: Material, quantity: str, name: str) -> Evidence:
    """The base's evidence, which says whose it is where the new material bears another name."""
    known = base.evidence[quantity]
    return known if base.name == name else replace(known, source=f"as {base.name}: {known.source}")


def _read_number(place: _Place, quantity: str, given: Any, default_source: str | None) -> tuple[Any, Evidence]:
    entry = given if isinstance(given, Mapping) else {"value": given}
    allowed = (*NUMBER_KEYS, "frequency") if quantity in OVER_FREQUENCY else NUMBER_KEYS
    _refuse_unknown_keys(place, entry, allowed)
    if "value" not in entry:
        raise place.refuse(f"value is missing; give it, for example value = {EXAMPLES[quantity]}")
    numbers = _read_list(place, quantity, entry)
    evidence = _read_evidence(place, quantity, entry, default_source)
    low, high = evidence.range or (-inf, inf)
    if not all(low <= one <= high for one in numbers):
        raise place.refuse(f"range must hold the value, received range {entry['range']!r} and value {entry['value']!r}")
    if quantity != "loss_factor":
        return numbers[0], evidence
    try:
        return LossFactor(numbers, _read_frequencies(place, entry)), evidence
    except MaterialError as error:
        raise place.refuse(str(error)) from error


def _read_list(place: _Place, quantity: str, entry: Mapping[str, Any]) -> tuple[float, ...]:
    """The value or the values over frequency."""
    value = entry["value"]
    if not isinstance(value, list | tuple) or quantity not in OVER_FREQUENCY:
        return (_read_scalar(place, quantity, value),)
    if quantity == "youngs_modulus" and (not value or "frequency" not in entry):
        raise place.refuse(f"a modulus of several values needs a frequency for each, received {value!r}")
    return tuple(_read_scalar(place, quantity, one) for one in value)


def _read_frequencies(place: _Place, entry: Mapping[str, Any]) -> tuple[float, ...]:
    frequency = entry.get("frequency", [])
    if not isinstance(frequency, list | tuple):
        raise place.refuse(f'frequency must be a list such as ["100 Hz", "1 kHz"], received {frequency!r}')
    return tuple(_convert(place.at(f"{place.key}.frequency"), one, FREQUENCY) for one in frequency)


def _read_stiffening(place: _Place, entry: Mapping[str, Any]) -> Stiffening | None:
    """How the modulus rises; None for an empty list of frequencies: it does not."""
    numbers = _read_list(place, "youngs_modulus", entry)
    frequency = entry["frequency"]
    one = isinstance(frequency, str) and len(numbers) == 1
    steps = _read_frequencies(place, {"frequency": [frequency]} if one else entry)
    if not steps and len(numbers) == 1:
        return None
    try:
        return Stiffening(steps, tuple(number / numbers[0] for number in numbers))
    except MaterialError as error:
        raise place.refuse(str(error)) from error


def _read_relaxation(place: _Place, given: Any, default_source: str | None) -> tuple[Relaxation, Evidence]:
    example = 'relaxation = { rise = 50, frequency = "30 kHz", exponent = 0.5 }'
    if not isinstance(given, Mapping) or not set(RELAXATION) <= given.keys():
        raise place.refuse(f"needs {', '.join(RELAXATION)}, for example {example}, received {given!r}")
    _refuse_unknown_keys(place, given, (*RELAXATION, "kind", "source"))
    rise, exponent = (_read_scalar(place.at(f"{place.key}.{key}"), key, given[key]) for key in ("rise", "exponent"))
    frequency = _convert(place.at(f"{place.key}.frequency"), given["frequency"], FREQUENCY)
    try:
        return Relaxation(rise, frequency, exponent), _read_evidence(place, "relaxation", given, default_source)
    except MaterialError as error:
        raise place.refuse(str(error)) from error


def _read_evidence(place: _Place, quantity: str, entry: Mapping[str, Any], default_source: str | None) -> Evidence:
    kinds = ", ".join(kind.value for kind in Kind)
    if default_source is None and not {"kind", "source"} <= entry.keys():
        raise place.refuse("each number of the packaged file needs a kind and a source of its own")
    try:
        kind = Kind(entry.get("kind", Kind.ASSUMED))
    except ValueError as error:
        raise place.refuse(f"kind must be one of {kinds}, received {entry['kind']!r}") from error
    source = _text(place.at(f"{place.key}.source"), entry["source"]) if "source" in entry else str(default_source)
    if "range" not in entry:
        return Evidence(kind, source)
    span = entry["range"]
    if not isinstance(span, list | tuple) or len(span) != 2:
        raise place.refuse(f"range must be a list of the lowest and the highest value, received {span!r}")
    low, high = (_read_scalar(place.at(f"{place.key}.range"), quantity, end) for end in span)
    if not low <= high:
        raise place.refuse(f"range must rise from its lowest to its highest value, received {span!r}")
    return Evidence(kind, source, (low, high))


def _read_scalar(place: _Place, quantity: str, given: Any) -> float:
    if quantity in DIMENSIONS:
        value = _convert(place, given, DIMENSIONS[quantity])
        if not value > 0:
            raise place.refuse(f"must be above zero, received '{given}'")
        return value
    if isinstance(given, bool) or not isinstance(given, int | float) or not isfinite(given):
        raise place.refuse(
            f"must be a plain number without unit, for example {EXAMPLES.get(quantity, 0.5)}, received {given!r}"
        )
    return float(given)


def _convert(place: _Place, given: Any, dimension: Dimension) -> float:
    try:
        return float(read_quantity(given, dimension))
    except DesignError as error:
        raise place.refuse(str(error)) from error


def _refuse_unknown_keys(place: _Place, table: Mapping[str, Any], allowed: tuple[str, ...]) -> None:
    for key in table:
        if key not in allowed:
            raise place.refuse(f"unknown key '{key}'; {nearest(key, allowed)}")


def _text(place: _Place, given: Any) -> str:
    if not isinstance(given, str) or not given.strip():
        raise place.refuse(f"must be a text that is not empty, received {given!r}")
    return given
