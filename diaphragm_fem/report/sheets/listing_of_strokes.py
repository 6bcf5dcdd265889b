"""The table of sheets of a design at large stroke; as in `listing.py`."""

from functools import partial

from diaphragm_fem.report.sheets import stroke, stroke_wall
from diaphragm_fem.report.sheets.sheet import Listed

_design = partial(Listed, title=lambda answer: answer.design.name)

OF_A_STROKE = (
    _design("stroke", "Over the stroke", stroke.stroke_sheet),
    _design("stroke_section", "Section over the stroke", stroke_wall.section_sheet),
    _design("stroke_strain", "Strain", stroke_wall.strain_sheet),
    _design(
        "stroke_modes", "Modes over the stroke", stroke.modes_sheet,
        needs=lambda a: any(len(found) for at in a.modes for found in at.modes.values()),
    ),
    _design(
        "distortion", "Distortion", stroke.distortion_sheet,
        needs=lambda a: any(not found.reason for found in a.distortion),
    ),
)  # fmt: skip
