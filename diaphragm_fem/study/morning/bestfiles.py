"""The best designs as design files, each ready for the main job."""

from __future__ import annotations

import copy
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from diaphragm_fem.design.write import write_design
from diaphragm_fem.study.morning.page import Morning


def write_best_designs(morning: Morning, folder: str | Path) -> tuple[Path, ...]:
    """One file per best case, named by rank and case number; files that a design refers to are found from there too."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    results = morning.results
    recipe = results.study.recipe
    paths = []
    for place, case in enumerate(morning.best, start=1):
        number = int(results.numbers[case])
        design = _moved(recipe.design_of(results.written[case]), Path(recipe.origin).parent, folder)
        design["name"] = f"{design.get('name') or Path(recipe.origin).stem}, case {number}"
        values = ", ".join(f"{c.name} = {v}" for c, v in zip(results.columns, results.written[case], strict=True))
        remark = f"Rank {place} of {len(results)} solved cases of the study '{results.study.name}':\n"
        remark += f"case {number} with {values}."
        paths.append(write_design(design, folder / f"{place:02d}_case_{number:06d}.toml", remark))
    return tuple(paths)


def _moved(design: Mapping[str, Any], old: Path, new: Path) -> dict[str, Any]:
    """The design with the relative paths of its files rewritten for another folder."""
    moved = copy.deepcopy(dict(design))
    for table, key in ((moved, "materials_file"), (moved.get("profile", {}), "file")):
        if isinstance(table, dict) and isinstance(table.get(key), str) and not Path(table[key]).is_absolute():
            table[key] = os.path.relpath(old / table[key], new)
    return moved
