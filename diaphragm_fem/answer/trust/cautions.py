"""Warnings with numbers: where a design or a result lies outside what the shell model was proven for, and where the
loss of a material does not go with its modulus."""

from functools import lru_cache
from itertools import pairwise
from math import pi

import numpy as np

from diaphragm_fem.answer.trust.convergence import AREA_PER_FREQUENCY, Converged
from diaphragm_fem.answer.trust.poor_joints import along_former, butted, modulus
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.design.material.material import Material, Relaxation
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.mesh.meridian import SAME_POINT
from diaphragm_fem.mesh.sizing import bending_wavelength, modulus_factor_at
from diaphragm_fem.model.shell.elasticity import stiffness_law, wall_rows

UNMATCHED_RISE = 1.25  # of a modulus: constant losses of 0.05 over three decades are let pass
SOFT_CORE = 0.02  # of a frequency: what the shell may miss at the top where layers slide on each other
THICK_WALL = 0.1  # of the hoop radius: first-order shell theory ends here
SHARP_CORNER = 2.0  # wall thicknesses: below it the shell cannot tell one corner radius from another
SHORT_WAVE = 10.0  # wall thicknesses per bending wavelength


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


@lru_cache(maxsize=256)
def unmatched_loss(material: Material, up_to_hz: float) -> str:
    """A loss without the rise of the modulus that causality asks for, over three decades or the span it is known at.

    Asked: d ln|E*|/d ln f = 2 delta/pi, see `viscoelastic`. A frequency moves with the root of the modulus.
    """
    loss, stiffening = material.loss_factor, material.stiffening
    if isinstance(loss, Relaxation) or (stiffening is not None and stiffening.follows_loss):
        return ""
    spans = [span for span in (loss.frequency_hz, stiffening.frequency_hz if stiffening else ()) if len(span) > 1]
    low = max(up_to_hz / 1e3, *(span[0] for span in spans), 0.0)
    high = min([up_to_hz, *(span[-1] for span in spans)])
    if low >= high:
        return ""
    asked = float(loss.factor(high, low).real)
    given = float(material.storage_ratio(high) / material.storage_ratio(low))
    if abs(np.log(asked / given)) < np.log(UNMATCHED_RISE):
        return ""
    words = (
        "stays as it is"
        if given == 1
        else f"{'rises' if given > 1 else 'falls'} by a factor {max(given, 1 / given):.3g}"
    )
    off = 100 * abs(np.sqrt(asked / given) - 1)
    return (
        f"{material.name}: over {show_frequency(low)} to {show_frequency(high)} its loss asks for a modulus that rises "
        f"by a factor {asked:.3g}, and the one given {words}: resonances it carries may be off by up to {off:.2g} %; "
        "let it follow its loss (youngs_modulus = { value = ..., frequency = ... }, the frequency it was measured at), "
        "or give a table of both"
    )


def soft_core(piece: Piece, up_to_hz: float) -> str:
    """Layers that bend each on its own where a soft one between them slides: the shell lets them bend as one.

    A wave of number k meets the bending stiffness D (f + (1 - f)/(1 + (1 - f) p)), p = D k^2/S the sliding over the
    bending and f the share of D that the layers have each about its own middle; the shell has D/(1 + p). Half the
    logarithm of the two is what a frequency misses. A held end adds a layer sqrt(f D/S) long in which the faces bend:
    it shortens a piece that slides, p/(1 + p) of it. Source: faces about a core in shear, the sixth-order equation of
    Mead and Markus, J. Sound Vib. 10 (1969) 163 (named from memory). On clamped sandwich
    discs (cores of 1 MPa to 1 GPa under aluminium) it is 0.9 to 1.5 times what the solid shows, where that is above
    0.2 %. No face of a lap is held, and its ends are joints, solved as they are. Of a lap it is a bound, and most modes
    are too high: five of 0.25 to 0.5 mm of rubber on film, foil and paper, told to be off by 3 to 15 %, were
    off by -0.5 to +4.6 % (m = 0 to 2).
    """
    layers = piece.wall.layers
    if len(layers) == 1:
        return ""
    x = np.linspace(0, 1, 5)
    materials = list(dict.fromkeys(layer.material for layer in layers))
    law = stiffness_law(wall_rows((piece,), np.zeros(1, int), materials), x[None]).sum(axis=2)
    bending, shear = law[3, 3] - law[0, 3] ** 2 / law[0, 0], law[6, 6]
    plane = [layer.material.youngs_modulus / (1 - layer.material.poisson_ratio**2) for layer in layers]
    alone = sum(C * layer.thickness(x) ** 3 / 12 for C, layer in zip(plane, layers, strict=True)) / bending
    inertia = sum(layer.material.density * layer.thickness(x) for layer in layers) * (2 * pi * up_to_hz) ** 2
    k = (inertia / bending) ** 0.25 * np.geomspace(1, 1e3, 400)[:, None]
    sliding = bending * k**2 / shear
    stiffer = alone + (1 - alone) / (1 + (1 - alone) * sliding)
    reached = np.argmax(stiffer * bending * k**4 > inertia, axis=0)
    wave, slid = np.log(stiffer * (1 + sliding)) / 2, sliding / (1 + sliding)
    glued = any(layer.glued for layer in layers)
    ends = 0 if glued else sum(float(piece.curve.point(s)[0]) > 0 for s in (0.0, piece.curve.length))
    held = ends * np.sqrt(alone * bending / shear) / piece.curve.length
    missing = float((wave + slid * held)[reached, np.arange(len(x))].max())
    if missing > SOFT_CORE:
        how = "its layers bend each on its own about a soft one that slides between them"
        if len(layers) == 2:
            how = f"{' and '.join(x.material.name for x in layers)}, one on the other, bend each on its own by shear "
            how += "of the softer"
        size, near = f"{100 * -np.expm1(-missing):.2g} %", f"near {show_frequency(up_to_hz)}"
        near += "; believe the solid where one was solved"
        off = f"may be off by up to {size}, mostly too high," if glued else f"are about {size} too low"
        return f"{piece.zone.name}: {how}, which the shell model leaves out: its frequencies {off} {near}"
    return ""


def plainly_sound(piece: Piece, up_to_hz: float) -> bool:
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
    modulus = modulus_factor_at(material, up_to_hz).real * material.youngs_modulus
    stiff = modulus / (12 * (1 - material.poisson_ratio**2) * material.density)
    waves = 2 * pi * (stiff / (2 * pi * up_to_hz * thickness) ** 2) ** 0.25
    return curvature * thickness * SHARP_CORNER <= 1 and thickness <= THICK_WALL * radius and waves >= SHORT_WAVE


def too_curved(piece: Piece) -> str:
    x = np.linspace(0, 1, 11)
    kappa = np.abs(piece.curve.curvature(x * piece.curve.length)).max()
    thickness = float(piece.wall.thickness(x).max())
    if kappa * thickness * SHARP_CORNER > 1:
        return (
            f"{piece.zone.name}: a corner radius of {1e3 / kappa:.3g} mm is below {SHARP_CORNER:g} wall thicknesses "
            f"({1e3 * thickness:.3g} mm each): the shell model cannot tell it from a sharp kink"
        )
    return ""


def too_thick_hoop(piece: Piece) -> str:
    """Thickness over the hoop radius r/|n_r|, away from the axis."""
    x = np.linspace(0, 1, 11)
    x = x[piece.curve.point(x * piece.curve.length)[:, 0] > SAME_POINT]
    s = x * piece.curve.length
    slope = np.abs(piece.curve.tangent(s)[:, 1])
    ratio = float((piece.wall.thickness(x) * slope / piece.curve.point(s)[:, 0]).max())
    if ratio > THICK_WALL:
        return (
            f"{piece.zone.name}: the wall is {ratio:.2g} of its hoop radius, above {THICK_WALL:g}: too thick for the "
            "shell model, trust the solid"
        )
    return ""


def short_wave(piece: Piece, up_to_hz: float) -> str:
    """From where on a bending wave is too short for a shell; its length falls with the root of frequency, a little
    less where the modulus rises: 1 % are left after three steps."""
    x, hz = np.linspace(0, 1, 11), up_to_hz
    for _ in range(3):
        hz *= float((bending_wavelength(piece, x, hz) / piece.wall.thickness(x)).min() / SHORT_WAVE) ** 2
        if hz >= up_to_hz:
            return ""
    return (
        f"{piece.zone.name}: above {show_frequency(hz, computed=True)} a bending wave is shorter than {SHORT_WAVE:g} "
        "wall thicknesses: the shell model loses accuracy there"
    )
