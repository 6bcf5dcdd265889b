"""JSON schema of the study file, the names of figures among it."""

from typing import Any

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, MEASURES, OVER_A_BAND
from diaphragm_fem.design.spec.schema import schema_of
from diaphragm_fem.study.plan.study_tables import StudyFile


def study_schema() -> dict[str, Any]:
    """The schema of the study file as data; figures are offered by name, others (of a zone, in a band) are taken."""
    schema = schema_of(StudyFile, "Diaphragm study")
    banded = [f"{name}:BAND" for name in (*MEASURES, *OVER_A_BAND)]
    offered = {"anyOf": [{"enum": [*DEFINITIONS, *banded]}, {"type": "string"}]}
    for table, key in (("WishTable", "figure"), ("MorningTable", "rank")):
        schema["$defs"][table]["properties"][key] |= offered
        del schema["$defs"][table]["properties"][key]["type"]
    return schema
