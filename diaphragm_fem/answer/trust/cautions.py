"""Warnings with numbers: where a design or a result lies outside what the shell model was proven for."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.design.material.material import Material, Relaxation
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.units.units import show
from diaphragm_fem.mesh.branch import OVER
from diaphragm_fem.mesh.sizing import bending_wavelength
from diaphragm_fem.model.joint.lying_wall import WHOLLY, lying_wall
from diaphragm_fem.model.shell.elasticity import stiffness_law, wall_rows

if TYPE_CHECKING:
    from diaphragm_fem.answer.trust.convergence import Converged

THICK_WALL = 0.1  # of the hoop radius: first-order shell theory ends here
SHARP_CORNER = 2.0  # wall thicknesses: below it the shell cannot tell one corner radius from another
SHORT_WAVE = 10.0  # wall thicknesses per bending wavelength
UNMATCHED_RISE = 1.25  # of a modulus: constant losses of 0.05 over three decades are let pass
BUTT, STIFFER = (
    2.5,
    10.0,
)  # ratios of thickness and of modulus from which a wall is said to hold a soft one by its middle
PUNCH = 16 / (
    12 * pi
)  # a rigid strip on soft ground turns by 16 M (1 - nu^2)/(pi E a^2), a wall by 12 M (1 - nu^2) x/(E h^3)
NEARLY = 0.05  # of a former's thickness: so near to where its joint is drawn in another way that is told
SOFT_CORE = 0.02  # of a frequency: what the shell may miss at the top where layers slide on each other


def design_cautions(design: Design, up_to_hz: float) -> tuple[str, ...]:
    """What the drawing itself gives reason to doubt, each zone at most once per reason."""
    found: dict[tuple[str, str], str] = {}
    for piece in design.pieces:
        if _plainly_sound(piece, up_to_hz):
            continue
        for reason, text in (
            ("curved", _too_curved(piece)),
            ("hoop", _too_thick_hoop(piece)),
            ("wave", _short_wave(piece, up_to_hz)),
            ("core", _soft_core(piece, up_to_hz)),
        ):
            known = found.get((piece.zone.name, reason), "")
            lap = _lap(design, piece) if text else ""
            if text and (not known or (not lap and ", where it is" in known)):
                found[piece.zone.name, reason] = f"{piece.zone.name}{lap}{text.removeprefix(piece.zone.name)}"
    for pair in pairwise(design.meridian):
        stiff, soft = sorted(pair, key=_modulus, reverse=True)
        text = _butted(stiff, soft, 0.0 if soft is pair[1] else 1.0, design.by_points)
        if text and (soft.zone.name, "butted") not in found:
            found[soft.zone.name, "butted"] = text
    if design.beads and design.joint in (0, len(design.meridian)):
        found["former", "glue"] = (
            "former: of glue at a former that hangs from an edge only mass and hoop are counted, not what it stiffens"
        )
    text = _along_former(design)
    if text:
        found["former", "beside"] = text
    materials = (_unmatched_loss(material, up_to_hz) for material in design.materials)
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
    if found.area_error is not None and found.area_error > 10 * tolerance:
        texts.append(
            f"the area curve may be off by {100 * found.area_error:.2g} % of itself or of the low area, more than the "
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


def _along_former(design: Design) -> str:
    """The wall beyond the former that leaves the joint beside it."""
    lying = lying_wall(design)
    if not lying or lying.touch < WHOLLY * lying.thick:
        return ""
    return (
        f"{lying.run[0][1].zone.name}: it lies along the former over {show(lying.touch)}, "
        f"{lying.touch / lying.thick:.2g} mean thicknesses of the two: "
        + (
            "the shell holds it there, and fundamentals of 43 harsh domes were up to 1.3 % off, 95 % of their modes "
            "within 1.2 %, but some in which wall and former bend up to 15 %: for these believe the solid"
            if lying.share
            else "for the shell layers meet it in a point, and modes may be 1 to 20 % too low: believe the solid"
        )
    )


def near_another_drawing(design: Design) -> tuple[str, ...]:
    """That a former's joint is all but drawn in another way, by shell and solid alike; none where it is not."""
    from diaphragm_fem.mesh.section import reach_of_top

    reach, most = reach_of_top(design), 0.5 + OVER
    if reach is None or abs(reach - most) > NEARLY:
        return ()
    return (
        "former: a small change of a length may make modes jump, by 0.2 % in the median of 13 such domes, mostly by "
        "less than 3 %, at worst by 8 % (m = 0), for its joint is all but drawn in another way: the rear face above "
        f"it reaches {reach:.3g} of its thickness from its middle, just {'below' if reach <= most else 'above'} the "
        f"{most:g} at which that changes; the second opinion shares that",
    )


def _modulus(piece: Piece) -> float:
    return piece.wall.layers[0].material.youngs_modulus


def _butted(stiff: Piece, soft: Piece, place: float, by_points: bool) -> str:
    """A thin stiff wall that ends on the middle of a thick soft one, which then turns about it like soft ground about a
    rigid strip of the width a (Muskhelishvili; Johnson, Contact Mechanics (1985), ch. 2, from memory): as if it were
    PUNCH (h/a)^2 h longer, of an incompressible wall; the patch of `joint.patch` has 0.35 to 0.38 of that square."""
    if len(stiff.wall.layers) > 1 or len(soft.wall.layers) > 1 or _modulus(stiff) < STIFFER * _modulus(soft):
        return ""
    thin, thick = float(stiff.wall.thickness(1.0 - place)), float(soft.wall.thickness(place))
    if thick < BUTT * thin:
        return ""
    longer = PUNCH * thick**3 / thin**2
    return (
        f"{soft.zone.name}: butted against {stiff.zone.name}, whose {1e3 * thin:.3g} mm hold its "
        f"{1e3 * thick:.3g} mm by their middle: it turns there as if it were up to {1e3 * longer:.2g} mm longer. If it "
        f"is glued on, {_glued_on(soft, by_points)}"
    )


def _glued_on(soft: Piece, by_points: bool) -> str:
    """How a design file of its kind says that a wall lies on the one beside it."""
    if not by_points and soft.zone.role is Role.SURROUND:
        return 'write overlap = { length = "1 mm", side = "front" } into its table'
    layers = "make the stretch where both lie a zone with the layers of both"
    return layers if by_points else f"draw the meridian by points and {layers}"


def _soft_core(piece: Piece, up_to_hz: float) -> str:
    """Layers that bend each on its own where a soft one between them slides: the shell lets them bend as one.

    A wave of number k meets the bending stiffness D (f + (1 - f)/(1 + (1 - f) p)), p = D k^2/S the sliding over the
    bending and f the share of D that the layers have each about its own middle; the shell has D/(1 + p). Half the
    logarithm of the two is what a frequency misses. A held end adds a layer sqrt(f D/S) long in which the faces bend:
    it shortens a piece that slides, p/(1 + p) of it. Source: faces about a core in shear, the sixth-order equation of
    Mead and Markus, J. Sound Vib. 10 (1969) 163 (named from memory). On clamped sandwich
    discs (cores of 1 MPa to 1 GPa under aluminium) it is 0.9 to 1.5 times what the solid shows, where that is above
    0.2 %. No face of a lap is held, and its ends are joints, solved as they are: taken for held ones, rubber on a dome
    of foil was told to be 61 % off, where the solid has 2 %. Of a lap it is a bound, and
    most modes are too high: five of 0.25 to 0.5 mm of rubber on film, foil and paper, told to be off by 3 to 15 %, were
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


@lru_cache(maxsize=256)
def _unmatched_loss(material: Material, up_to_hz: float) -> str:
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


def _short_wave(piece: Piece, up_to_hz: float) -> str:
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
