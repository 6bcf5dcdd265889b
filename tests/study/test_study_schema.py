"""The schema of the study file: what an editor completes is what a study is checked against."""

import tomllib
from pathlib import Path

import jsonschema
import pytest

from diaphragm_fem.design.spec.schema import key_list
from diaphragm_fem.study.plan.study_tables import study_schema

STUDIES = sorted(
    path for path in (Path(__file__).parents[2] / "studies").glob("*.toml") if "[study]" in path.read_text()
)


def test_every_key_of_the_study_file_says_what_it_is_for():
    keys = dict(key_list(study_schema()))
    assert all(keys.values()) and len(keys) > 50
    words = 'Each one of "area", "zones", "force", "response". ["area"] where absent.'
    assert keys["want.curves"] == f"Curves to keep of every case. {words}" and "of []" not in keys["want.bands"]
    assert "wish list" in keys["morning.wish"] and "third of an octave" in keys["want.bands.NAME.about"]


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_the_shipped_studies_keep_to_the_schema(path):
    schema = study_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(tomllib.loads(path.read_text()))


@pytest.mark.parametrize(
    "wrong",
    [
        {"morning": {"pareto": {"fundamental_hz": "max"}}},
        {"vary": {}},
        {"plan": {"how": "grit"}},
        {"morning": {"wish": [{"figur": "fundamental_hz"}]}},
        {"want": {"curves": ["aria"]}},
        {"vary": {"t": {"key": "wall.thickness", "normal": {"deviation": "1 um", "low": "48 um"}}}},
        {"vary": {"t": {"key": "wall.thickness", "uniform": {"high": "52 um"}}}},
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(wrong):
    good = {"study": {"base": "a.toml"}, "vary": {"t": {"key": "wall.thickness", "list": ["50 um"]}}}
    study = jsonschema.Draft202012Validator(study_schema())
    study.validate(good)
    with pytest.raises(jsonschema.ValidationError):
        study.validate(good | wrong)
