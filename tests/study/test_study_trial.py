"""Mistakes that would spoil every case are told before any is solved, and what is exported of ties and modes."""

from pathlib import Path

import numpy as np
import pytest

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.morning.export import export_study, results_table
from diaphragm_fem.study.plan.drawing_board import try_cases
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.engine import run_study

STUDIES = Path(__file__).parents[2] / "studies"
HEAD = f'[study]\nbase = "{STUDIES / "stepped_v.toml"}"\n'
TREAD = '[vary.tread]\nkey = "profile.outer.steps[0].tread"\nrange = ["1.2 mm", "1.8 mm"]\ncount = 2\n'


def study_of(folder, more, vary=TREAD):
    (folder / "study.toml").write_text(HEAD + vary + more)
    return read_study(folder / "study.toml")


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ('[change]\n"wall.thicknes" = "50 um"\n', r"no case can be solved .* case 0 \(tread = '1.2 mm'\): .*thicknes"),
        ('[change]\n"wall.thickness" = "1 nm"\n', r"no case can be solved .* is the thickness right"),
        (
            '[morning.limits]\n"decoupling_hz:middle step" = { below = "1 kHz" }\n',
            r"key morning.limits: .* a step that the design does not have; it has inner step, outer step",
        ),
    ],
)
def test_a_study_in_which_no_case_can_succeed_is_refused_at_once(tmp_path, more, message):
    study = study_of(tmp_path, more)
    with pytest.raises(StudyError, match=message):
        run_study(study, store=tmp_path / "cases.sqlite", workers=1)
    assert not (tmp_path / "cases.sqlite").exists()


def test_one_case_that_can_be_drawn_is_enough(tmp_path):
    vary = '[vary.film]\nkey = "wall.material"\nlist = ["no such film", "PEN film"]\n'
    study = study_of(tmp_path, "", vary)
    try_cases(study, Sampler(study))


def test_a_figure_that_is_not_kept_cannot_be_wished_for(tmp_path):
    more = '[want]\nfigures = ["fundamental_hz"]\n[morning]\nrank = "departure_hz"\n'
    with pytest.raises(StudyError, match=r"'departure_hz' is not among want\.figures"):
        run_study(study_of(tmp_path, more), store=tmp_path / "cases.sqlite")


def test_a_grid_without_end_is_refused(tmp_path):
    with pytest.raises(StudyError, match=r"at most 1e\+08 cases make a study, here 1e\+09 are asked for"):
        Sampler(
            study_of(
                tmp_path,
                "",
                TREAD.replace("count = 2", "count = 31623")
                + TREAD.replace("vary.tread", "vary.other")
                .replace('tread"', 'rise"')
                .replace("count = 2", "count = 31623"),
            )
        )


def test_ties_are_exported_as_the_amounts_they_stand_for_and_modes_beside_curves(tmp_path):
    pytest.importorskip("xarray")
    import xarray

    tie = '[vary.inner]\nkey = "profile.inner.steps[0].tread"\nratio = 0.5\nof = "tread"\n'
    study = study_of(tmp_path, '[want]\nmodes = true\norders = [0, 1]\nup_to = "4 kHz"\n', TREAD + tie)
    store = tmp_path / "cases.sqlite"
    run_study(study, store=store, workers=1)
    table = results_table(study, store=store)
    assert table["inner_si"].to_numpy() == pytest.approx(table["tread_si"].to_numpy() / 2)
    assert list(table["inner"]) == ["0.5", "0.5"]
    with xarray.open_dataset(export_study(study, tmp_path / "out.nc", store=store), engine="h5netcdf") as found:
        assert found["inner"].attrs["units"] == "m"
        assert found["inner"].values == pytest.approx(found["tread"].values / 2)
        assert found["mode_hz__0"].dims == ("case", "mode_of_order_0")
        assert found["area_m2_real"].dims == ("case", "point")
        assert np.nanmax(found["mode_hz__1"].values) < 4e3
