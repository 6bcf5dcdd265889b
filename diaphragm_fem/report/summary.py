"""The verdict on one design in plain words, and the Markdown page made of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diaphragm_fem import __version__
from diaphragm_fem.analysis.merit import Merit
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.answer.second_opinion import AGREE_WITHIN, FIGURES_AGREE_WITHIN, SecondOpinion
from diaphragm_fem.design.evidence import MARK, MARK_LEGEND, QUANTITIES, evidence_table, show_number
from diaphragm_fem.design.material import Material
from diaphragm_fem.design.plain_text import markdown_text
from diaphragm_fem.report.driver_words import driver_markdown
from diaphragm_fem.report.words import (
    NONE,
    digits,
    materials_of,
    one,
    pieces_of,
    show_area,
    show_bound,
    show_difference,
    show_hz,
    show_mass,
    show_octaves,
    show_share,
)

OCTAVES_WANTED = 4.0  # common practice, no source
OPINION_HEADINGS = ("m", "mode", "shell", "solid", "difference")

PROTOTYPE = "These results guide a prototype; they do not replace measuring it."


def verdict(evaluation: Answer) -> str:
    """One paragraph: what the design does, from its resonance to its break-up."""
    merit = evaluation.merit
    if merit is None:
        return _undriven(evaluation)
    return " ".join((_piston(merit), _steps(merit), _break_up(evaluation, merit), _neighbours(evaluation))).strip()


def _undriven(evaluation: Answer) -> str:
    counted = ", ".join(f"{len(x)} of order m = {m}" for m, x in evaluation.modes.items())
    lowest = [x.frequency_hz[0] for x in evaluation.modes.values() if len(x)]
    begin = f"the lowest at {show_hz(min(lowest))}" if lowest else "none at all"
    why = "There is no coil to drive it" if evaluation.design.joint is None else "Order m = 0 was not asked for"
    return f"{why}, so only modes are given: {counted} up to {show_hz(evaluation.up_to_hz)}, {begin}."


def _piston(merit: Merit) -> str:
    if merit.fundamental_hz is None:
        resonance = f"There is no fundamental resonance: {merit.reasons.get('fundamental_hz', 'nothing holds it')}"
    else:
        resonance = (
            f"The fundamental resonance is {show_hz(merit.fundamental_hz)}: {show_mass(merit.moving_mass_kg)} moves on "
            f"{digits(merit.stiffness_n_per_m / 1e3)} N/mm"
        )
    area = show_area(merit.low_area_m2)
    below = "steps and modes" if merit.steps else "modes"
    return f"{resonance}. Well below its {below} the diaphragm radiates like a piston of {area}."


def _steps(merit: Merit) -> str:
    if not merit.steps:
        return "It has no decoupling step, so nothing is handed over."
    lets_go = [f"the {step.name} at {show_hz(step.decoupling_hz)}" for step in merit.steps if step.decoupling_hz]
    never = [f"the {step.name}" for step in merit.steps if not step.decoupling_hz]
    words = []
    if lets_go:
        words.append(f"{_and(lets_go)} let{'s' if len(lets_go) == 1 else ''} go")
    if never:
        words.append(f"{_and(never)} do{'es' if len(never) == 1 else ''} not let go in the range")
    text = ", ".join(words) + "."
    text = text[0].upper() + text[1:]
    if merit.handed_over_hz is None:
        return f"{text} The hand-over fails: {merit.reasons.get('handed_over_hz', 'no reason given')}."
    if merit.high_area_m2 is None:
        return f"{text} The motion is handed over above {show_hz(merit.handed_over_hz)}, right where it breaks up."
    ratio = merit.high_area_m2 / merit.low_area_m2
    return (
        f"{text} Above {show_hz(merit.handed_over_hz)} the motion is handed over to the driven zone and the area "
        f"settles at {show_area(merit.high_area_m2)}, {digits(100 * ratio, 2)} % of the low area."
    )


def _break_up(evaluation: Answer, merit: Merit) -> str:
    if merit.break_up_hz is None:
        return f"No break-up in the range: {merit.reasons.get('break_up_hz', '')}."
    text = f"Break-up begins at {show_hz(merit.break_up_hz)}{_by_solid(evaluation, merit.break_up_hz)}"
    if merit.usable_octaves is None:
        return f"{text}."
    enough = "at least" if merit.usable_octaves >= OCTAVES_WANTED else "fewer than"
    return (
        f"{text}, which leaves {digits(merit.usable_octaves, 2)} usable octaves, {enough} the four that common "
        "practice asks of one diaphragm."
    )


def _by_solid(evaluation: Answer, break_up_hz: float) -> str:
    """The solid's break-up, where it is another."""
    solid = None if evaluation.second_opinion is None else evaluation.second_opinion.merit
    if solid is None or (solid.break_up_hz and abs(break_up_hz / solid.break_up_hz - 1) <= FIGURES_AGREE_WITHIN):
        return ""
    where = f"at {show_hz(solid.break_up_hz)}" if solid.break_up_hz else "nowhere in the range"
    return f" (by the solid model, to be believed rather, {where})"


def _neighbours(evaluation: Answer) -> str:
    """The lowest modes that an even force does not drive, and yet may rub or buzz."""
    found = [(float(x.frequency_hz[0]), m) for m, x in evaluation.modes.items() if m > 0 and len(x)]
    if not found:
        return ""
    frequency, m = min(found)
    kind = "Rocking (m = 1)" if m == 1 else f"Petal motion (m = {m})"
    merit = evaluation.merit
    where = ""
    if merit is not None and merit.break_up_hz and frequency < merit.break_up_hz:
        where = ", below break-up: keep the drive even and the coil centred"
    return f"{kind} begins at {show_hz(frequency)}{where}."


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
            f"The materials count for more: their moduli as met move the frequencies that they govern, {_and(moves)}."
        )
    doubtful = [row for row in evidence_table(evaluation.design.materials) if row.mark]
    used = {material.name for material in materials}
    unknown = [r for r in doubtful if r.quantity == QUANTITIES["youngs_modulus"] and not r.range and r.material in used]
    if unknown:
        named = _and([f"{row.material} ({row.value.partition(';')[0]}, {row.kind})" for row in unknown])
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


def figure_lines(merit: Merit) -> list[tuple[str, str, str]]:
    """Figures of merit as printed: name, value ("none" where it does not exist), and why it does not."""

    def line(name: str, words: str, key: str) -> tuple[str, str, str]:
        return name, words, merit.reasons.get(key, "") if words == NONE else ""

    lines = [
        line("fundamental resonance", show_hz(merit.fundamental_hz), "fundamental_hz"),
        line("stiffness at the coil", f"{digits(merit.stiffness_n_per_m / 1e3)} N/mm", ""),
        line("moving mass", show_mass(merit.moving_mass_kg), ""),
        line("low area", show_area(merit.low_area_m2), ""),
        line("decoupling", show_hz(merit.decoupling_hz), "decoupling_hz"),
        line("handed over above", show_hz(merit.handed_over_hz), "handed_over_hz"),
        line("high area", show_area(merit.high_area_m2), "high_area_m2"),
        line("break-up", show_hz(merit.break_up_hz), "break_up_hz"),
        line("usable band", show_octaves(merit.usable_octaves), "usable_octaves"),
    ]
    if len(merit.steps) > 1:
        for step in merit.steps:
            lines.append((f"{step.name}: decoupling", show_hz(step.decoupling_hz), ""))
            lines.append((f"{step.name}: handed over above", show_hz(step.handed_over_hz), ""))
    return lines


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
    design, merit = evaluation.design, evaluation.merit
    parts = [f"# {markdown_text(design.name)}", markdown_text(verdict(evaluation))]
    parts += ["## How far to trust it", markdown_text(trust(evaluation))]
    if evaluation.warnings:
        parts.append("\n".join(f"- **Warning**: {markdown_text(warning)}" for warning in evaluation.warnings))
    if cautions(evaluation):
        parts.append("\n".join(f"- **Caution**: {markdown_text(words)}" for words in cautions(evaluation)))
    if merit is not None:
        parts.append("## Figures of merit")
        parts.append(_table(("figure", "value", "why not"), figure_lines(merit)))
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
    felt = m == 0 and np.isfinite(modes.modal_mass[k]) and np.isfinite(modes.modal_area[k])
    return (
        f"{m}",
        f"{k + 1}",
        show_hz(modes.frequency_hz[k], 4),
        show_share(evaluation.frequency_error[m][k]),
        show_mass(float(modes.modal_mass[k])) if felt else "–",
        show_area(float(modes.modal_area[k])) if felt else "–",
        digits(float(modes.loss_factor[k]), 2),
        modes.labels[k],
    )


def _table(headings: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = [f"| {' | '.join(headings)} |", f"|{'---|' * len(headings)}"]
    lines += [f"| {' | '.join(map(markdown_text, row))} |" for row in rows]
    return "\n".join(lines)


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + f" and {words[-1]}"
