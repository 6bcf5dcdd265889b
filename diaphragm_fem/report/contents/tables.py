"""What is known of one design as tables for people: figures, changes, modes, second opinion, zones, area, materials."""

from collections.abc import Sequence

import numpy as np

from diaphragm_fem.analysis.curve.curve import decibels
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.answer.trust.second_opinion import SecondOpinion
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.library.evidence import MARK_LEGEND, EvidenceRow
from diaphragm_fem.design.zone_sizes import zone_sizes
from diaphragm_fem.report.blocks.blocks import Table
from diaphragm_fem.report.words.figures import change_lines, change_notes, changed_in, figure_lines
from diaphragm_fem.report.words.words import (
    digits,
    name_materials,
    pieces_of,
    show_area,
    show_db,
    show_hz,
    show_mass,
    show_mm,
    show_share,
    show_thickness,
    signed_share,
)  # fmt: skip

COIL_STILL = 100.0  # moving masses: a mode that shows more of them at the coil hardly moves it
COIL_STILL_WORDS = "coil still"
MODE_HEADINGS = ("m", "mode", "frequency", "may be off by", "modal mass", "modal area", "loss factor", "what moves")


def figures_table(evaluation: Answer) -> Table | None:
    """Every figure; None for a design without a drive."""
    if evaluation.figures is None:
        return None
    return Table(("figure", "value", "why not, or near misses"), figure_lines(evaluation.figures), words=(2,))


def changes_table(evaluation: Answer) -> Table | None:
    """Change of each figure per +10 % of every lever, and what is to be known of it; None where it was not asked
    for."""
    head, rows = change_lines(evaluation)
    return Table(head, rows, note=" ".join(f"{words}." for words in change_notes(evaluation))) if rows else None


def changes_title(evaluation: Answer) -> str:
    """What heads that table."""
    return f"What to change: shell figures{changed_in(evaluation)} per +10 %"


def modes_table(evaluation: Answer) -> Table:
    """Modes of every order."""
    rows = []
    for m, modes in evaluation.modes.items():
        rows += [mode_line(evaluation, m, k) for k in range(len(modes))]
        if not len(modes):
            rows.append((str(m), "none", *[""] * (len(MODE_HEADINGS) - 2)))
    return Table(MODE_HEADINGS, rows, numbers_from=2, words=(7,))


def mode_line(evaluation: Answer, m: int, k: int) -> tuple[str, ...]:
    """One mode as printed, under MODE_HEADINGS; modal mass and area only where the coil takes part."""
    modes = evaluation.modes[m]
    mass, area = felt_at_coil(evaluation, m, k)
    return (
        f"{m}", f"{k + 1}", show_hz(modes.frequency_hz[k], 4), show_share(evaluation.frequency_error[m][k]), mass, area,
        digits(float(modes.loss_factor[k]), 2), modes.labels[k],
    )  # fmt: skip


def felt_at_coil(evaluation: Answer, m: int, k: int) -> tuple[str, str]:
    """Modal mass and area of an axisymmetric mode, or that the coil hardly takes part; empty for other orders."""
    if m or evaluation.static is None:
        return "", ""
    modes = evaluation.modes[m]
    if not modes.modal_mass[k] < COIL_STILL * evaluation.static.moving_mass:
        return COIL_STILL_WORDS, ""
    return show_mass(float(modes.modal_mass[k])), show_area(float(modes.modal_area[k]))


def opinion_table(opinion: SecondOpinion) -> Table:
    """Shell against solid, mode by mode; the solid's place in its list where it is another."""
    rows: list[tuple[str, ...]] = []
    for row in opinion.rows:
        solid, difference = "none alike", ""
        if row.solid_hz is not None and row.difference is not None:
            place = "" if row.solid_index == row.index else f" (mode {row.solid_index})"
            solid, difference = show_hz(row.solid_hz, 4) + place, signed_share(row.difference)
        rows.append((f"{row.order}", f"{row.index}", show_hz(row.shell_hz, 4), solid, difference))
    return Table(("m", "mode", "shell", "solid", "difference"), rows, numbers_from=2)


def zones_table(design: Design, evaluation: Answer | None = None) -> Table:
    """Zones with material and thickness, and rigid area and low share where they are known."""
    area = None if evaluation is None else evaluation.area
    rows = []
    for index, zone in enumerate(design.zones):
        pieces = pieces_of(design, zone)
        row = [zone.name, name_materials(pieces), show_thickness(pieces)]
        if area is not None:
            known = area.sweeps[index]
            row += [show_area(float(area.zone_area[index])), show_area(float(area.low[index]))] if known else ["", ""]
        rows.append(row)
    headings = ["zone", "material", "thickness"] + (["rigid area", "low area"] if area is not None else [])
    return Table(headings, rows, numbers_from=2)


def sizes_table(design: Design) -> Table:
    """Extents, angle and mass of every zone, as on the profile's sheet."""
    sizes = zone_sizes(design)
    masses = [size.mass for size in sizes]
    rows = [
        (
            size.zone.name, show_mm(size.width), show_mm(size.height),
            "" if size.angle is None else f"{np.degrees(size.angle):.1f}°", show_mass(size.mass, masses),
        )
        for size in sizes
    ]  # fmt: skip
    return Table(("zone", "width", "height", "angle", "mass"), rows)


def materials_table(rows: Sequence[EvidenceRow]) -> Table:
    """Materials with the range met and the source of every number; a material is named in its first row alone."""
    named = [row.material if k == 0 or rows[k - 1].material != row.material else "" for k, row in enumerate(rows)]
    cells = [
        (name, row.quantity, row.value + row.mark, row.range, row.kind, row.source)
        for name, row in zip(named, rows, strict=True)
    ]
    legend = MARK_LEGEND if any(row.mark for row in rows) else "Every number is published"
    return Table(("material", "number", "value", "met", "kind", "source"), cells, 6, note=f"{legend}.")


def area_table(evaluation: Answer) -> Table | None:
    """The area curve at half-octave steps, the nearest samples, for a quick look; None without a drive."""
    area = evaluation.area
    if area is None:
        return None
    total, rows = area.total, []
    evened = None if evaluation.figures is None else evaluation.figures.evened
    response = decibels(np.abs(area.response) / (1.0 if evaluation.figures is None else evaluation.figures.plateau))
    top, f = float(area.frequency_hz[-1]), float(area.frequency_hz[0])
    while f <= top * 1.001:
        k = int(np.argmin(np.abs(np.log(area.frequency_hz / f))))
        lost = "" if area.cancellation is None else show_share(max(float(area.cancellation[k]), 0.0))
        phase = f"{round(float(np.degrees(np.angle(total[k])))):d}°".replace("-", "−")
        level = "" if evened is None else show_db(float(response[k]))
        rows.append((show_hz(area.frequency_hz[k]), show_area(abs(total[k])), phase, lost, level))
        f *= 2 ** (1 / 2)
    return Table(("frequency", "effective area", "phase", "cancelled", "response per newton"), rows, numbers_from=0)
