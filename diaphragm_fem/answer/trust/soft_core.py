"""Where a soft layer between stiff ones slides, which the shell leaves out."""

from math import pi

import numpy as np

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.model.shell.elasticity import stiffness_law, wall_rows

SOFT_CORE = 0.02  # of a frequency: what the shell may miss at the top where layers slide on each other


def soft_core(piece: Piece, up_to_hz: float) -> str:
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
