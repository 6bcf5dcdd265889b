"""A rocking of m = 1, the one turn of a part that strains nothing, on elements that are bent.

It moves u = z, v = -z, w = -r and turns b = 1, q = -t_r. On an arc quadratic functions miss it by the cube of what they
turn by within an element, and a free metal dome rocked at 1.4 Hz; at 9.7 Hz where a lap of two layers hardly slides
around (`thick_wall.HARDLY_SLIDES`). So the middle node's b, by which every element knows how far it rocks, takes what
the functions miss with it. Orders that no turn leaves unstrained keep theirs: it is 1e-5 of their frequencies.
"""

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.shell.numbering import B

MIDDLE_B = 3 * B + 2  # among local functions


def rocking(r: Array, z: Array, t_r: Array) -> Array:
    """By the local functions (15, E), of nodes (3, E) at (r, z) in m with tangents t_r, about the height of the middle
    one: a shift strains nothing but by rounding."""
    z = z - z[2]
    return np.concatenate((z, -z, -r, np.ones_like(r), -t_r))


def rocking_freely(found: Array, moved: Array, exact: Array | float = 0.0) -> Array:
    """What local functions make (C, F, E, Q) of m = 1, strains or turns, with what a rocking (F, E) by them misses of
    the `exact` (C, E, Q) made good."""
    found[:, MIDDLE_B] += exact - np.einsum("cfeq,fe->ceq", found, moved)
    return found
