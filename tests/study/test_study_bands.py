"""Bands that a study names for the smooth measures: read, and refused where they cannot be."""

import pytest
from places import STUDIES

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.study_file import read_study


def study(folder, more):
    text = f'[study]\nbase = "{STUDIES / "metal_dome.toml"}"\n[vary.wall]\nkey = "wall.thickness"\nlist = ["25 um"]\n'
    (folder / "small.toml").write_text(text + more)
    return read_study(folder / "small.toml")


def test_bands_are_two_frequencies_or_a_third_of_an_octave(tmp_path):
    found = study(tmp_path, '[want]\nbands = { use = ["200 Hz", "4 kHz"], low = { about = "1 kHz" } }\neven = 4\n')
    wanted = found.recipe.wanted
    assert wanted.bands["use"] == (200.0, 4000.0) and wanted.even_db == 4.0
    assert wanted.bands["low"] == pytest.approx((890.9, 1122.5), abs=0.1)


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ('[want]\nbands = { use = ["4 kHz", "200 Hz"] }\n', "key want.bands.use: must rise and lie within"),
        ('[want]\nbands = { use = ["4 kHz"] }\n', "must be two frequencies such as"),
        ('[want]\nbands = { "a,b" = ["1 kHz", "2 kHz"] }\n', "a band's name is of letters"),
    ],
)
def test_bands_that_cannot_be(tmp_path, more, message):
    with pytest.raises(StudyError, match=message):
        study(tmp_path, more)


def test_a_smooth_measure_names_its_band(tmp_path):
    found = study(tmp_path, '[want]\nbands = { use = ["1 kHz", "2 kHz"] }\n[morning]\nrank = "mean_level_db:treble"\n')
    with pytest.raises(StudyError, match=r"must name a band of want\.bands after a colon, such as mean_level_db:use"):
        found.check_figures(("mean_level_db",))


def test_levels_and_octaves_are_written_with_their_unit(tmp_path):
    limits = '[morning.limits]\ndeepest_hole_db = { above = "-4.5 dB" }\n'
    limits += 'shelf_band_octaves = { above = "4.5 octaves" }\n'
    found = study(tmp_path, limits).limits
    assert found == {"deepest_hole_db": (-4.5, None), "shelf_band_octaves": (4.5, None)}


def test_an_amount_for_half_a_name_is_told_that_names_end_in_their_unit(tmp_path):
    told = r"fundamental has no unit; .* a figure's whole name, which ends in its unit as fundamental_hz"
    with pytest.raises(StudyError, match=told):
        study(tmp_path, '[morning.limits]\nfundamental = { below = "120 Hz" }\n')
