"""A store's results for other programs: Parquet and CSV (a row per case), NetCDF (labelled arrays with the curves)."""

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, MEASURES
from diaphragm_fem.answer.machine.room import claim_room
from diaphragm_fem.design.files.plain_text import csv_cells
from diaphragm_fem.design.files.whole_file import whole_file
from diaphragm_fem.errors import StudyError, echo
from diaphragm_fem.study.morning.beside import drawn_amounts
from diaphragm_fem.study.plan.amount import Written, amount_in_si, dimension_of, kinds, split_amount
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.curve_packing import ROUNDED
from diaphragm_fem.study.run.store import DONE
from diaphragm_fem.study.run.store_reading import SWEEP_AGAIN, Reading, read_store

AT_ONCE = 10_000  # cases that are held as Python's own numbers: a million of them took 6 GB
TO_LOAD, TO_WRITE = 192 << 20, 32 << 20  # bytes of addresses: 200 and 15 MiB are taken, on x86-64 Linux
FORMATS = {".parquet": "Parquet", ".csv": "CSV", ".nc": "NetCDF"}


def export_study(study: str | Path | Study, target: str | Path, *, store: str | Path | None = None) -> Path:
    """Write the store of a study to `target`, in the format its ending says: .parquet, .csv or .nc.

    Tables hold a row per case: number, status, reason, every input as written and (`_si`) in SI, a ratio resolved to
    the amount that it stands for, every figure in SI (empty where it does not exist), which of these never come and how
    far that was sought, warnings, seconds. NetCDF holds the solved cases over `case`, curves over `case` and `point` as
    real and imaginary parts, with their own frequencies, and modes over `case` and `mode_of_order_m`; both as the store
    keeps them, rounded: `rounded_within` of each says how far, relative.
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
                _load(target.suffix)
                if target.suffix == ".nc":
                    draft.write_bytes(_netcdf(_dataset(reading, study)))
                elif target.suffix == ".csv":
                    _write_csv(_table(reading, study), draft)
                else:
                    _table(reading, study).to_parquet(draft, index=False)
        except OSError as error:
            raise StudyError(f"{target}: cannot be written: {error.strerror or error}") from error
    return target


def _load(ending: str) -> None:
    """Load what writes a format: of a lack of memory there its users tell that it is not installed."""
    claim_room(TO_LOAD, "to load what writes tables")
    if ending == ".nc":
        import h5py  # noqa: F401
    elif ending == ".parquet":
        import pyarrow.parquet  # noqa: F401


def _netcdf(dataset: Any) -> Any:
    """The file as an image first: HDF5 takes the program down where a disk fills up under its hands, or memory."""
    claim_room(2 * dataset.nbytes + TO_WRITE, "to write NetCDF; .parquet and .csv need less")
    return dataset.to_netcdf(engine="h5netcdf")


def _resolved(study: Study, inputs: Mapping[str, Written]) -> dict[str, Written]:
    """What each thing that varies is in the design: a ratio is the amount that it stands for."""
    if all(variable.of is None for variable in study.recipe.variables):
        return dict(inputs)
    return drawn_amounts(study.recipe, study.recipe.design_of(tuple(inputs.values())))


def _table(reading: Reading, study: Study, status: str | None = None) -> Any:
    """A row per case of a status, or of every one."""
    import pandas

    rows = (_columns(reading, study, row) for row in reading.rows(status))
    blocks = iter(lambda: list(islice(rows, AT_ONCE)), [])
    tables = [pandas.DataFrame(block) for block in blocks] or [pandas.DataFrame()]
    return pandas.concat(tables, ignore_index=True).infer_objects()


def _columns(reading: Reading, study: Study, row: Mapping[str, Any]) -> dict[str, Any]:
    """What a table tells of one case, by column."""
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
    return _named_apart(reading.path, columns)


def _write_csv(table: Any, path: Path) -> None:
    table.columns = csv_cells(table.columns)
    for begin in range(0, max(len(table), 1), AT_ONCE):
        block = table[begin : begin + AT_ONCE].map(lambda value: csv_cells([value])[0])
        block.to_csv(path, index=False, mode="a" if begin else "w", header=not begin)


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

    table = _table(reading, study, DONE)
    if not len(table):
        raise StudyError(f"{reading.path}: no case has been solved yet, so there is nothing to export")
    number = table.pop("case").to_numpy()
    data: list[tuple[str, Any]] = [("case", ("case", number))]
    first = _resolved(study, next(reading.rows(DONE))["inputs"])
    for variable in study.recipe.variables:
        written, about = table.pop(variable.name), {"key": ", ".join(variable.keys)}
        if (values := table.pop(f"{variable.name}_si") if f"{variable.name}_si" in table else None) is not None:
            amount = split_amount(first[variable.name])
            about["units"] = next(iter(kinds(amount[1])), "1") if amount else "1"
        data.append((variable.name.replace("/", "_"), ("case", np.array(written if values is None else values), about)))
    never = np.array(table.pop("never"))
    for name in table.columns.drop(["status", "reason", "warnings", "seconds", "fingerprint"]):
        values = table[name].to_numpy(float)
        data.append((_plain(name), ("case", values, _about(name))))
    data.append(("never", ("case", never)))
    for name, curve in _curves(reading, number).items():
        place = ("case", f"mode_of_order_{name.split(':')[1]}" if name.startswith("mode_hz") else "point")
        parts = [("", "", curve)]
        if np.iscomplexobj(curve):
            parts = [("_real", ", real part", curve.real), ("_imag", ", imaginary part", curve.imag)]
        for ending, words, part in parts:
            told = _about(name) | {"long_name": f"{name}{words}", "rounded_within": ROUNDED}
            data.append((f"{_plain(name)}{ending}", (place, part, told)))
    attributes = {"study": study.name, "time_factor": "exp(+i omega t)", "positive_motion": "toward the listener"}
    attributes |= {"version": reading.about["version"], "figures_version": reading.about["figures"]}
    return xarray.Dataset(_named_apart(reading.path, data), attrs=attributes)


def _about(name: str) -> dict[str, Any]:
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
