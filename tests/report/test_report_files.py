"""Files of results: every number comes back, and a folder is written whole or not at all."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from mesh_files import read_mesh
from report_cases import metal_dome, stepped_v, undriven_disc

from diaphragm_fem.answer.machine import cores
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.zone_sizes import zone_sizes
from diaphragm_fem.errors import StudyError
from diaphragm_fem.report.blocks.blocks import from_columns, write_csv
from diaphragm_fem.report.files import design as design_files
from diaphragm_fem.report.files import json_text, shapes
from diaphragm_fem.report.results import design, folder
from diaphragm_fem.report.results.folder import is_own

pytestmark = pytest.mark.usefixtures("coarse_pictures")


def rows_of(path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_area_comes_back_in_full_precision(tmp_path) -> None:
    evaluation = stepped_v()
    rows = rows_of(write_csv(tmp_path / "area.csv", from_columns(design_files.area_columns(evaluation))))
    total = np.array([complex(float(r["area_real_m2"]), float(r["area_imag_m2"])) for r in rows])
    np.testing.assert_array_equal(total, evaluation.area.total)
    zones = [name for name in rows[0] if name.startswith("zone_real_m2:")]
    whole = np.array([sum(float(r[name]) for name in zones) for r in rows])
    np.testing.assert_allclose(whole, total.real, rtol=1e-9, atol=1e-12)  # the sum of zones is the whole


def test_nothing_less_than_nothing_cancels():
    """A dome that follows its coil swept 1e-4 less in total than net, by the points of its face."""
    share = np.array(design_files.area_columns(metal_dome())["cancellation"])
    assert share.min() == 0.0 and share.max() > 1e-4


def test_modes_come_back_with_shares_that_sum_to_one(tmp_path) -> None:
    evaluation = stepped_v()
    rows = rows_of(write_csv(tmp_path / "modes.csv", from_columns(design_files.mode_columns(evaluation))))
    expected = np.concatenate([modes.frequency_hz for modes in evaluation.modes.values()])
    np.testing.assert_array_equal([float(r["frequency_hz"]) for r in rows], expected)
    kinetic = [sum(float(v) for k, v in r.items() if k.startswith("kinetic_share:")) for r in rows]
    np.testing.assert_allclose(kinetic, 1.0, rtol=1e-9)


def test_zones_come_back_with_sizes_and_masses(tmp_path) -> None:
    evaluation = stepped_v()
    rows = rows_of(write_csv(tmp_path / "zones.csv", from_columns(design_files.zone_columns(evaluation))))
    for row, size in zip(rows, zone_sizes(evaluation.design), strict=True):
        assert (row["zone"], float(row["mass_kg"]), float(row["width_m"])) == (size.zone.name, size.mass, size.width)
        assert row["angle_rad"] == ("" if size.angle is None else str(size.angle))
    moving = sum(size.mass for size in zone_sizes(evaluation.design) if size.zone.role is not Role.SURROUND)
    assert moving < 1.1 * evaluation.figures.moving_mass_kg  # what the coil carries, the surrounds only in part


def test_what_does_not_exist_is_empty_in_csv_and_null_in_json(tmp_path) -> None:
    path = write_csv(tmp_path / "x.csv", from_columns({"a": [float("nan"), 1.0], "b": [float("inf"), None]}))
    assert path.read_text(encoding="utf-8").splitlines() == ["a,b", ",", "1.0,"]
    assert json.loads(json_text.to_json({"a": np.array([np.nan, 1.0]), "b": np.float64("inf")})) == {
        "a": [None, 1.0],
        "b": None,
    }


def test_json_holds_every_table_and_explains_every_name() -> None:
    evaluation = stepped_v()
    data = json.loads(json_text.to_json(design_files.as_mapping(evaluation)))
    told = {name for name, columns in design_files.TABLES.items() if columns(evaluation)}
    assert {"figures", "modes", "area", "second_opinion", "zones", "materials"} <= told <= set(data)
    assert data["figures"]["departure_hz"] == evaluation.figures.departure_hz
    plain = {"label", "zone", "role", "side", "material", "least_thickness_m", "largest_thickness_m"}
    numbers = {name.split(":")[0] for table in ("modes", "area", "second_opinion") for name in data[table]}
    numbers |= {name.split(":")[0] for name in data["figures"] if name != "why_not"}
    assert numbers - plain <= set(data["meaning"])
    face = {name.split(":")[0] for name in design_files.FILES_ALONE["face"](evaluation)}
    assert face - plain <= set(data["meaning"]) and "positive toward the listener" in data["meaning"]["real"]


def test_json_of_some_tables_leaves_the_others_out() -> None:
    data = design_files.as_mapping(stepped_v(), "modes")
    assert "modes" in data and "area" not in data and "area_real_m2" not in data["meaning"]


def test_a_design_without_drive_has_modes_and_no_area() -> None:
    data = design_files.as_mapping(undriven_disc())
    assert "area" not in data and "figures" not in data
    assert set(data["modes"]["order"]) == {0, 1}
    json.loads(json_text.to_json(data))


def test_shapes_come_back_from_vtu_at_their_points(tmp_path) -> None:
    evaluation = stepped_v()
    grid = read_mesh(shapes.write_shapes(tmp_path / "s.vtu", evaluation, 1))
    surface, modes = evaluation.structures[1].surface, evaluation.modes[1]
    np.testing.assert_allclose(grid.points[:, :2], np.stack((surface.r, surface.z), axis=1))
    begin, end = grid.cells.T
    np.testing.assert_array_equal(grid.zone, surface.zone[begin])
    assert (end == begin + 1).all() and len(begin) == len(surface.r) - len(set(surface.run.tolist()))
    assert len(grid.fields) == len(modes)
    name, shape = next(iter(grid.fields.items()))
    assert name == f"mode 01, {modes.frequency_hz[0]:.1f} Hz"
    axial = surface.motion_z @ modes.vectors[:, 0]
    assert np.linalg.norm(shape, axis=1).max() == pytest.approx(1)
    assert abs(np.corrcoef(shape[:, 1], axial)[0, 1]) == pytest.approx(1)
    around = surface.motion_t @ modes.vectors[:, 0]
    assert abs(np.corrcoef(shape[:, 2], around)[0, 1]) == pytest.approx(1)
    size = np.abs(shape).max(axis=0)
    assert size[2] / size[1] == pytest.approx(np.abs(around).max() / np.abs(axial).max())


def test_folder_holds_pictures_pages_and_numbers(tmp_path) -> None:
    out = tmp_path / "new" / "disc"
    files = design.write_folder(undriven_disc(), out)
    assert sorted(path.name for path in files) == sorted(path.name for path in out.iterdir())
    names = {path.name for path in files}
    assert {"summary.png", "summary.md", "profile.png", "modes_m0.png", "modes_by_order.png", "modes.csv"} <= names
    assert {"shapes_m0.vtu", "shapes_m1.vtu", "result.json"} <= names
    assert all(map(is_own, names))
    assert all(path.stat().st_size > 0 for path in files)
    assert [path for path in tmp_path.rglob(".*")] == []  # no draft left behind


def test_a_later_run_removes_only_files_of_the_earlier_one(tmp_path, blank_pictures) -> None:
    out = tmp_path / "disc"
    design.write_folder(undriven_disc(), out)
    record = json.loads((out / "result.json").read_text(encoding="utf-8"))
    (out / "area.csv").write_text("of an earlier run")
    (out / "mine.txt").write_text("of the user")
    record["files"] += ["area.csv", "mine.txt", "../outside.txt"]  # by whatever hand
    (tmp_path / "outside.txt").write_text("elsewhere")
    (out / "result.json").write_text(json.dumps(record), encoding="utf-8")
    design.write_folder(undriven_disc(), out)
    assert not (out / "area.csv").exists()
    assert (out / "mine.txt").exists() and (tmp_path / "outside.txt").exists()
    (out / "result.json").write_text(json.dumps({**record, "files": 5}), encoding="utf-8")
    design.write_folder(undriven_disc(), out)
    assert (out / "mine.txt").exists()


def test_a_failure_half_way_leaves_nothing(tmp_path, monkeypatch, blank_pictures) -> None:
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(folder, "write_json", full)
    told = r"deep/disc: the results cannot be written: No space left on device; give another folder, or make room"
    with pytest.raises(StudyError, match=told):
        design.write_folder(undriven_disc(), tmp_path / "deep" / "disc")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_somebody_else_is_refused(tmp_path) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(
        StudyError, match=r"--out must name a new or empty folder .* holds other files; give another name"
    ):
        folder.check_folder(tmp_path)
    with pytest.raises(StudyError, match=r"--out must name a folder, received .* which is a file"):
        folder.check_folder(tmp_path / "letter.txt")
    (tmp_path / "empty").mkdir()
    folder.check_folder(tmp_path / "empty")


def test_names_come_in_the_order_of_the_jobs_whoever_makes_the_files(monkeypatch) -> None:
    monkeypatch.setattr(cores, "may_fork", lambda: True)
    monkeypatch.setattr(cores, "cores", lambda: 2)
    jobs = [lambda k=k: [Path(f"{k}")] * (k % 3) for k in range(9)]
    assert folder.names_made(jobs) == [f"{k}" for k in range(9) for _ in range(k % 3)]
