"""A store's results for other programs: Parquet and CSV (a row per case), NetCDF (labelled arrays with the curves)."""

from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, MEASURES
from diaphragm_fem.design.files.plain_text import csv_cells
from diaphragm_fem.design.files.whole_file import whole_file
from diaphragm_fem.errors import StudyError, echo
from diaphragm_fem.study.morning.beside import drawn_amounts
from diaphragm_fem.study.plan.amount import Written, amount_in_si, dimension_of, kinds, split_amount
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.store_reading import SWEEP_AGAIN, Reading, read_store

FORMATS = {".parquet": "Parquet", ".csv": "CSV", ".nc": "NetCDF"}


def export_study(study: str | Path | Study, target: str | Path, *, store: str | Path | None = None) -> Path:
    """Write the store of a study to `target`, in the format its ending says: .parquet, .csv or .nc.

    Tables hold a row per case: number, status, reason, every input as written and (`_si`) in SI, a ratio resolved to
    the amount that it stands for, every figure in SI (empty where it does not exist), which of these never come and how
    far that was sought, warnings, seconds. NetCDF holds the solved cases over `case`, curves over `case` and `point` as
    real and imaginary parts, with their own frequencies, and modes over `case` and `mode_of_order_m`.
    """
    study = read_study(study)
    target = Path(target)
    if target.suffix not in FORMATS:
        known = ", ".join(f"{ending} ({name})" for ending, name in FORMATS.items())
        raise StudyError(f"{target}: its ending must say the format, one of {known}; received '{target.suffix}'")
    with read_store(Path(store) if store else study.store_path, study) as reading:
        reading.check()
        try:
            with whole_file(target) as draft:
                if target.suffix == ".nc":
                    _dataset(reading, study).to_netcdf(draft, engine="h5netcdf")
                elif target.suffix == ".csv":
                    table = _table(reading, study)
                    table.columns = csv_cells(table.columns)
                    table.map(lambda value: csv_cells([value])[0]).to_csv(draft, index=False)
                else:
                    _table(reading, study).to_parquet(draft, index=False)
        except OSError as error:
            raise StudyError(f"{target}: cannot be written: {error}") from error
    return target


def _resolved(study: Study, inputs: Mapping[str, Written]) -> dict[str, Written]:
    """What each thing that varies is in the design: a ratio is the amount that it stands for."""
    if all(variable.of is None for variable in study.recipe.variables):
        return dict(inputs)
    return drawn_amounts(study.recipe, study.recipe.design_of(tuple(inputs.values())))


def _table(reading: Reading, study: Study) -> Any:
    import pandas

    rows = []
    for row in reading.rows():
        inputs = row["inputs"]
        in_si = {f"{name}_si": amount_in_si(value) for name, value in _resolved(study, inputs).items()}
        columns = [
            ("case", row["number"]),
            ("status", row["status"]),
            ("reason", row["reason"]),
            *((name, str(value)) for name, value in inputs.items()),
            *((name, value) for name, value in in_si.items() if value is not None),
            *row["figures"].items(),
            ("never", _never(row)),
            ("warnings", "; ".join(row["warnings"])),
            ("seconds", row["seconds"]),
            ("fingerprint", row["fingerprint"].hex() if row["fingerprint"] else None),
        ]
        rows.append(_named_apart(reading.path, columns))
    return pandas.DataFrame(rows)


def _never(row: Mapping[str, Any]) -> str:
    """ "departure_hz > 20000": what never comes in a case, and how far it was sought; no null is one of 0 dB."""
    return "; ".join(f"{name} > {value:.9g}" if value else f"{name} = 0" for name, value in row["never"].items())


def _named_apart(store: Path, columns: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    """Columns by name; StudyError where one has none, or that of another, which it would replace."""
    found = dict(columns)
    if len(found) < len(columns) or not all(name.strip(".") for name in found):
        names = Counter(name for name, _ in columns)
        odd = next(name for name, count in names.items() if count > 1 or not name.strip("."))
        raise StudyError(
            f"{store}: {echo(odd)} cannot name a column of an export, for it is no name or another column's; if "
            f"something that varies is called so, call it otherwise, else the store is damaged: {SWEEP_AGAIN}"
        )
    return found


def _dataset(reading: Reading, study: Study) -> Any:
    import xarray

    rows = list(reading.rows("done"))
    if not rows:
        raise StudyError(f"{reading.path}: no case has been solved yet, so there is nothing to export")
    number = np.array([row["number"] for row in rows])
    data: list[tuple[str, Any]] = [("case", ("case", number))]
    resolved = [_resolved(study, row["inputs"]) for row in rows]
    for variable in study.recipe.variables:
        written = [row[variable.name] for row in resolved]
        in_si = [amount_in_si(value) for value in written]
        plain = all(value is not None for value in in_si)
        keys = ", ".join(variable.keys)
        values = np.array(in_si, float) if plain else np.array([str(value) for value in written])
        unit = next((kind for value in written if (part := split_amount(value)) for kind in kinds(part[1])), "1")
        about = {"key": keys, "units": unit} if plain else {"key": keys}
        data.append((variable.name.replace("/", "_"), ("case", values, about)))
    for name in dict.fromkeys(name for row in rows for name in row["figures"]):
        values = np.array([np.nan if row["figures"].get(name) is None else row["figures"][name] for row in rows], float)
        data.append((_plain(name), ("case", values, _about(name))))
    data.append(("never", ("case", np.array([_never(row) for row in rows]))))
    for name, table in _curves(reading, number).items():
        place = ("case", f"mode_of_order_{name.split(':')[1]}" if name.startswith("mode_hz") else "point")
        if np.iscomplexobj(table):
            for ending, words, half in (("real", "real", table.real), ("imag", "imaginary", table.imag)):
                about = _about(name) | {"long_name": f"{name}, {words} part"}
                data.append((f"{_plain(name)}_{ending}", (place, half, about)))
        else:
            data.append((_plain(name), (place, table, _about(name))))
    attributes = {"study": study.name, "time_factor": "exp(+i omega t)", "positive_motion": "toward the listener"}
    attributes |= {"version": reading.about["version"], "figures_version": reading.about["figures"]}
    return xarray.Dataset(_named_apart(reading.path, data), attrs=attributes)


def _about(name: str) -> dict[str, str]:
    """Attributes of a figure or a curve: its unit, its name as in tables, and what a figure is where that is known."""
    stem = name.partition(":")[0].removeprefix("loaded_")
    known = {**DEFINITIONS, **MEASURES}.get(stem)
    return {"units": _unit(name), "long_name": name} | ({"description": known} if known else {})


def _curves(reading: Reading, numbers: np.ndarray) -> dict[str, np.ndarray]:
    """Tables (case, point) of every curve, padded with nan where a case has fewer points."""
    found: dict[str, np.ndarray] = {}
    for row, number in enumerate(numbers):
        for name, curve in reading.curves(int(number)).items():
            table = found.get(name)
            if table is None or table.shape[1] < curve.size:
                wider = np.full((len(numbers), curve.size), np.nan, curve.dtype)
                if table is not None:
                    wider[:, : table.shape[1]] = table
                found[name] = table = wider
            table[row, : curve.size] = curve.ravel()
    return found


def _plain(name: str) -> str:
    return name.replace(":", "__").replace(" ", "_").replace("/", "_")


def _unit(name: str) -> str:
    """Of a figure or a curve, by the end of its name."""
    stem, found = name.partition(":")[0], dimension_of(name)
    levels = {"_db_octaves": "dB octave", "_db_per_octave": "dB/octave", "_db": "dB", "_octaves": "octave"}
    told = next((unit for ending, unit in levels.items() if stem.endswith(ending)), "1")
    return found.unit.replace("^", "").replace("dimensionless", "1") if found else told
