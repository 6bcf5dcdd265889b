"""The best designs as design files, each ready for the main job, and a tolerance study of the first."""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from diaphragm_fem.design.files.input_file import read_file_bytes, read_record
from diaphragm_fem.design.files.named_files import moved_to
from diaphragm_fem.design.files.whole_file import write_whole
from diaphragm_fem.design.files.write import to_toml, write_design
from diaphragm_fem.design.units.units import SHARE
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.morning.beside import Beside
from diaphragm_fem.study.morning.neighbours import assumed_scatter
from diaphragm_fem.study.morning.page import Morning
from diaphragm_fem.study.plan.amount import dimension_of
from diaphragm_fem.study.plan.study import Study

RECORD = ".written.json"  # files of the last ranking with the digest of each, to know them again
TOLERANCE = "tolerance_of_"  # the name of the study of what the winner's scatter costs begins so
OWN = re.compile(rf"\d+_case_\d+\.toml|{TOLERANCE}[^/\\]*\.toml")  # whatever a record says, no other is taken away
PARTS = 256
REMARK = """How many parts of the winner will keep to the limits, and which scatter costs the most of them?

The scatter is assumed (common practice, no source): put in what you measured on your own line{limits}.
Only what varied in the study scatters here: add what else does on your line, or the yield comes out too high.
"""


def tolerance_study(designs: Sequence[Path]) -> Path | None:
    """Of the files that `write_best_designs` made the winner's tolerance study, where there is one."""
    return designs[-1] if designs and designs[-1].name.startswith(TOLERANCE) else None


def write_best_designs(morning: Morning, folder: str | Path) -> tuple[Path, ...]:
    """One file per best case, named by rank and case number; files that a design refers to are found from there too.

    Amounts are rounded to what a drawing says. Files of an earlier ranking that this one does not make are removed,
    unless somebody has changed them since; a changed one in the place of a new one is set aside. Last, where anything
    of the first scatters, a tolerance study of it.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    results = morning.results
    recipe = results.study.recipe
    paths, former = [], read_record(folder / RECORD)
    for place, best in enumerate(morning.best, start=1):
        number = int(results.numbers[best.case])
        design = moved_to(best.data, recipe.folder, folder)
        design["name"] = f"{design.get('name') or Path(recipe.origin).stem}, case {number}"
        values = ", ".join(f"{name} = {amount}" for name, amount in best.amounts.items())
        remark = f"Rank {place} of {len(results)} solved cases of the study '{results.study.name}':\n"
        remark += f"case {number} with {values}"
        remark += f".\nAs solved, not rounded to a drawing: {best.trouble}" if best.trouble else ", as drawn."
        path = folder / f"{place:02d}_case_{number:06d}.toml"
        aside = _set_aside_changed(path, former.get(path.name, ""))
        paths.append(write_design(design, path, remark))
        if aside is not None and aside.read_bytes() == path.read_bytes():  # written by one that left no record
            aside.unlink()
    made = {path.name: _digest(path.read_bytes()) for path in paths}
    if paths and (text := tolerance_text(results.study, morning.best[0], paths[0].name)):
        path = folder / f"{TOLERANCE}{results.study.path.stem}.toml"
        made[path.name] = _write_unless_changed(path, text, former.get(path.name, ""))
        paths.append(path)
    _remove_former(folder, former, set(made))
    write_whole(folder / RECORD, json.dumps(made, indent=1) + "\n")
    return tuple(paths)


def _set_aside_changed(path: Path, former: str) -> Path | None:
    """Where a design is now that somebody has changed since it was written: the ranking names its files by their
    place."""
    digest = _digest_of(path) if path.exists() else None
    if digest in (None, former):
        return None
    return path.rename(path.with_name(f"{path.stem}_changed_{digest[:8]}.toml"))


def _write_unless_changed(path: Path, text: str, former: str) -> str:
    """Write a file unless somebody has changed it, such as put in a scatter of their own; the digest of what was made
    of it last."""
    if path.exists() and _digest_of(path) != former:
        return former
    write_whole(path, text)
    return _digest(text.encode())


def _remove_former(folder: Path, former: Mapping[str, Any], made: set[str]) -> None:
    for name, digest in former.items():
        path = folder / name
        if name not in made and OWN.fullmatch(name) and _digest_of(path) == digest:
            path.unlink()


def _digest_of(path: Path) -> str | None:
    """Of what a file holds; nothing where it cannot be read."""
    with suppress(DiaphragmError):
        return _digest(read_file_bytes(path))
    return None


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def tolerance_text(study: Study, winner: Beside, design: str) -> str | None:
    """Text of a study file whose base is the winner's design file beside it; None where nothing of it scatters.

    What varied in the study scatters about the winner's amounts; bands, limits and wishes are the study's own.
    """
    vary = {
        variable.name: {"key": list(variable.keys) if len(variable.keys) > 1 else variable.keys[0]}
        | {"normal": {"deviation": deviation}}
        for variable in study.recipe.variables
        if (deviation := assumed_scatter(variable, winner.amounts.get(variable.name)))
    }
    if not vary:
        return None
    settings = study.recipe.settings
    want = {"up_to": f"{settings['up_to_hz']:.9g} Hz", "even": settings["even_db"]}
    want |= {"in_vacuum": True} if study.recipe.in_vacuum else {}
    bands = {name: [f"{end:.9g} Hz" for end in ends] for name, ends in settings["bands"].items()}
    data: dict[str, Any] = {
        "study": {"name": f"tolerance of the best of {study.name}", "base": design},
        "vary": vary,
        "plan": {"how": "sobol", "cases": PARTS, "seed": 1},
        "want": want | ({"bands": bands} if bands else {}) | ({} if study.recipe.joints else {"joints": False}),
    }
    limits = {name: _limit(name, limits) for name, limits in study.limits.items()}
    wishes = [
        {"figure": one.figure, "aim": one.aim if isinstance(one.aim, str) else _with_unit(one.figure, one.aim)}
        | {"weight": one.weight}
        for one in study.wishes
    ]
    if limits or wishes:
        data["morning"] = ({"limits": limits} if limits else {}) | ({"wish": wishes} if wishes else {})
    remark = REMARK.format(limits="" if study.limits else ", and give [morning.limits]")
    return "".join(f"# {line}".rstrip() + "\n" for line in remark.splitlines()) + "\n" + to_toml(data)


def _limit(figure: str, limits: tuple[float | None, float | None]) -> Mapping[str, str | float]:
    sides = zip(("above", "below"), limits, strict=True)
    return {side: _with_unit(figure, value) for side, value in sides if value is not None}


def _with_unit(figure: str, value: float) -> str | float:
    """A value of a figure as a study file has it: "1141 Hz", or the number of what has no unit."""
    dimension = dimension_of(figure)
    return value if dimension is None or dimension == SHARE else f"{value:.12g} {dimension.unit}"
