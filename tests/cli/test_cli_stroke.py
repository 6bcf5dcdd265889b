"""The verb about large stroke, and examine where the design asks for it."""

import json
import re
from pathlib import Path
from types import SimpleNamespace

import pytest

from diaphragm_fem.cli import run
from diaphragm_fem.cli.examining import _stroke
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.errors import StudyError

pytestmark = pytest.mark.usefixtures("among_designs", "blank_pictures")

FEW = ("--set", "stroke.steps=4", "--set", "stroke.mode_states=2", "--set", "stroke.modes_up_to=1 kHz")


def test_stroke_prints_a_verdict_and_writes_its_folder(capsys) -> None:
    assert run(["stroke", "stepped_v.toml", *FEW]) == 0
    out = capsys.readouterr().out
    assert re.match(r"north hall, stepped V[^-]*\n- Its stroke is bounded first by", out)
    assert re.search(r"\n- From −1.00 mm to \+1.00 mm the stiffness at the coil runs between 0\.\d+ N/mm at", out)
    assert "How far it may move" in out and "Over the stroke" not in out and "no hysteresis" not in out
    assert "Written to results/stepped_v.stroke: stroke.md, stroke.png and 10 more; --all: every table" in out
    folder = Path("results/stepped_v.stroke")
    record = json.loads((folder / "result.json").read_text(encoding="utf-8"))
    assert {"stroke.png", "stroke_section.png", "stroke_strain.png", "stroke.csv", "stroke.md"} <= set(record["files"])
    assert "steps = 4" in (folder / "design.toml").read_text(encoding="utf-8")
    whole = (folder / "stroke.md").read_text(encoding="utf-8")
    assert all(words in whole for words in ("Over the stroke", "no hysteresis, no creep", "fibre most strained where"))


def test_a_full_disk_is_no_fault_of_the_design(capsys, monkeypatch) -> None:
    """The design file stood in front of the folder that could not be written."""
    from diaphragm_fem.answer.stroke import stroke
    from diaphragm_fem.report.results import stroke as results

    def full(*_, **__):
        raise StudyError("results/stepped_v.stroke: the results cannot be written: No space left on device")

    monkeypatch.setattr(stroke, "evaluate_stroke", lambda *_, **__: None)
    monkeypatch.setattr(results, "write_stroke_folder", full)
    assert run(["stroke", "stepped_v.toml"]) == 2
    assert capsys.readouterr().err.startswith("error: results/stepped_v.stroke: the results cannot be written: ")


def test_stroke_as_json_is_all_that_is_printed(capsys) -> None:
    assert run(["stroke", "stepped_v.toml", *FEW, "--set", "stroke.orders=[]", "--json", "--out", "there"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert "north hall, stepped V, 4 keys changed" in Path("there/stroke.md").read_text(encoding="utf-8")
    assert {-1e-3, -5e-4, 0.0, 5e-4, 1e-3} <= set(data["stroke"]["stroke_m"])  # and states between where steps are long
    assert data["unstable"] == [None, None] and "force_n" in data["meaning"]


@pytest.mark.long
def test_examine_moves_the_coil_where_the_design_asks(capsys, one_lever) -> None:
    arguments = ["examine", "stepped_v.toml", "--orders", "0", "--up-to", "3 kHz", "--tolerance", "1 %"]
    assert run([*arguments, "--no-second-opinion", *FEW]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Large stroke" in told and "Steps of the verdict, tried at large stroke (distances from rest" in told
    record = json.loads(Path("results/stepped_v/result.json").read_text(encoding="utf-8"))
    assert {"stroke.png", "stroke.csv", "stroke.md", "summary.png"} <= set(record["files"])
    assert record["stroke"]["rest_m"] == 0 and "stroke_steps" in record["stroke"]
    assert run([*arguments, "--no-second-opinion", "--quiet"]) == 0
    assert not Path("results/stepped_v/stroke.csv").exists()


def test_a_slot_that_cannot_be_drawn_leaves_an_examination_its_stroke() -> None:
    """What an examination leaves out with a warning ended it: one for the plug before the face, and for harmonics."""
    slot, drive = {"front.slots[0].width": "9 mm"}, {"stroke.drive.force": "0.1 N", "stroke.drive.frequency": ["60 Hz"]}
    few = {"stroke.steps": 4, "stroke.mode_states": 2, "stroke.orders": []}
    file = read_design_file("driver_straight_v.toml", {**slot, **drive, **few}, allow_unusual=True)
    moved = _stroke(file, SimpleNamespace(design=file.design, driver=None, sensitivities=None, corrected=False), print)
    assert moved.distortion[0].reason == "" and all(limit.what != "the plug before the face" for limit in moved.limits)


def test_what_makes_no_sense_is_refused_before_anything_is_written(capsys) -> None:
    for change, words in (
        ("stroke.steps=0", "stroke.steps: must be greater than or equal to 1; received 0"),
        ('stroke.allowable."PEN film".strain=0.02', 'a share needs a number and its unit in quotes, such as "2 %"'),
        ("stroke.pre_strain.brim=1 %", "stroke.pre_strain: there is no zone 'brim'"),
        ("stroke.rearmost=2 mm", "rearmost and foremost must lie on either side of where the coil rests"),
    ):
        code = run(["stroke", "stepped_v.toml", "--set", change])
        out, err = capsys.readouterr()
        assert code == 2 and out == "" and words in err and not Path("results").exists()
    assert run(["stroke", "film_by_thickness.toml"]) == 2
    assert "is a study file" in capsys.readouterr().err
