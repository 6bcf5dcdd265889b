"""One design as a page, as the whole print of `--all`, and as the few lines that a designer reads first."""

from collections.abc import Sequence

from diaphragm_fem import __version__
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.library.evidence import doubtful_numbers, evidence_table
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.report.blocks.blocks import Block, Heading, Notices, Points, Table, Words, noticed
from diaphragm_fem.report.blocks.pages import to_markdown
from diaphragm_fem.report.contents import tables
from diaphragm_fem.report.words.driver import driver_blocks, headlines, side_by_side
from diaphragm_fem.report.words.figures import figure_lines
from diaphragm_fem.report.words.measured import measured_blocks
from diaphragm_fem.report.words.trust import (
    PROTOTYPE,
    cautions,
    cautions_of,
    dangers,
    doubt_blocks,
    model_notes,
    trust_points,
)
from diaphragm_fem.report.words.verdict import points
from diaphragm_fem.report.words.words import one, show_hz

SAID = (
    "fundamental", "low area", "decoupling", "handed over", "3 dB departure", "break-up mode", "highest peak",
    "deepest hole", "shelf band", "median level", "spread", "plays", "worst null", "beam narrows",
)  # fmt: skip
"""What the names of the headlines begin with that the verdict says itself."""
FIGURES = "Figures"
BRIEF_NOTICES, NOTICE_LINES = 2, 4  # lines for all together: what to do stands at the end of one


def markdown(evaluation: Answer) -> str:
    """The whole result as one Markdown page."""
    made = f"Made by diaphragm_fem {__version__} for frequencies up to {show_hz(evaluation.up_to_hz)}."
    return to_markdown(evaluation.design.name, [*page_blocks(evaluation), Words(made)])


def page_blocks(evaluation: Answer) -> list[Block]:
    """The result, and the materials with their sources."""
    return [*result_blocks(evaluation), *material_blocks(evaluation.design.materials)]


def material_blocks(materials: Sequence[Material]) -> list[Block]:
    """Materials with the source of every number, and their cautions."""
    rows = evidence_table(materials)
    return [Heading("Materials"), tables.materials_table(rows), *noticed("Caution", cautions_of(materials))]


def whole_blocks(evaluation: Answer) -> list[Block]:
    """Everything on the screen: the name, the result, and the numbers that nothing published stands behind."""
    doubts = doubt_blocks(doubtful_numbers(*evaluation.design.materials))
    return [Heading(evaluation.design.name, 1), *result_blocks(evaluation), *doubts]


def zone_blocks(design: Design) -> list[Block]:
    """The zones of a design that is not solved."""
    doubts = doubt_blocks(doubtful_numbers(*design.materials))
    return [Heading("Zones"), tables.zones_table(design), Heading("Sizes"), tables.sizes_table(design), *doubts]


def mode_blocks(evaluation: Answer) -> list[Block]:
    return _titled(f"Modes{_alone(evaluation)} up to {show_hz(evaluation.up_to_hz)}", tables.modes_table(evaluation))


def area_blocks(evaluation: Answer) -> list[Block]:
    """Figures, the curve in short, and what each zone has of it."""
    return [
        *_titled(f"{FIGURES}{_alone(evaluation)}", tables.figures_table(evaluation)),
        *_titled("Effective area and response per newton against its plateau", tables.area_table(evaluation)),
        *_titled("Zones", tables.zones_table(evaluation.design, evaluation)),
    ]


def result_blocks(evaluation: Answer) -> list[Block]:
    """Verdict, trust, notices and every table but that of the materials."""
    blocks: list[Block] = [Points(points(evaluation)), Heading("How far to trust it")]
    blocks += [Points([*trust_points(evaluation), PROTOTYPE]), *noticed("Warning", evaluation.warnings)]
    blocks += noticed("Caution", cautions(evaluation))
    blocks += _titled(f"{FIGURES}{_alone(evaluation)}", tables.figures_table(evaluation))
    blocks += _titled(tables.changes_title(evaluation), tables.changes_table(evaluation))
    blocks += driver_blocks(evaluation)
    blocks += measured_blocks(evaluation)
    blocks += mode_blocks(evaluation)
    opinion = evaluation.second_opinion
    if opinion is not None:
        blocks += _titled("Second opinion: the same modes by the solid model", tables.opinion_table(opinion))
    blocks += _titled("Zones", tables.zones_table(evaluation.design, evaluation))
    return [*blocks, *_titled("Sizes", tables.sizes_table(evaluation.design))]


def _alone(evaluation: Answer) -> str:
    """What a heading says of a table that tells of the part alone, beside those with everything on."""
    return " in vacuum" if evaluation.driver is not None else ""


def _titled(title: str, table: Table | None) -> list[Block]:
    return [] if table is None else [Heading(title), table]


def brief_blocks(evaluation: Answer, width: int) -> list[Block]:
    """What a designer reads first, on 24 lines of 80 letters before what was written: verdict, the headlines
    that it does not say, everything that may harm, warnings. In a driver these are those with everything on, and
    notes that hold for every driver only count.
    """
    told, driver, figures = points(evaluation), evaluation.driver, evaluation.figures
    if figures is not None:
        lines = [(name, value) for name, value, _ in figure_lines(figures, all_of_them=False)]
        lines = lines if driver is None else headlines(side_by_side(evaluation))
        said, where = (SAID, ", all on") if driver else ((*SAID, "even band"), "")
        unsaid = [f"{name} {value}" for name, value in lines if not name.startswith(said)]
        besides = [f"Besides{where}: {'; '.join(unsaid)}."] if unsaid else []
        told = [*told, *besides] if driver is None else [*told[:-1], " ".join([told[-1], *besides])]
    return [Heading(evaluation.design.name, 1), Points(told), *_brief_notices(evaluation, width)]


def _brief_notices(evaluation: Answer, width: int) -> list[Block]:
    from diaphragm_fem.answer.driver.cautions import OF_EVERY_DRIVER

    harm, notes = dangers(evaluation), model_notes(evaluation)
    told = [("Caution", f"{words.removesuffix('.')}.") for words in harm]
    told += [("Warning", words) for words in evaluation.warnings]
    told += [("Note", f"{words}.") for words in notes if words not in OF_EVERY_DRIVER]
    shown = min(max(BRIEF_NOTICES if evaluation.driver is None else 1, len(harm)), len(told))
    told += [("Note", f"{words}.") for words in notes if words in OF_EVERY_DRIVER]
    each = NOTICE_LINES // max(shown, 1)
    blocks: list[Block] = [Notices(lead, [_cut(words, each * (width - len(lead) - 2))]) for lead, words in told[:shown]]
    if len(told) > shown:
        blocks.append(Notices("More", [f"{one(len(told) - shown, 'remark')} by --all and in summary.md"]))
    return blocks


def _cut(words: str, room: int) -> str:
    return words if len(words) <= room else words[: room - 2].rsplit(" ", 1)[0] + " …"
