"""Names of the files that a folder of results may hold: of all that a record lists, these alone are ever taken away."""

import re

PATTERN = re.compile(r"shapes_m\d+\.vtu|measured_\d+\.png|study_of_.+\.toml")


def is_own(name: str) -> bool:
    """Whether this program writes files of that name into a folder of results."""
    from diaphragm_fem.report.files import curves, design, stroke
    from diaphragm_fem.report.sheets.listing import OF_A_DESIGN
    from diaphragm_fem.report.sheets.listing_of_strokes import OF_A_STROKE

    stem, _, ending = name.rpartition(".")
    stems = {
        "png": {listed.name for listed in (*OF_A_DESIGN, *OF_A_STROKE)},
        "csv": {*design.TABLES, *design.FILES_ALONE, *stroke.TABLES},
        "md": {"summary", "stroke"},
        "pdf": {"summary", "design"},
    }
    alone = ("design.html", "design.toml", "result.json", *curves.FILES)
    return stem in stems.get(ending, ()) or name in alone or PATTERN.fullmatch(name) is not None
