"""The best designs as design files, each ready for the main job, and a tolerance study of the first."""

import hashlib
import json
import re
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from diaphragm_fem.design.files.input_file import read_file_bytes, read_record
from diaphragm_fem.design.files.named_files import moved_to
from diaphragm_fem.design.files.write import write_design
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.morning.page import Morning
from diaphragm_fem.study.morning.tolerance_file import tolerance_text

RECORD = ".written.json"  # files of the last ranking with the digest of each, to know them again
OWN = re.compile(r"\d+_case_\d+\.toml|tolerance_of_[^/\\]*\.toml")  # whatever a record says, no other is taken away


def write_best_designs(morning: Morning, folder: str | Path) -> tuple[Path, ...]:
    """One file per best case, named by rank and case number; files that a design refers to are found from there too.

    Amounts are rounded to what a drawing says. Files of an earlier ranking that this one does not make are removed,
    unless somebody has changed them since. Last, where anything of the first scatters, a tolerance study of it.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    results = morning.results
    recipe = results.study.recipe
    paths = []
    for place, best in enumerate(morning.best, start=1):
        number = int(results.numbers[best.case])
        design = moved_to(best.data, recipe.folder, folder)
        design["name"] = f"{design.get('name') or Path(recipe.origin).stem}, case {number}"
        values = ", ".join(f"{name} = {amount}" for name, amount in best.amounts.items())
        remark = f"Rank {place} of {len(results)} solved cases of the study '{results.study.name}':\n"
        remark += f"case {number} with {values}"
        remark += f".\nAs solved, not rounded to a drawing: {best.trouble}" if best.trouble else ", as drawn."
        paths.append(write_design(design, folder / f"{place:02d}_case_{number:06d}.toml", remark))
    made, former = {path.name: _digest(path.read_bytes()) for path in paths}, read_record(folder / RECORD)
    if paths and (text := tolerance_text(results.study, morning.best[0], paths[0].name)):
        path = folder / f"tolerance_of_{results.study.path.stem}.toml"
        made[path.name] = _write_unless_changed(path, text, former.get(path.name, ""))
        paths.append(path)
    _remove_former(folder, former, set(made))
    (folder / RECORD).write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    return tuple(paths)


def _write_unless_changed(path: Path, text: str, former: str) -> str:
    """Write a file unless somebody has changed it, such as put in a scatter of their own; the digest of what was made
    of it last."""
    if path.exists() and _digest_of(path) != former:
        return former
    path.write_text(text, encoding="utf-8")
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
