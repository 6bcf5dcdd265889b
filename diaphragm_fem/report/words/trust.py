"""How far to trust one design's numbers, in three short points: the mathematics, the model, the materials."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.answer.trust.second_opinion import AGREE_WITHIN
from diaphragm_fem.design.library.evidence import MARK_LEGEND, QUANTITIES, evidence_table, show_number
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.report.blocks.blocks import Block, Heading, Points, Words
from diaphragm_fem.report.words.words import digits, join_words, materials_of, one, pieces_of, show_bound

LOCAL_RULES = "local rules"  # what every word on safety ends with
LEAST_DB = 0.001  # what is smaller is told as this
PROTOTYPE = "These results guide a prototype; they do not replace measuring it."


def trust(evaluation: Answer) -> str:
    """The points as one paragraph."""
    return " ".join((*trust_points(evaluation), PROTOTYPE))


def trust_points(evaluation: Answer) -> list[str]:
    """What the mesh, the other model and the spread of the materials may do to the numbers, a point each."""
    return [words for words in (_mesh(evaluation), _model(evaluation), _materials(evaluation)) if words]


def _mesh(evaluation: Answer) -> str:
    errors = [float(e.max()) for e in evaluation.frequency_error.values() if len(e)]
    if not errors:
        return ""
    total = sum(len(x) for x in evaluation.modes.values())
    counted = f"all {total} frequencies" if total > 1 else "the frequency"
    db = curve_error_db(evaluation)
    area = "" if db is None else f", the area curve within {digits(max(db, LEAST_DB), 2)} dB below the break-up mode"
    return f"Mesh: {counted} within {show_bound(max(errors))}{area}; none is missing, by a count of eigenvalues."


def curve_error_db(evaluation: Answer) -> float | None:
    """How far |S| may be off in dB anywhere below the break-up mode; None without a curve.

    area_error e bounds |S - exact|/max(|S|, low area): the level is off by at most 20 log10(1 + e max(|S|, low)/|S|).
    """
    area, error, figures = evaluation.area, evaluation.area_error, evaluation.figures
    if area is None or error is None or figures is None:
        return None
    size = np.abs(area.total[area.frequency_hz <= (figures.break_up_mode_hz or np.inf)])
    worst = float(np.max(np.maximum(size, figures.low_area_m2) / np.maximum(size, 1e-30), initial=1.0))
    return float(20 * np.log10(1 + error * worst))


def _model(evaluation: Answer) -> str:
    opinion = evaluation.second_opinion
    if opinion is None or not opinion.rows:
        alone = "the shell with its ends and joints" if evaluation.corrected else "the bare shell"
        left = f", {evaluation.bare_joints} of them left to the bare theory," if evaluation.bare_joints else ""
        return f"Model: {alone}{left} alone; no second opinion was given."
    verb = "agrees within" if opinion.largest <= AGREE_WITHIN else "differs by up to"
    matched = one(len(opinion.rows) - len(opinion.lost), "mode")
    lost = f", and {len(opinion.lost)} had none like it" if opinion.lost else ""
    bare = "" if evaluation.corrected else " The shell is bare, without what ends, joints and thickness add."
    return f"Model: the wall solved again as a solid {verb} {show_bound(opinion.largest)} on {matched}{lost}.{bare}"


def _materials(evaluation: Answer) -> str:
    """What the spread of the moduli does to the frequencies, and which numbers are doubtful."""
    radiating = [zone for zone in evaluation.design.zones if zone.radiates]
    materials = materials_of(piece for zone in radiating for piece in pieces_of(evaluation.design, zone))
    told = []
    if moves := [words for material in materials if (words := _modulus_moves(material))]:
        told.append(f"moduli as met move the frequencies that they govern, {join_words(moves)}")
    doubtful = [row for row in evidence_table(evaluation.design.materials) if row.mark]
    used = {material.name for material in materials}
    unknown = [r for r in doubtful if r.quantity == QUANTITIES["youngs_modulus"] and not r.range and r.material in used]
    if unknown:
        named = join_words([f"{row.material} ({row.value.partition(';')[0]}, {row.kind})" for row in unknown])
        told.append(f"how far the modulus of {named} may be off is not known, a tenth moves its frequencies by 5 %")
    if doubtful:
        verb = "has" if len(doubtful) == 1 else "have"
        told.append(f"{one(len(doubtful), 'number')} used here {verb} no published source")
    if any(row.quantity == "loss factor" for row in doubtful):
        told[-1] += ", loss factors among them: measure those before the height of a peak decides"
    return f"Materials: {'; '.join(told)}." if told else ""


def _modulus_moves(material: Material) -> str:
    """ "PEN film (5 to 6 GPa) by −4 to +5 %"."""
    evidence = material.evidence.get("youngs_modulus")
    if evidence is None or evidence.range is None:
        return ""
    low, high = (100 * (float(np.sqrt(end / material.youngs_modulus)) - 1) for end in evidence.range)
    span = " to ".join(show_number("youngs_modulus", end) for end in evidence.range)
    shift = " to ".join(f"{round(end):+d}" if round(end) else "0" for end in (low, high)).replace("-", "−") + " %"
    return f"{material.name} ({span}) by {shift}"


def cautions(evaluation: Answer) -> list[str]:
    """Safety words of the materials used, each once."""
    return cautions_of(evaluation.design.materials)


def dangers(evaluation: Answer) -> list[str]:
    """Words on safety, each once: of the materials used, and of the levels of a driver."""
    return [*cautions(evaluation), *loudness(evaluation)]


def loudness(evaluation: Answer) -> list[str]:
    """What a driver's levels may do to people."""
    return [] if evaluation.driver is None else [words for words in evaluation.driver.cautions if LOCAL_RULES in words]


def model_notes(evaluation: Answer) -> list[str]:
    """What the model of a driver leaves out or takes as given: notes, for a caution is of what can harm."""
    harm = loudness(evaluation)
    return [] if evaluation.driver is None else [words for words in evaluation.driver.cautions if words not in harm]


def dangers_of_many(materials: Iterable[Material], figures: Iterable[tuple[str, ArrayLike | None]]) -> list[str]:
    """Words on safety: of the materials of many designs, and of the levels among their figures, as name and values."""
    from diaphragm_fem.answer.driver.cautions import HARM, LOUD_DB  # loaded for a driver alone

    levels = [
        np.ravel(np.asarray(values, float)) for name, values in figures if name.partition(":")[0] == "median_level_db"
    ]
    loudest = max((float(x) for values in levels for x in values[np.isfinite(values)]), default=-np.inf)
    loud = [f"median levels of up to {loudest:.0f} dB, with peaks above them, {HARM}."] if loudest >= LOUD_DB else []
    return [*cautions_of(materials), *loud]


def cautions_of(materials: Iterable[Material]) -> list[str]:
    return list(dict.fromkeys(caution(m.name, m.caution) for m in materials if m.caution))


def caution(name: str, words: str) -> str:
    """ "beryllium: ...", with a word on local rules where the caution has none."""
    return f"{name}: {words}" if "local" in words.lower() else f"{name}: {words} Local rules go first."


def doubt_blocks(lines: Sequence[str]) -> list[Block]:
    """Numbers without a published source under their heading; nothing without any."""
    title = "Material numbers without a published source"
    return [Heading(title), Words(f"{MARK_LEGEND}."), Points(lines)] if lines else []
