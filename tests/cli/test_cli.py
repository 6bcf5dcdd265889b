"""What people type: verbs, options, exit codes, messages, and that nothing is written when something is wrong."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from diaphragm_fem.cli import run
from diaphragm_fem.cli.shared import read_changes, read_orders, read_share
from diaphragm_fem.design.read.read import load_design

pytestmark = pytest.mark.usefixtures("among_designs", "blank_pictures")

TOOL = Path(sys.executable).with_name("diaphragm-fem")
VERBS = (
    "examine", "profile", "draw", "modes", "area", "stroke",
    "materials", "schema", "terms", "verify", "compare", "walls", "sweep", "status",
    "morning", "export",
)  # fmt: skip
QUICK = ("--orders", "0,1", "--up-to", "3 kHz", "--tolerance", "5 %", "--no-second-opinion")


def files() -> set[str]:
    return {str(path) for path in Path().rglob("*")}


def refused(capsys, *arguments: str) -> str:
    """Run a verb that must refuse: exit code 2, one message on stderr, nothing on stdout, nothing written."""
    before = files()
    code = run(list(arguments))
    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert err.startswith("error: ") and "Traceback" not in err
    assert files() == before
    return err


def test_help_names_every_verb(capsys) -> None:
    assert run(["--help"]) == 0
    shown = capsys.readouterr().out
    assert run([]) == 0
    assert capsys.readouterr().out == shown
    for verb in VERBS:
        assert re.search(rf"^ +{verb} ", shown, re.MULTILINE)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_has_help(verb: str, capsys) -> None:
    assert run([verb, "--help"]) == 0
    shown = capsys.readouterr().out
    assert f"diaphragm-fem {verb}" in shown
    assert not re.search("[<{]([A-Z]|path|str|list)", shown)  # what to type, in words of ours and not of the library


def test_help_without_docstrings_says_what_a_verb_does() -> None:
    """Under -OO it said nothing of it."""
    asked = [sys.executable, "-OO", "-m", "diaphragm_fem", "morning", "--help"]
    shown = subprocess.run(asked, capture_output=True, text=True, check=True).stdout
    assert "Rank a study and tell what mattered. Python's option -OO has left out" in shown


def test_version(capsys) -> None:
    from diaphragm_fem import __version__

    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"diaphragm_fem {__version__}\n"


def test_starts_quickly() -> None:
    """Half a second of processor time, whatever else the machine does; the heavy libraries alone take longer."""
    import resource

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    outcome = subprocess.run([str(TOOL), "--help"], capture_output=True, text=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert outcome.returncode == 0
    assert (after.ru_utime - before.ru_utime) + (after.ru_stime - before.ru_stime) < 0.5


def test_examine_prints_every_table_on_request_and_gives_the_second_opinion_unless_told_not_to(
    capsys, one_lever
) -> None:
    arguments = ["examine", "metal_dome.toml", "--orders", "0", "--up-to", "3 kHz", "--tolerance", "5 %"]
    assert run([*arguments, "--all"]) == 0
    out = capsys.readouterr().out
    assert "by the solid model" in out
    for heading in ("Figures", "What to change", "Modes up to 3.00 kHz", "Zones", "How far to trust it"):
        assert f"\n{heading}" in out, heading
    rows = Path("results/metal_dome/second_opinion.csv").read_text(encoding="utf-8").splitlines()
    assert rows[0] == "order,mode,shell_hz,solid_mode,solid_hz,likeness,difference" and len(rows) > 1
    assert run([*arguments, "--no-second-opinion", "--quiet"]) == 0
    assert capsys.readouterr().out == ""
    assert not Path("results/metal_dome/second_opinion.csv").exists()


def test_set_changes_the_answer(capsys) -> None:
    def fundamental(*more: str) -> float:
        assert run(["area", "metal_dome.toml", "--up-to", "3 kHz", "--json", *more]) == 0
        return json.loads(capsys.readouterr().out)["figures"]["fundamental_hz"]

    assert fundamental("--set", "coil.winding_mass=0.8 g") < 0.8 * fundamental()


def test_json_is_all_that_is_printed(capsys) -> None:
    assert run(["modes", "metal_dome.toml", "--orders", "1", "--up-to", "5 kHz", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert set(data["modes"]["order"]) == {1}
    assert "frequency_hz" in data["meaning"]


def test_pictures_go_where_told(capsys) -> None:
    for verb, suffix in (("profile", "pdf"), ("modes", "png"), ("area", "pdf")):
        assert run([verb, "metal_dome.toml", "--up-to", "3 kHz", "--out", f"{verb}.{suffix}"]) == 0
        head = Path(f"{verb}.{suffix}").read_bytes()[:4]
        assert head == (b"\x89PNG" if suffix == "png" else b"%PDF")
    assert "Drawn in area" in capsys.readouterr().out


def test_materials_come_with_sources_and_cautions(capsys) -> None:
    assert run(["materials"]) == 0
    out = capsys.readouterr().out
    assert "PEN film" in out and "handbook" in out and "assumed" in out
    assert "Caution: beryllium" in out
    assert run(["materials", "PEN film", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert {row["material"] for row in rows} == {"PEN film"} and all(row["source"] for row in rows)


def test_schema_goes_to_the_terminal_or_a_file(capsys) -> None:
    assert run(["schema"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert run(["schema", "--out", "design.schema.json"]) == 0
    assert json.loads(Path("design.schema.json").read_text(encoding="utf-8")) == shown


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["examine", "nowhere.toml"], r"nowhere.toml: there is no such file; give the path of one"),
        (["examine"], r"Missing argument 'DESIGN'. Design file \(\*.toml\).\nSee 'diaphragm-fem examine --help'."),
        (["walls", "x.toml"], r"Missing option '--materials'. Materials: \"PEN film, titanium\"."),
        (["walls", "x.toml", "--materials", "titanium"], r"'--thickness'. Thicknesses: \"25 um, 50 um\" or"),
        (["export", "x.toml"], r"Missing argument 'FILE'. \*.parquet, \*.csv or \*.nc"),
        (["examin", "stepped_v.toml"], r"No such command 'examin'"),
        (["modes", "stepped_v.toml", "--nonsense"], r"No such option: --nonsense"),
        (["sweep", "x.toml", "--out", "y"], r"No such option: --out\nSee"),  # --log was told, whose dashes are alike
        (["examine", "stepped_v.toml", "--up"], r"No such option: --up.*--up-to"),
        (
            ["examine", "stepped_v.toml", "--up-to", "20"],
            r"--up-to: a frequency needs its unit.*received '20' without one",
        ),
        (["examine", "stepped_v.toml", "--up-to", "2 mm"], r"--up-to: 'mm' is not a unit of frequency"),
        (["area", "stepped_v.toml", "--up-to", "0 Hz"], r"--up-to must lie above 20 Hz, .*; received '0 Hz'"),
        (["modes", "stepped_v.toml", "--up-to", "20 mHz"], r"--up-to must lie above 20 Hz, .*; received '20 mHz'"),
        (["area", "stepped_v.toml", "--up-to", "5 MHz"], r"--up-to .*and be at most 1 MHz; received '5 MHz'"),
        (["modes", "stepped_v.toml", "--orders", "4-0"], r"--orders must rise, received '4-0'; write '0-4'"),
        (["modes", "stepped_v.toml", "--orders", "one"], r"--orders must be whole numbers from 0.*received 'one'"),
        (["modes", "stepped_v.toml", "--orders", "0-500"], r"--orders must stay at or below 50, received '0-500'"),
        (["modes", "stepped_v.toml", "--tolerance", "0.1"], r'--tolerance: write "10 %", or "0.1 %"; received \'0.1\''),
        (["modes", "stepped_v.toml", "--tolerance", "20 %"], r"--tolerance must be a share above 0 and up to 10 %"),
        (["modes", "stepped_v.toml", "--set", "wall"], r"--set must be KEY=VALUE, such as .*received 'wall'"),
        (["modes", "stepped_v.toml", "--set", "name=a", "--set", "name=b"], r"--set gives 'name' twice; keep one"),
        (["modes", "stepped_v.toml", "--set", "wall.thickness='1 mm'\nname='b'"], r"wall.thickness: .*received"),
        (["sweep", "nowhere.toml", "--workers", "99999999"], r"99999999 workers are too many for \d+ cores: give"),
        (["modes", "stepped_v.toml", "--set", "wall.thicknes=75 um"], r"did you mean 'thickness'\?"),
        (["modes", "stepped_v.toml", "--set", "wall.material=unobtainium"], r"unknown material 'unobtainium'"),
        (
            ["profile", "stepped_v.toml", "--out", "x.gif"],
            r"--out must end in .png or .pdf, received 'x.gif'; write for example x.png",
        ),
        (
            ["profile", "stepped_v.toml", "--out", "stepped_v.toml/no/x.png"],
            r"must name a file, received 'stepped_v.toml/no/x.png', but '.*stepped_v.toml' is a file; give another",
        ),
        (["examine", "stepped_v.toml", "--out", "."], r"--out must name a new or empty folder"),
        (
            ["examine", "stepped_v.toml", "--out", "stepped_v.toml"],
            r"--out must name a folder, received 'stepped_v.toml'",
        ),
        (["area", "stepped_v.toml", "--set", 'coil={kind="nothing"}'], r"stepped_v.toml: coil"),
        (["materials", "PEN"], r"unknown material 'PEN'; did you mean 'PEN film'"),
        (["materials", "--file", "none.toml"], r"none.toml"),
        (["compare", "stepped_v.toml"], r"a comparison needs two designs or more, or one with --try"),
        (["compare", "stepped_v.toml", "straight_v.toml", "--try", "a=1"], r"--try goes with one design, received 2"),
        (["compare", "stepped_v.toml", "--try", "wall.thickness"], r"--try must be KEY=VALUES"),
        (
            ["compare", "stepped_v.toml", "straight_v.toml", "--baseline", "3"],
            r"--baseline must be one of 1 'north hall",
        ),
        (
            ["walls", "stepped_v.toml", "--materials", "PEN film", "--thickness", "9 um to 2 um in 5"],
            r"--thickness must rise",
        ),
        (
            ["walls", "stepped_v.toml", "--materials", "PEN film", "--thickness", "9 um to 20 um"],
            r"--thickness: a range says how many, \"25 um to 200 um in 50\"; received '9 um to 20 um'",
        ),
        (
            ["walls", "stepped_v.toml", "--materials", "PEN film", "--thickness", "20"],
            r"--thickness: a length needs its unit, such as .*; received '20' without one",
        ),
        (
            ["walls", "stepped_v.toml", "--materials", "PEM film", "--thickness", "20 um"],
            r"^(error: )?--materials: unknown material 'PEM film'; did you mean",
        ),
        (
            ["walls", "stepped_v.toml", "--materials", "PEN film", "--thickness", "12,5 um, 25 um"],
            r"--thickness: decimals are written with a point, \"12\.5 um\"; received '12,5 um, 25 um'; values are",
        ),
        (
            ["compare", "stepped_v.toml", "--try", "wall.thickness=50,5 um"],
            r"--try: decimals are written with a point, \"50\.5 um\"; received '50,5 um'",
        ),
        (
            ["examine", "stepped_v.toml", "--tolerance", "0,1 %"],
            r"--tolerance: decimals are written with a point, \"0\.1 %\"; received '0,1 %'",
        ),
        (["status", "step_position_by_tread.toml"], r"no store of results; run the study first: diaphragm-fem sweep s"),
        (["walls", "stepped_v.toml", "--materials", "PEN film", "--thickness", "0 um"], r"above 0, received '0 um'"),
        (["sweep", "stepped_v.toml"], r"stepped_v.toml: is a design file"),
        (["export", "step_position_by_tread.toml", "x.xls"], r"its ending must say the format"),
        (["verify", "--only", "no such rung"], r"--only must match a check or one of the rungs"),
    ],
)
def test_refusals(arguments: list[str], message: str, capsys) -> None:
    assert re.search(message, refused(capsys, *arguments), re.DOTALL)


def test_a_wall_in_air_needs_a_gap_and_a_motor(capsys) -> None:
    told = refused(capsys, "examine", "metal_dome.toml", "--wall-in-air")
    assert 'needs a [front] of kind "thin chamber" and a [motor], received no [front], no [motor]' in told
    told = refused(capsys, "examine", "driver_straight_v.toml", "--wall-in-air", "--set", "front.kind=even pressure")
    assert 'received a [front] of kind "even pressure"; add them' in told


def test_a_driver_says_what_everything_around_it_does(capsys, monkeypatch, one_lever) -> None:
    monkeypatch.setattr("diaphragm_fem.answer.driver.chamber_opinion.WALL_FREQUENCIES", 3)
    assert run(["examine", "driver_straight_v.toml", *QUICK, "--wall-in-air", "--up-to", "3 kHz", "--orders", "0"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for words in ("With everything on", "can harm hearing", "wall and air in two dimensions as one differ"):
        assert words in shown
    assert "moving_face" in Path("results/driver_straight_v/driver_chamber_opinion.csv").read_text()


def test_an_area_needs_a_drive(capsys) -> None:
    Path("disc.toml").write_text(
        'profile = { kind = "free", r = ["0 mm", "20 mm"], z = ["0 mm", "0 mm"] }\n'
        'wall = { material = "PEN film", thickness = "0.2 mm" }\nedges = { outer = "clamped" }\n',
        encoding="utf-8",
    )
    assert "an effective area needs a drive" in refused(capsys, "area", "disc.toml")


def test_a_failure_of_the_program_is_exit_code_1(capsys, monkeypatch) -> None:
    from diaphragm_fem.cli import shared

    def fail(*_):
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(shared, "open_design", fail)
    assert run(["modes", "stepped_v.toml"]) == 1
    err = capsys.readouterr().err
    assert "the program failed (ZeroDivisionError: a fault of ours)" in err and "not yours" in err


def test_the_real_command_leaves_with_its_exit_code_and_no_trace() -> None:
    outcome = subprocess.run([str(TOOL), "examine", "nowhere.toml"], capture_output=True, text=True)
    assert outcome.returncode == 2
    assert outcome.stdout == ""
    assert outcome.stderr == "error: nowhere.toml: there is no such file; give the path of one that is there\n"


def test_a_closed_pipe_is_no_failure() -> None:
    command = f"'{TOOL}' materials | head -1"
    outcome = subprocess.run(["bash", "-c", f"set -o pipefail; {command}"], capture_output=True, text=True)
    assert outcome.stderr == ""
    assert outcome.stdout.strip() == "Materials"


def test_a_folder_that_cannot_be_written_is_the_users_to_mend(capsys) -> None:
    message = refused(capsys, "examine", "metal_dome.toml", *QUICK, "--out", "stepped_v.toml/out")
    assert "--out must name a folder, received 'stepped_v.toml/out'" in message and "is a file" in message


@pytest.mark.parametrize(
    ("text", "orders"), [("0-4", [0, 1, 2, 3, 4]), ("3,1", [1, 3]), ("2", [2]), ("0-1,1-2", [0, 1, 2])]
)
def test_orders_are_read(text: str, orders: list[int]) -> None:
    assert read_orders(text) == orders


@pytest.mark.parametrize(("text", "share"), [("0.1 %", 0.001), ("0.1%", 0.001), ("0.002", 0.002)])
def test_shares_are_read(text: str, share: float) -> None:
    assert read_share(text) == pytest.approx(share)


@pytest.mark.parametrize(
    ("text", "change"),
    [
        ("wall.thickness=75 um", {"wall.thickness": "75 um"}),
        ('wall.thickness="75 um"', {"wall.thickness": "75 um"}),
        ("profile.outer.steps[0].tread = 1 mm", {"profile.outer.steps[0].tread": "1 mm"}),
        ("coil.wire.turns=36", {"coil.wire.turns": 36}),
        ('coil={kind = "none"}', {"coil": {"kind": "none"}}),
        ("name=a=b", {"name": "a=b"}),
    ],
)
def test_changes_are_read(text: str, change: dict) -> None:
    assert read_changes([text]) == change


def test_verify_prints_a_line_per_rung_or_every_check_with_its_source_and_writes_its_page(capsys) -> None:
    assert run(["verify", "--only", "lumped limits", "--out", "proof"]) == 0
    out = capsys.readouterr().out
    assert "lumped limits" in out and "Allowed, " not in out and "checks passed" in out
    assert len(out.splitlines()) == 4  # head, the rung, the count, the folder
    assert run(["verify", "--only", "lumped limits", "--all"]) == 0
    out = capsys.readouterr().out
    assert "Lumped limits" in out and "Allowed, " in out and "checks passed" in out
    assert {"verification.md", "verification.html", "verification.png"} <= {
        path.name for path in Path("proof").iterdir()
    }
    assert run(["verify", "--only", "lumped limits", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert rows and all(row["passed"] and row["source"] and abs(row["difference"]) <= row["allowed"] for row in rows)


def test_verify_fails_with_code_1_when_a_check_fails(capsys, monkeypatch) -> None:
    from dataclasses import replace

    from diaphragm_fem.verify import ladder

    wrong = replace(ladder.select("lumped limits")[0], allowed=-1.0)
    monkeypatch.setattr(ladder, "select", lambda pattern: (wrong,))
    assert run(["verify", "--quiet"]) == 1
    assert f"error: 1 of 1 checks failed: {wrong.id}" in capsys.readouterr().err


def test_compare_prints_differences_and_writes_its_pages(capsys, no_doubts) -> None:
    quick = ["--orders", "0", "--up-to", "3 kHz", "--tolerance", "5 %"]
    named = ["--baseline", "north hall, soft dome"]
    assert run(["compare", "metal_dome.toml", "soft_dome.toml", *named, "--all", *quick]) == 0
    out = capsys.readouterr().out
    assert "'north hall, metal dome' against 'north hall, soft dome': " in out
    assert Path("results/metal_dome_against_soft_dome.compared/comparison.md").stat().st_size > 0
    tried = ["--try", "wall.thickness=25 um; 40 um", "--baseline", "2"]
    assert run(["compare", "metal_dome.toml", *tried, *quick, "--out", "tried"]) == 0
    out = capsys.readouterr().out
    assert " wins on: " in out and len(out.splitlines()) <= 40
    head = Path("tried/figures.csv").read_text(encoding="utf-8")
    assert "25 um" in head and "40 um" in head and "as drawn" in head


def test_a_top_frequency_is_read_even_where_nothing_is_meshed(capsys) -> None:
    assert 'decimals are written with a point, "2.5 kHz"' in refused(
        capsys, "profile", "metal_dome.toml", "--up-to", "2,5 kHz"
    )


def test_walls_tries_every_material_and_thickness(capsys) -> None:
    arguments = ["--materials", "aluminium alloy, titanium", "--thickness", "20 um to 40 um in 3", "--up-to", "5 kHz"]
    assert run(["walls", "metal_dome.toml", *arguments]) == 0
    assert "titanium" in capsys.readouterr().out
    rows = Path("results/metal_dome.walls/walls.csv").read_text(encoding="utf-8").splitlines()
    assert sum(row.startswith(("aluminium alloy,", "titanium,")) for row in rows) == 6


TINY_STUDY = """
[study]
name = "tiny"
base = "metal_dome.toml"
[vary.wall]
key = "wall.thickness"
list = ["25 um", "35 um"]
[plan]
how = "grid"
[want]
up_to = "3 kHz"
points = 40
[morning]
wish = [{ figure = "moving_mass_kg", aim = "low" }]
"""


def test_a_study_goes_from_sweep_to_morning(capsys) -> None:
    """Through the installed command, because the sweep starts processes of its own."""
    Path("tiny.toml").write_text(TINY_STUDY, encoding="utf-8")
    outcome = subprocess.run([str(TOOL), "sweep", "tiny.toml", "--workers", "1"], capture_output=True, text=True)
    assert outcome.returncode == 0, outcome.stderr
    assert "tiny: 2 cases, 2 of them new" in outcome.stdout and "diaphragm-fem morning tiny.toml" in outcome.stdout
    assert run(["status", "tiny.toml"]) == 0
    assert "2 of 2 cases" in capsys.readouterr().out
    assert run(["status", "tiny.toml", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["stored"] == 2
    assert run(["morning", "tiny.toml", "--no-pictures", "--out", "morning"]) == 0
    out = capsys.readouterr().out
    assert "- The best is case " in out and "What matters" not in out and "Trade-off" not in out
    assert "Written to morning: morning.html, which moves, best/, tables and figures; --all: every table" in out
    assert "What matters" in Path("morning/morning.md").read_text(encoding="utf-8")
    assert Path("morning/morning.html").stat().st_size > 0
    assert run(["export", "tiny.toml", "tiny.csv"]) == 0
    assert capsys.readouterr().out == "Written: tiny.csv\n"
    assert len(Path("tiny.csv").read_text(encoding="utf-8").splitlines()) == 3
    assert "--aim must be high, low or a number" in refused(
        capsys, "morning", "tiny.toml", "--rank-by", "x", "--aim", "up"
    )


def test_a_study_whose_cases_are_all_discarded_says_so(capsys) -> None:
    text = TINY_STUDY.replace("[plan]", "[keep]\nthick = \"wall.thickness > '1 mm'\"\n[plan]")
    Path("none.toml").write_text(text, encoding="utf-8")
    assert run(["sweep", "none.toml", "--workers", "1"]) == 0
    out = capsys.readouterr().out
    assert "No case was solved, so there is nothing to rank: every case is discarded by [keep]." in out
    assert "Next:" not in out


def test_results_hold_the_design_they_were_computed_from(capsys, one_lever) -> None:
    arguments = ["examine", "metal_dome.toml", "--orders", "0", "--up-to", "3 kHz", "--no-second-opinion"]
    assert run([*arguments, "--set", "wall.thickness=40 um"]) == 0
    assert "wall.thickness=40 um" in capsys.readouterr().out.splitlines()[0]
    kept = Path("results/metal_dome/design.toml")
    assert "changed: wall.thickness=40 um" in kept.read_text(encoding="utf-8")
    assert load_design(kept).meridian == load_design("metal_dome.toml", {"wall.thickness": "40 um"}).meridian


def test_terms_are_told_all_or_those_asked_for(capsys) -> None:
    from diaphragm_fem.report.words.study import naming

    assert run(["terms"]) == 0
    out = capsys.readouterr().out
    for figure in ("decoupling_hz", "departure_hz", "break_up_mode_hz", "even_band_octaves", "shelf_band_octaves"):
        assert naming(figure).words in out
    for told in ("nearly at", "coil still", "second opinion", "fingerprint", "efficiency", "branch", "score", "needle"):
        assert f"\n{told}" in out or f"or {told}" in out  # pages say it without a word of what it is
    assert run(["terms", "response", "per", "newton"]) == 0 and "volume acceleration" in capsys.readouterr().out
    assert run(["terms", "Shelf", "band"]) == 0
    out = capsys.readouterr().out
    assert "shelf band" in out and "cancellation" not in out
    assert "no term speaks of 'torque'; known are mode, fundamental resonance, " in refused(capsys, "terms", "torque")


def test_every_key_of_a_study_is_listed_and_its_schema_written(capsys) -> None:
    assert run(["schema", "--keys", "--study"]) == 0
    out = capsys.readouterr().out
    assert "morning.wish[0].aim" in out and "wall.thickness" not in out.replace('"wall.thickness"', "")
    assert run(["schema", "--study", "--out", "study.schema.json"]) == 0
    assert "of a study file" in capsys.readouterr().out
    assert json.loads(Path("study.schema.json").read_text(encoding="utf-8"))["title"] == "Diaphragm study"


def test_every_key_is_listed_with_what_it_is_for(capsys) -> None:
    assert run(["schema", "--keys"]) == 0
    out = capsys.readouterr().out
    assert "profile.outer.steps[0].distance" in out and "From the coil circle" in out


def test_tables_are_tried_like_other_values():
    from diaphragm_fem.cli.side_by_side import _listed

    lap = {"length": "1 mm", "side": "front"}
    told = '{ length = "1 mm", side = "front" }'
    assert _listed(told) == [lap] and _listed(f"{told}, {told}") == [lap, lap]
    assert _listed("25 um, 40 um") == ["25 um", "40 um"]
