"""Mistakes that would spoil every case are told before any is solved, and what is exported of ties and modes."""

import os
import re
import tracemalloc

import numpy as np
import pytest
from places import STUDIES
from study_standin import solve_here

from diaphragm_fem.errors import AnalysisError, StudyError
from diaphragm_fem.study.morning.export import export_study
from diaphragm_fem.study.plan.drawing_board import try_cases
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_row import EVALUATOR
from diaphragm_fem.study.run.engine import run_study

HEAD = f'[study]\nbase = "{STUDIES / "stepped_v.toml"}"\n'
BAND = '[want.bands]\nv = ["1 kHz", "2 kHz"]\n'
TREAD = '[vary.tread]\nkey = "profile.outer.steps[0].tread"\nrange = ["1.2 mm", "1.8 mm"]\ncount = 2\n'


def study_of(folder, more, vary=TREAD):
    (folder / "study.toml").write_text(HEAD + vary + more, encoding="utf-8")
    return read_study(folder / "study.toml")


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ('[change]\n"wall.thicknes" = "50 um"\n', r"no case can be solved .* case 0 \(tread = '1.2 mm'\): .*thicknes"),
        (
            '[change]\n"wall.thickness" = "10 nm"\nunusual = ["wall.thickness"]\n',
            r"no case can be solved .* is the thickness right",
        ),
        (
            '[change]\n"wall.thickness" = "0.5 mm"\n',  # as a film; `sweep` has no --allow-unusual
            r"(?s)film thickness = .*add to the base design, or to \[change\] of the study, the line unusual = [^,]*$",
        ),
        (
            '[morning.limits]\n"decoupling_hz:middle step" = { below = "1 kHz" }\n',
            r"limits: 'decoupling_hz:middle step' must end in a zone of which 'decoupling_hz' is told; the design has "
            r"inner step, outer step$",
        ),
        (
            '[morning.limits]\n"departure_hz:outer step" = { above = "1 kHz" }\n',
            r"'departure_hz:outer step' must end .*; the design has inner driven zone, outer driven zone$",
        ),
        *(
            (BAND + f'[morning.limits]\n"share_rms:{part}" = {{ below = 0.1 }}\n', words)
            for part, words in (
                ("v", r"'share_rms:v' must end in a zone .*; the design has .*outer flank beyond step$"),
                ("v,outer flank beyond step", r"'share_rms:v,outer .*' must end in a zone of which 'share_rms'"),
            )
        ),
        (
            '[morning.limits]\n"moving_mass_kg:outer step" = { below = "1 g" }\n',
            r"'moving_mass_kg' is read over no band of a study and told of no zone; over bands are .*, of zones dec",
        ),
    ],
)
def test_a_study_in_which_no_case_can_succeed_is_refused_at_once(tmp_path, more, message):
    study = study_of(tmp_path, more)
    with pytest.raises(StudyError, match=message):
        run_study(study, store=tmp_path / "cases.sqlite", workers=1)
    assert not (tmp_path / "cases.sqlite").exists()


def test_what_a_stroke_asks_is_no_part_of_the_design_and_changes_its_answer(tmp_path):
    vary = '[vary.push]\nkey = "stroke.pressure"\nlist = ["0 Pa", "20 Pa"]\n'
    study = study_of(tmp_path, '[change]\n"stroke.pressure" = "0 Pa"\n', vary)
    assert try_cases(study, Sampler(study)) == []


def test_a_modulus_written_with_its_source_is_the_middle_of_its_scatter(tmp_path):
    """ "must be given, because the base design holds no number at this key", which held 16 MPa."""
    vary = """[vary.step]\nkey = 'materials."damping elastomer".youngs_modulus'\nlognormal = { deviation = "12 %" }\n"""
    more = '[plan]\nhow = "sobol"\ncases = 4\n'
    (step,) = study_of(tmp_path, more, vary).recipe.variables
    assert (step.numbers, step.unit) == ((16.0, pytest.approx(1.92)), "MPa")
    with pytest.raises(
        StudyError, match=r"youngs_modulus.value' is '16 MPa' in the base design, so .* of another kind"
    ):
        study_of(tmp_path, more, vary.replace('deviation = "12 %"', 'mean = "16 g", deviation = "1 g"'))


def test_a_modulus_that_varies_stays_known_at_its_frequency(tmp_path):
    """Without it a rubber's, as given for 1 kHz, counted as one of 100 Hz: the same 16 MPa were 1.7 times as stiff. Its
    source and range are not those of a study's numbers."""
    key = """'materials."damping elastomer".youngs_modulus'"""
    change = f"""[change]\n{key} = {{ value = "16 MPa", frequency = "1 kHz", range = ["15 MPa", "17 MPa"] }}\n"""
    of = f"""[vary.other]\nkey = 'materials."firm elastomer".youngs_modulus'\nratio = 5.0\nof = {key}\n"""
    recipe = study_of(tmp_path, change, f"""[vary.step]\nkey = {key}\nlist = ["16 MPa", "18 MPa"]\n{of}""").recipe
    same, stiffer = (
        {material.name: material for material in recipe.drawn(recipe.design_of((value, 5.0))).materials}
        for value in ("16 MPa", "18 MPa")
    )
    soft = next(x for x in recipe.drawn(recipe.base).materials if x.name == "damping elastomer")
    assert same["damping elastomer"].modulus_factor(2e3) == soft.modulus_factor(2e3)
    assert soft.stiffening.frequency_hz == (1e3,)
    assert [x["damping elastomer"].youngs_modulus for x in (same, stiffer)] == [16e6, 18e6]
    assert [x["firm elastomer"].youngs_modulus for x in (same, stiffer)] == pytest.approx([80e6, 90e6])


def test_what_varies_may_be_tied_by_a_name_that_is_no_path(tmp_path):
    vary = """[vary."gauge-ä"]\nkey = "wall.thickness"\nlist = ["50 um"]\n"""
    vary += """[vary.step]\nkey = "profile.inner.steps[0].thickness"\nratio = 1.2\nof = "gauge-ä"\n"""
    assert [variable.of for variable in study_of(tmp_path, "", vary).recipe.variables] == [None, "gauge-ä"]


def test_one_loss_takes_the_place_of_many_over_frequency(tmp_path):
    key = """materials."damping elastomer".loss_factor"""
    change = f"""[change]\n'{key}' = {{ value = [0.2, 0.4], frequency = ["100 Hz", "1 kHz"] }}\n"""
    study = study_of(tmp_path, change, f"""[vary.loss]\nkey = '{key}'\nlist = [0.2, 0.3]\n""")
    assert study.recipe.design_of((0.3,))["materials"]["damping elastomer"]["loss_factor"] == 0.3
    assert try_cases(study, Sampler(study)) == []


def test_a_modulus_that_nobody_builds_is_meant_by_the_key_that_is_asked_for(tmp_path):
    """Of one that is given with its source the question named a key that the cases then did not take."""
    key = """materials."damping elastomer".youngs_modulus"""
    vary = f"""[vary.step]\nkey = '{key}'\nlist = ["16 MPa", "1 kPa"]\n"""
    with pytest.raises(StudyError, match=rf"write unusual = \['{re.escape(key)}'\] in the base design"):
        study_of(tmp_path, "", vary)
    study = study_of(tmp_path, f"[change]\nunusual = ['{key}']\n", vary)
    assert try_cases(study, Sampler(study)) == []


def test_one_case_that_can_be_drawn_is_enough(tmp_path):
    vary = '[vary.gauge]\nkey = "wall.thickness"\nlist = ["1 nm", "50 um"]\n'
    study = study_of(tmp_path, "", vary)
    try_cases(study, Sampler(study))


def test_a_misspelt_name_in_a_list_is_refused_before_the_first_case(tmp_path):
    vary = '[vary.film]\nkey = "wall.material"\nlist = ["PEN film", "PEN flim"]\n'
    with pytest.raises(StudyError, match=r"key vary.film.list: 'PEN flim' fits no case: .*unknown material 'PEN flim'"):
        run_study(study_of(tmp_path, "", TREAD + vary), store=tmp_path / "cases.sqlite")
    assert not (tmp_path / "cases.sqlite").exists()


def test_a_name_is_tried_though_every_case_looked_at_is_discarded(tmp_path):
    vary = '[vary.film]\nkey = "wall.material"\nlist = ["PEN film", "PEN flim"]\n'
    keep = '[keep]\n"wide" = "tread > \'9 mm\'"\n'
    study = study_of(tmp_path, keep, TREAD + vary)
    with pytest.raises(StudyError, match=r"key vary.film.list: 'PEN flim' fits no case"):
        try_cases(study, Sampler(study))


def test_an_amount_of_a_list_that_fits_no_case_is_told(tmp_path):
    vary = '[vary.gauge]\nkey = "wall.thickness"\nlist = ["50 um", "1 nm"]\n'
    study = study_of(tmp_path, "", TREAD + vary)
    (note,) = try_cases(study, Sampler(study))
    assert re.match(r"key vary.gauge.list: '1 nm' fits no case as far as tried: .*thickness", note)


def test_a_grid_of_a_hundred_million_is_read_without_making_its_values(tmp_path):
    sampler = Sampler(study_of(tmp_path, "", TREAD.replace("count = 2", "count = 100_000_000")))
    tracemalloc.start()
    assert [sampler.values(k)[0] for k in (0, 50_000_000, 99_999_999)] == ["1.2 mm", "1.5 mm", "1.8 mm"]
    assert tracemalloc.get_traced_memory()[1] < 1e6
    tracemalloc.stop()


@pytest.mark.parametrize("how", ["latin hypercube", "sensitivity"])
def test_a_plan_that_is_drawn_as_a_whole_has_a_limit_of_its_own(tmp_path, how):
    more = f'[plan]\nhow = "{how}"\ncases = 60_000_000\n'
    with pytest.raises(StudyError, match=rf'a plan "{how}" is drawn as a whole, at most 5e\+07 values.*"sobol"'):
        Sampler(study_of(tmp_path, more))


def test_a_figure_that_is_not_kept_cannot_be_wished_for(tmp_path):
    more = '[want]\nfigures = ["fundamental_hz"]\n[morning]\nrank = "departure_hz"\n'
    with pytest.raises(StudyError, match=r"'departure_hz' is not among want\.figures"):
        run_study(study_of(tmp_path, more), store=tmp_path / "cases.sqlite")


@pytest.mark.parametrize(("counts", "told"), [((31_623, 31_623), r"1e\+09"), ((10**8, 10**8, 10**8), r"1e\+24")])
def test_a_grid_without_end_is_refused(tmp_path, counts, told):
    """Python's own length ends at 9e18: three counts by mistake ended in a traceback."""
    keys = ("tread", "rise", "distance")
    vary = "".join(
        TREAD.replace("vary.tread", f"vary.{key}").replace('tread"', f'{key}"').replace("count = 2", f"count = {count}")
        for key, count in zip(keys, counts, strict=False)
    )
    with pytest.raises(StudyError, match=rf"at most 1e\+08 cases make a study, here {told} are asked for"):
        Sampler(study_of(tmp_path, "", vary))


def test_ties_are_exported_as_the_amounts_they_stand_for_and_modes_beside_curves(tmp_path):
    pytest.importorskip("xarray")
    import pandas
    import xarray

    tie = '[vary.inner]\nkey = "profile.inner.steps[0].tread"\nratio = 0.5\nof = "tread"\n'
    study = study_of(tmp_path, '[want]\nmodes = true\norders = [0, 1]\nup_to = "4 kHz"\n', TREAD + tie)
    store = tmp_path / "cases.sqlite"
    solve_here(study, store, EVALUATOR)
    table = pandas.read_csv(export_study(study, tmp_path / "out.csv", store=store), dtype={"inner": str})
    assert table["inner_si"].to_numpy() == pytest.approx(table["tread_si"].to_numpy() / 2)
    assert list(table["inner"]) == ["0.5", "0.5"]
    with xarray.open_dataset(export_study(study, tmp_path / "out.nc", store=store), engine="h5netcdf") as found:
        assert found["inner"].attrs["units"] == "m"
        assert found["inner"].values == pytest.approx(found["tread"].values / 2)
        assert found["mode_hz__0"].dims == ("case", "mode_of_order_0")
        assert found["area_m2_real"].dims == ("case", "point")
        assert np.nanmax(found["mode_hz__1"].values) < 4e3


@pytest.mark.skipif(os.name == "nt", reason="limits of Unix")
def test_a_netcdf_file_that_finds_no_room_is_refused_and_leaves_nothing(tmp_path):
    """EFBIG of a limit stands for ENOSPC of a disk, on which HDF5 ended the program by a segmentation fault."""
    import resource

    study, store = study_of(tmp_path, ""), tmp_path / "cases.sqlite"
    solve_here(study, store, EVALUATOR)
    export_study(study, tmp_path / "first.nc", store=store)  # libraries compile and cache what they load
    before, most = set(tmp_path.iterdir()), resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, ((tmp_path / "first.nc").stat().st_size // 2, most[1]))
    try:
        with pytest.raises(StudyError, match=r"out\.nc: cannot be written: .*too large"):
            export_study(study, tmp_path / "out.nc", store=store)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, most)
    assert set(tmp_path.iterdir()) == before


@pytest.mark.parametrize(("want", "words"), [("TO_LOAD", "to load"), ("TO_WRITE", "to write NetCDF; .parquet and")])
def test_a_netcdf_file_is_begun_where_memory_for_all_of_it_is_there(tmp_path, monkeypatch, want, words):
    """Under limits of 430 and 622 MB HDF5 ended the program by a segmentation fault, in the midst of the file."""
    study, store = study_of(tmp_path, ""), tmp_path / "cases.sqlite"
    solve_here(study, store, EVALUATOR)
    monkeypatch.setattr(f"diaphragm_fem.study.morning.export.{want}", 1 << 60)
    with pytest.raises(AnalysisError, match=f"not enough memory: [0-9]+ MiB more are needed {words}"):
        export_study(study, tmp_path / "out.nc", store=store)
    assert not list(tmp_path.glob("*.nc*")) + list(tmp_path.glob(".*"))
