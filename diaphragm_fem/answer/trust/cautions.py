"""Warnings with numbers: where a design or a result lies outside what the shell model was proven for."""

from itertools import pairwise

import numpy as np

from diaphragm_fem.answer.trust.convergence import AREA_PER_FREQUENCY, Converged
from diaphragm_fem.answer.trust.poor_joints import along_former, butted, modulus
from diaphragm_fem.answer.trust.soft_core import soft_core
from diaphragm_fem.answer.trust.thick_walls import plainly_sound, short_wave, too_curved, too_thick_hoop
from diaphragm_fem.answer.trust.unmatched_loss import unmatched_loss
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.library.evidence import show_frequency


def design_cautions(design: Design, up_to_hz: float) -> tuple[str, ...]:
    """What the drawing itself gives reason to doubt, each zone at most once per reason."""
    found: dict[tuple[str, str], str] = {}
    for piece in design.pieces:
        if plainly_sound(piece, up_to_hz):
            continue
        for reason, text in (
            ("curved", too_curved(piece)),
            ("hoop", too_thick_hoop(piece)),
            ("wave", short_wave(piece, up_to_hz)),
            ("core", soft_core(piece, up_to_hz)),
        ):
            known = found.get((piece.zone.name, reason), "")
            lap = _lap(design, piece) if text else ""
            if text and (not known or (not lap and ", where it is" in known)):
                found[piece.zone.name, reason] = f"{piece.zone.name}{lap}{text.removeprefix(piece.zone.name)}"
    for pair in pairwise(design.meridian):
        stiff, soft = sorted(pair, key=modulus, reverse=True)
        text = butted(stiff, soft, 0.0 if soft is pair[1] else 1.0, design.by_points)
        if text and (soft.zone.name, "butted") not in found:
            found[soft.zone.name, "butted"] = text
    if design.beads and design.joint in (0, len(design.meridian)):
        found["former", "glue"] = (
            "former: of glue at a former that hangs from an edge only mass and hoop are counted, not what it stiffens"
        )
    text = along_former(design)
    if text:
        found["former", "beside"] = text
    materials = (unmatched_loss(material, up_to_hz) for material in design.materials)
    return (*found.values(), *(text for text in materials if text))


def _lap(design: Design, piece: Piece) -> str:
    """What tells a piece from most of its zone, such as the surround's layers on it; nothing of most."""
    length: dict[tuple[str, ...], float] = {}
    for other in design.pieces:
        if other.zone == piece.zone:
            length[_materials(other)] = length.get(_materials(other), 0.0) + other.curve.length
    own = _materials(piece)
    return "" if own == max(length, key=length.__getitem__) else f", where it is {' and '.join(own)}"


def _materials(piece: Piece) -> tuple[str, ...]:
    return tuple(layer.material.name for layer in piece.wall.layers)


def result_cautions(found: Converged, tolerance: float) -> tuple[str, ...]:
    """Where the finest mesh still misses the tolerance, or a residual is large."""
    texts = []
    for m, error in found.frequency_error.items():
        late = int(np.count_nonzero(error > tolerance))
        if late:
            k = int(np.argmax(error))
            others = "" if late == 1 else f", and {late - 1} more by less"
            where = show_frequency(found.level.modes[m].frequency_hz[k], computed=True)
            texts.append(
                f"order m = {m}: mode {k + 1} at {where} may be off by "
                f"{100 * error[k]:.2g} %, more than the {100 * tolerance:.2g} % asked for, on the finest mesh{others}"
            )
    most = AREA_PER_FREQUENCY * tolerance
    if found.area_error is not None and found.area_error > most:
        texts.append(
            f"the area curve may be off by {100 * found.area_error:.2g} % of itself or of the low area, more than the "
            f"{100 * most:.2g} % asked for, on the finest mesh"
        )
    return tuple(texts)
