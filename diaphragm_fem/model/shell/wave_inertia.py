"""Inertia of the bulge of an element: what takes the leading error out of bending waves on quadratic elements.

With b' at two points and w' + b held at the same two, a train of free bending waves of number k on quadratic elements
of length h comes out with omega^2 too high by (k h)^4/240, always the same part (found from the element's own
difference equations; the tests repeat it). An element knows w'' by the second difference of its nodes, d = begin -
2 middle + end = h^2 w''/4. Adding the inertia (mu h/15) d^2 lowers omega^2 by as much, so that on flat walls the error
falls with the sixth power of the length: at six elements per wavelength from 2e-3 of a frequency to 1e-4, for nothing.
Where a curved wall is held by its hoop as well, s of the stiffness being bending, -(k h)^4 s (1 - s)/240 is left over.
Rigid motions have no bulge on a straight element: total mass and its centre stay what they are. Compare the same idea
for stretching waves: Goudreau and Taylor, Comput. Methods Appl. Mech. Eng. 2 (1973) 69 (named from memory).
"""

from collections.abc import Sequence
from functools import cache

import numpy as np

from diaphragm_fem.arrays import Array

SHARE = 1 / 15
BULGE = np.array([1.0, 1.0, -2.0])  # of the nodes in local order: begin, end, middle


def wave_inertia(fields: Sequence[str], mass: Array) -> Array:
    """Element matrices (E, 3 F, 3 F) in kg for elements of the given mass (E,) in kg: bulges of u, v and w.

    Local functions run field by field, three nodes each.
    """
    return np.multiply.outer(SHARE * mass, _bulges(tuple(fields)))


@cache
def _bulges(fields: tuple[str, ...]) -> Array:
    moves = np.diag([float(field in ("u", "v", "w")) for field in fields])
    return np.asarray(np.kron(moves, np.outer(BULGE, BULGE)), float)
