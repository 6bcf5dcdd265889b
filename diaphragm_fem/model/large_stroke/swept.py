"""How the volume that a bent meridian sweeps grows with its motion: a pressure on it follows the wall as it turns.

By the middle of walls, toward the front face: dV = r (r' dw - z' du) ds dtheta."""

from collections.abc import Sequence

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.large_stroke.bent_meridian import BentMeridian
from diaphragm_fem.model.shell.line import LinePoints
from diaphragm_fem.model.shell.strain import local_field, stacked

MOTIONS = ("u", "v", "w", "u'", "w'")


def motions(points: LinePoints, fields: Sequence[str]) -> Array:
    """The motions (5, F, E, Q) of the local functions."""
    x, dx = local_field(points.shape, fields), local_field(points.slope, fields)
    return stacked((x.u, x.v, x.w, dx.u, dx.w), points.shape, fields)


def rate_slope(state: BentMeridian) -> Array:
    """Derivative (5, 5, E, Q) of r (r' w - z' u) for m = 0: left index the motion swept, right the motion added.

    u (r' dw - z' du) + r (u' dw - w' du). It is symmetric, and the pressure has a potential, where the edges are held.
    """
    form = np.zeros((len(MOTIONS), len(MOTIONS), *state.radius.shape))
    u, _, w, du, dw = range(len(MOTIONS))
    form[w, u], form[u, u] = state.slope_r, -state.slope_z
    form[w, du], form[u, dw] = state.radius, -state.radius
    return form


def second_volume(state: BentMeridian, m: int) -> Array:
    """Symmetric form (5, 5, E, Q) of the volume to second order for any m: twice that volume = x^T form x.

    r (w u' - u w') - z' (u^2 + 2 m u v + v^2) + r' (w u + 2 m v w), from x . (x,s x r e_th + (r', z') x x,th); edges
    must be held, or lie on the axis.
    """
    form = np.zeros((len(MOTIONS), len(MOTIONS), *state.radius.shape))
    u, v, w, du, dw = range(len(MOTIONS))
    form[u, u] = form[v, v] = -state.slope_z
    for first, second, value in (
        (w, du, state.radius / 2),
        (u, dw, -state.radius / 2),
        (u, v, -m * state.slope_z),
        (w, u, state.slope_r / 2),
        (v, w, m * state.slope_r),
    ):
        form[first, second] = form[second, first] = value
    return form
