"""The CSV file of a free meridian."""

from collections.abc import Callable, Mapping
from pathlib import Path
from re import fullmatch, match, search

from diaphragm_fem.design.files.input_file import read_csv_file
from diaphragm_fem.design.library.library import find_material
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.profile.free_meridian import MOST_POINTS, MeridianPoint
from diaphragm_fem.design.units.units import COORDINATE, LENGTH, Quantity, read_quantity
from diaphragm_fem.errors import DesignError, echo, nearest

LENGTHS = ("r", "z", "thickness")
COLUMNS = (*LENGTHS, "zone", "material", "role")
EXAMPLE = "r [mm], z [mm], thickness [um], zone"
CUT = 40  # letters of a heading that is no known one


def read_meridian_file(path: Path, materials: Mapping[str, Material]) -> list[MeridianPoint]:
    """The points of a CSV file: a heading that names each length's unit, one point a line, `#` for remarks.

    Raises DesignError naming file, line and column.
    """
    lines = read_csv_file(path, lines=2 * MOST_POINTS, before="profile.file: ")
    rows = [(n, row) for n, row in lines if not row[0].startswith("#")]
    if not rows:
        raise DesignError(f"profile.file: {path} holds no points; its first line must be a heading such as `{EXAMPLE}`")
    heading, readers = _heading(path, *rows[0])
    return [_point(path, n, row, heading, readers, materials) for n, row in rows[1:]]


def _heading(path: Path, line: int, cells: list[str]) -> tuple[list[str], dict[str, Callable[[str], Quantity]]]:
    # a file of another kind shows nothing of itself: messages are passed on, and others' designs name what they like
    if not any(match(r"[rz]\b", cell) or search(r"\w ?\[[a-zµ]{1,4}\]", cell) for cell in cells):
        raise DesignError(
            f"{path}, line {line}: a table of points is wanted here, its first line a heading such as `{EXAMPLE}`"
        )
    names: list[str] = []
    readers: dict[str, Callable[[str], Quantity]] = {}
    for cell in cells:
        found = fullmatch(r"(\w+)\s*(?:\[([^\]]*)\])?", cell)
        name = found[1] if found else cell
        if name not in COLUMNS:
            told = "commas part columns, " if {";", "\t"} & set(cell) else f"{nearest(name, COLUMNS)}; "
            raise DesignError(f"{path}, line {line}: unknown column {echo(cell[:CUT])}; {told}as in `{EXAMPLE}`")
        if name in names:
            raise DesignError(f"{path}, line {line}: the column '{name}' stands there twice")
        names.append(name)
        unit = found[2] if found else None
        if name in LENGTHS:
            if not unit:
                raise DesignError(
                    f"{path}, line {line}: the column '{name}' needs its unit in the heading, such as `{name} [mm]`"
                )
            kind = LENGTH if name == "thickness" else COORDINATE
            readers[name] = lambda text, unit=unit, kind=kind: read_quantity(f"{text} {unit}", kind)  # type: ignore[misc]
            try:
                readers[name]("0")
            except DesignError as error:
                raise DesignError(f"{path}, line {line}, column {name}: {error}") from error
    for name in ("r", "z"):
        if name not in names:
            raise DesignError(
                f"{path}, line {line}: the column '{name}' is missing; the heading reads like `{EXAMPLE}`"
            )
    return names, readers


def _point(
    path: Path,
    line: int,
    cells: list[str],
    heading: list[str],
    readers: Mapping[str, Callable[[str], Quantity]],
    materials: Mapping[str, Material],
) -> MeridianPoint:
    place = f"{path}, line {line}"
    if len(cells) != len(heading):
        raise DesignError(f"{place}: the line needs {len(heading)} values like the heading; received {len(cells)}")
    given = {name: cell for name, cell in zip(heading, cells, strict=True) if cell}
    lengths: dict[str, Quantity] = {}
    for name in LENGTHS:
        if name in given:
            try:
                lengths[name] = readers[name](given[name])
            except DesignError as error:
                raise DesignError(f"{place}, column {name}: {error}") from error
    for name in ("r", "z", *(["thickness"] if "thickness" in heading else [])):
        if name not in lengths:
            raise DesignError(f"{place}: the value of '{name}' is missing")
    material = (
        find_material(materials, given["material"], where=f"{place}, column material") if "material" in given else None
    )
    return MeridianPoint(
        r=lengths["r"],
        z=lengths["z"],
        zone=given.get("zone", "wall"),
        row=place,
        thickness=lengths.get("thickness"),
        material=material,
        role=given.get("role", ""),
    )
