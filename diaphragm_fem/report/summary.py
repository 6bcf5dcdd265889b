"""How far to trust one design's numbers, its figures as lines, and the Markdown page made of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diaphragm_fem import __version__
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.answer.second_opinion import AGREE_WITHIN, SecondOpinion
from diaphragm_fem.design.evidence import MARK, MARK_LEGEND, QUANTITIES, evidence_table, show_number
from diaphragm_fem.design.material import Material
from diaphragm_fem.design.plain_text import markdown_text
from diaphragm_fem.report.driver_words import driver_markdown
from diaphragm_fem.report.figure_words import change_lines, figure_lines
from diaphragm_fem.report.verdict import verdict
from diaphragm_fem.report.words import (
    digits,
    join_words,
    materials_of,
    one,
    pieces_of,
    show_area,
    show_bound,
    show_difference,
    show_hz,
    show_mass,
    show_share,
)

COIL_STILL = 100.0  # moving masses: a mode that shows more of them at the coil hardly moves it
COIL_STILL_WORDS = "coil still"
OPINION_HEADINGS = ("m", "mode", "shell", "solid", "difference")

PROTOTYPE = "These results guide a prototype; they do not replace measuring it."


def trust(evaluation: Answer) -> str:
    """One paragraph: how far the numbers can be off, from the mathematics and from the materials."""
    errors = [float(e.max()) for e in evaluation.frequency_error.values() if len(e)]
    total = sum(len(x) for x in evaluation.modes.values())
    words = []
    if errors:
        counted = f"every one of the {total} frequencies" if total > 1 else "the frequency"
        curve = evaluation.area_error
        area = "" if curve is None else f" and the area curve within {show_bound(curve)} of the low area"
        words.append(
            f"By two meshes {counted} is within {show_bound(max(errors))}{area}, and a count of eigenvalues proves "
            "that no mode below the top frequency is missing."
        )
    opinion = evaluation.second_opinion
    if opinion is not None and opinion.rows:
        verb = "agrees within" if opinion.largest <= AGREE_WITHIN else "differs by up to"
        matched = one(len(opinion.rows) - len(opinion.lost), "mode")
        lost = f", and {len(opinion.lost)} had none like it" if opinion.lost else ""
        words.append(f"The wall solved again as a solid {verb} {show_bound(opinion.largest)} on {matched}{lost}.")
    else:
        words.append("No second opinion was given.")
    words.append(_material_limit(evaluation))
    words.append(PROTOTYPE)
    return " ".join(word for word in words if word)


def _material_limit(evaluation: Answer) -> str:
    """What the spread of the moduli does to the frequencies, and which numbers are doubtful."""
    radiating = [zone for zone in evaluation.design.zones if zone.radiates]
    materials = materials_of(piece for zone in radiating for piece in pieces_of(evaluation.design, zone))
    moves = [words for material in materials if (words := _modulus_moves(material))]
    text = ""
    if moves:
        text = (
            "The materials count for more: their moduli as met move the frequencies that they govern, "
            f"{join_words(moves)}."
        )
    doubtful = [row for row in evidence_table(evaluation.design.materials) if row.mark]
    used = {material.name for material in materials}
    unknown = [r for r in doubtful if r.quantity == QUANTITIES["youngs_modulus"] and not r.range and r.material in used]
    if unknown:
        named = join_words([f"{row.material} ({row.value.partition(';')[0]}, {row.kind})" for row in unknown])
        text += f" How far the modulus of {named} may be off is not known: a tenth moves its frequencies by 5 %."
    if doubtful:
        verb = "has" if len(doubtful) == 1 else "have"
        text += f" {one(len(doubtful), 'material number')} used here {verb} no published source."
        if any(row.quantity == "loss factor" for row in doubtful):
            text += " Loss factors among them set the height of every peak: measure them before a peak decides."
    return text.strip()


def _modulus_moves(material: Material) -> str:
    """ "PEN film (5 to 6 GPa) by −4 to +5 %"."""
    evidence = material.evidence.get("youngs_modulus")
    if evidence is None or evidence.range is None:
        return ""
    low, high = (100 * (float(np.sqrt(end / material.youngs_modulus)) - 1) for end in evidence.range)
    span = " to ".join(show_number("youngs_modulus", end) for end in evidence.range)
    shift = f"{low:+.0f} to {high:+.0f} %".replace("-", "−")
    return f"{material.name} ({span}) by {shift}"


def cautions(evaluation: Answer) -> list[str]:
    """Safety words of the materials used, each once."""
    return list(dict.fromkeys(caution(m.name, m.caution) for m in evaluation.design.materials if m.caution))


def caution(name: str, words: str) -> str:
    """ "beryllium: ...", with a word on local rules where the caution has none."""
    return f"{name}: {words}" if "local" in words.lower() else f"{name}: {words} Local rules go first."


def doubts(materials: tuple[Material, ...]) -> list[str]:
    """One line per number without a published source, for the page and the console."""
    return [
        f"{row.material}: {row.quantity} {row.value}, {row.kind}" + (f" (met: {row.range})" if row.range else "")
        for row in evidence_table(materials)
        if row.mark
    ]


def opinion_lines(opinion: SecondOpinion) -> list[tuple[str, ...]]:
    """Shell against solid, mode by mode; the solid's place in its list where it is another."""
    lines: list[tuple[str, ...]] = []
    for row in opinion.rows:
        solid, difference = "none alike", ""
        if row.solid_hz is not None and row.difference is not None:
            place = "" if row.solid_index == row.index else f" (mode {row.solid_index})"
            solid, difference = show_hz(row.solid_hz, 4) + place, show_difference(row.difference)
        lines.append((f"{row.order}", f"{row.index}", show_hz(row.shell_hz, 4), solid, difference))
    return lines


def markdown(evaluation: Answer) -> str:
    """The whole result as one Markdown page."""
    design, figures = evaluation.design, evaluation.figures
    parts = [f"# {markdown_text(design.name)}", markdown_text(verdict(evaluation))]
    parts += ["## How far to trust it", markdown_text(trust(evaluation))]
    if evaluation.warnings:
        parts.append("\n".join(f"- **Warning**: {markdown_text(warning)}" for warning in evaluation.warnings))
    if cautions(evaluation):
        parts.append("\n".join(f"- **Caution**: {markdown_text(words)}" for words in cautions(evaluation)))
    if figures is not None:
        parts.append("## Figures")
        parts.append(_table(("figure", "value", "why not, or near misses"), figure_lines(figures)))
    head, changes = change_lines(evaluation)
    if changes:
        parts += ["## What to change: the shell's figures per +10 %", _table(head, changes)]
    parts += driver_markdown(evaluation, _table)
    parts.append("## Modes")
    parts.append(_table(MODE_HEADINGS, _mode_lines(evaluation)))
    if evaluation.second_opinion is not None:
        parts += ["## Second opinion", _table(OPINION_HEADINGS, opinion_lines(evaluation.second_opinion))]
    parts.append("## Materials")
    parts.append(
        _table(
            ("material", "number", "value", "kind", "source"),
            [(r.material, r.quantity, r.value + r.mark, r.kind, r.source) for r in evidence_table(design.materials)],
        )
    )
    parts.append(MARK_LEGEND if any(r.mark for r in evidence_table(design.materials)) else "Every number is published.")
    parts.append(f"Made by diaphragm_fem {__version__} for frequencies up to {show_hz(evaluation.up_to_hz)}.")
    return "\n\n".join(part.replace(f"\n{MARK} ", f"\n\\{MARK} ") for part in parts) + "\n"


MODE_HEADINGS = ("m", "mode", "frequency", "may be off by", "modal mass", "modal area", "loss factor", "what moves")


def _mode_lines(evaluation: Answer) -> list[tuple[str, ...]]:
    return [mode_line(evaluation, m, k) for m, modes in evaluation.modes.items() for k in range(len(modes))]


def mode_line(evaluation: Answer, m: int, k: int) -> tuple[str, ...]:
    """One mode as printed, under MODE_HEADINGS; modal mass and area only where the coil takes part."""
    modes = evaluation.modes[m]
    moving = np.inf if evaluation.static is None else evaluation.static.moving_mass
    mass, area = ("", "")
    if m == 0:
        still = not modes.modal_mass[k] < COIL_STILL * moving
        mass, area = (COIL_STILL_WORDS, "") if still else (
            show_mass(float(modes.modal_mass[k])), show_area(float(modes.modal_area[k]))
        )  # fmt: skip
    return (
        f"{m}",
        f"{k + 1}",
        show_hz(modes.frequency_hz[k], 4),
        show_share(evaluation.frequency_error[m][k]),
        mass,
        area,
        digits(float(modes.loss_factor[k]), 2),
        modes.labels[k],
    )


def _table(headings: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = [f"| {' | '.join(headings)} |", f"|{'---|' * len(headings)}"]
    lines += [f"| {' | '.join(map(markdown_text, row))} |" for row in rows]
    return "\n".join(lines)
