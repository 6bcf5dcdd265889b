"""Warnings with numbers: where a design or a result lies outside what the shell model was proven for."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.design.curve import Arc, Line
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.mesh.sizing import bending_rigidity, bending_wavelength

if TYPE_CHECKING:
    from diaphragm_fem.answer.convergence import Converged

THICK_WALL = 0.1  # of the hoop radius: first-order shell theory ends here
SHARP_CORNER = 2.0  # wall thicknesses: below it the shell cannot tell one corner radius from another
SHORT_WAVE = 10.0  # wall thicknesses per bending wavelength
SOFT_CORE = 0.02  # sliding over bending of a layered wall at the top frequency: half of it is missing in a frequency


def design_cautions(design: Design, up_to_hz: float) -> tuple[str, ...]:
    """What the drawing itself gives reason to doubt, each zone at most once per reason."""
    found: dict[tuple[str, str], str] = {}
    for piece in (*design.meridian, *design.former):
        if _plainly_sound(piece, up_to_hz):
            continue
        for reason, text in (
            ("curved", _too_curved(piece)),
            ("hoop", _too_thick_hoop(piece)),
            ("wave", _short_wave(piece, up_to_hz)),
            ("core", _soft_core(piece, up_to_hz)),
        ):
            if text and (piece.zone.name, reason) not in found:
                found[piece.zone.name, reason] = text
    return tuple(found.values())


def result_cautions(found: Converged, tolerance: float) -> tuple[str, ...]:
    """Where the finest mesh still misses the tolerance, or a residual is large."""
    texts = []
    for m, error in found.frequency_error.items():
        late = int(np.count_nonzero(error > tolerance))
        if late:
            k = int(np.argmax(error))
            others = "" if late == 1 else f", and {late - 1} more by less"
            texts.append(
                f"order m = {m}: mode {k + 1} at {found.level.modes[m].frequency_hz[k]:.0f} Hz may be off by "
                f"{100 * error[k]:.2g} %, more than the {100 * tolerance:.2g} % asked for, on the finest mesh{others}"
            )
    if found.area_error is not None and found.area_error > 10 * tolerance:
        texts.append(
            f"the area curve may be off by {100 * found.area_error:.2g} % of the low area, more than the "
            f"{1000 * tolerance:.2g} % asked for, on the finest mesh"
        )
    return tuple(texts)


def _plainly_sound(piece: Piece, up_to_hz: float) -> bool:
    """Whether bounds on the safe side clear a piece of every caution: a sweep asks this a million times.

    The bounds: the thickest wall, the smallest radius that the curve's own circle or ends reach; the wavelength in
    thicknesses of one layer, 2 pi (E / (12 (1 - nu^2) rho omega^2 h^2))^(1/4), falls as the wall gets thicker.
    """
    if len(piece.wall.layers) != 1:
        return False
    (layer,) = piece.wall.layers
    material, thickness = layer.material, max(layer.begin_thickness, layer.end_thickness)
    match piece.curve:
        case Line(begin=begin, end=end):
            curvature, radius = 0.0, min(begin[0], end[0])
        case Arc(centre=centre, radius=own):
            curvature, radius = 1 / own, centre[0] - own
        case _:
            return False
    stiff = material.youngs_modulus / (12 * (1 - material.poisson_ratio**2) * material.density)
    waves = 2 * pi * (stiff / (2 * pi * up_to_hz * thickness) ** 2) ** 0.25
    return curvature * thickness * SHARP_CORNER <= 1 and thickness <= THICK_WALL * radius and waves >= SHORT_WAVE


def _too_curved(piece: Piece) -> str:
    x = np.linspace(0, 1, 11)
    kappa = np.abs(piece.curve.curvature(x * piece.curve.length)).max()
    thickness = float(piece.wall.thickness(x).max())
    if kappa * thickness * SHARP_CORNER > 1:
        return (
            f"{piece.zone.name}: a corner radius of {1e3 / kappa:.3g} mm is below {SHARP_CORNER:g} wall thicknesses "
            f"({1e3 * thickness:.3g} mm each): the shell model cannot tell it from a sharp kink"
        )
    return ""


def _too_thick_hoop(piece: Piece) -> str:
    """Thickness over the hoop radius r/|n_r|, away from the axis."""
    x = np.linspace(0, 1, 11)[1:]
    s = x * piece.curve.length
    slope = np.abs(piece.curve.tangent(s)[:, 1])
    ratio = float((piece.wall.thickness(x) * slope / piece.curve.point(s)[:, 0].clip(1e-9)).max())
    if ratio > THICK_WALL:
        return (
            f"{piece.zone.name}: the wall is {ratio:.2g} of its hoop radius, above {THICK_WALL:g}: too thick for the "
            "shell model, trust the solid"
        )
    return ""


def _soft_core(piece: Piece, up_to_hz: float) -> str:
    """Layers that slide on a soft one between them: the shell lets all layers shear alike, G h added up.

    Sliding over bending is D k^2/S at the bending wave number k of the top frequency, S = h^2/sum(h_i/G_i) the shear
    stiffness of layers one on another (the bound of equal stress, Reuss; Jones, Mechanics of Composite Materials
    (1999), ch. 3; named from memory).
    """
    layers = piece.wall.layers
    if len(layers) == 1:
        return ""
    x = np.linspace(0, 1, 11)
    thickness = np.array([layer.thickness(x) for layer in layers])
    modulus = np.array([layer.material.youngs_modulus / (2 * (1 + layer.material.poisson_ratio)) for layer in layers])
    beside = (thickness * modulus[:, None]).sum(axis=0)
    one_on_another = thickness.sum(axis=0) ** 2 / (thickness / modulus[:, None]).sum(axis=0)
    rigidity, _ = bending_rigidity(piece, x)
    wave_number = 2 * pi / bending_wavelength(piece, x, up_to_hz)
    sliding = float((rigidity * wave_number**2 / one_on_another).max())
    if sliding > SOFT_CORE and float((one_on_another / beside).min()) < 0.5:
        return (
            f"{piece.zone.name}: its layers slide on a soft one between them, at {up_to_hz:.0f} Hz {sliding:.2g} times "
            "as far as they bend, and the shell model leaves that out, with the loss that it brings: believe the solid"
        )
    return ""


def _short_wave(piece: Piece, up_to_hz: float) -> str:
    x = np.linspace(0, 1, 11)
    waves = float((bending_wavelength(piece, x, up_to_hz) / piece.wall.thickness(x)).min())
    if waves < SHORT_WAVE:
        return (
            f"{piece.zone.name}: at {up_to_hz:.0f} Hz a bending wave is only {waves:.2g} wall thicknesses long, below "
            f"{SHORT_WAVE:g}: the shell model loses accuracy there"
        )
    return ""
