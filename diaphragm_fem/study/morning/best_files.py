"""The best designs as design files, each ready for the main job."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from diaphragm_fem.design.write import moved_to, write_design
from diaphragm_fem.study.morning.page import Morning

RECORD = ".written.json"  # files of the last ranking with the digest of each, to know them again


def write_best_designs(morning: Morning, folder: str | Path) -> tuple[Path, ...]:
    """One file per best case, named by rank and case number; files that a design refers to are found from there too.

    Files of an earlier ranking that this one does not make are removed, unless somebody has changed them since.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    results = morning.results
    recipe = results.study.recipe
    paths = []
    for place, case in enumerate(morning.best, start=1):
        number = int(results.numbers[case])
        design = moved_to(recipe.design_of(results.written[case]), Path(recipe.origin).parent, folder)
        design["name"] = f"{design.get('name') or Path(recipe.origin).stem}, case {number}"
        values = ", ".join(f"{c.name} = {v}" for c, v in zip(results.columns, results.written[case], strict=True))
        remark = f"Rank {place} of {len(results)} solved cases of the study '{results.study.name}':\n"
        remark += f"case {number} with {values}."
        paths.append(write_design(design, folder / f"{place:02d}_case_{number:06d}.toml", remark))
    _remove_former(folder, {path.name for path in paths})
    record = json.dumps({path.name: _digest(path) for path in paths}, indent=1)
    (folder / RECORD).write_text(record + "\n", encoding="utf-8")
    return tuple(paths)


def _remove_former(folder: Path, made: set[str]) -> None:
    try:
        former = dict(json.loads((folder / RECORD).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return
    for name, digest in former.items():
        path = folder / name
        if name not in made and path.name == name and path.is_file() and _digest(path) == digest:
            path.unlink()


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
