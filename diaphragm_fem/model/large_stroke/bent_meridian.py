"""The meridian in a state of large stroke: where each point went, how its director turned, how the wall is strained.

A one-director shell of revolution, exact in displacement and rotation; only the law of the wall is linear.
Sources: Reissner, J. Math. Phys. 50 (1972) and Simo and Fox, Comput. Methods Appl. Mech. Eng. 72 (1989) 267 for the
kinematics (named from memory; the tests check the equations against closed forms and published problems).

A pressure follows the wall as it turns: its middle sweeps dV = r (r' dw - z' du) ds dtheta to the front.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.shell.line import LinePoints
from diaphragm_fem.model.shell.strain import STRAINS, Field, Geometry, local_field, stacked

MOTIONS = ("u", "v", "w", "u'", "w'")


@dataclass(frozen=True)
class BentMeridian:
    """A state at points (E, Q); derivatives go by the arc length s of the drawn meridian.

    radius r = R + u in m over the drawn radius R; cos, sin of the director's angle psi; slope_r = r', slope_z = z';
    stretch a = r' cos psi + z' sin psi; shear g = -r' sin psi + z' cos psi; turn psi' in 1/m. Of a wall that stands
    `aside` (E, 1) in m from the line that moves, as a former may, r is the line's, R that of the wall's own middle.
    """

    drawn: Geometry
    radius: Array
    cos: Array
    sin: Array
    slope_r: Array
    slope_z: Array
    stretch: Array
    shear: Array
    turn: Array
    aside: Array | float = 0.0

    @property
    def hoop(self) -> Array:
        """Hoop stretch r/R."""
        return self.radius / self.drawn.r

    @property
    def strain(self) -> Array:
        """Strains (8, E, Q) of the line, named as in `shell.strain`; those of twist and of shear around are zero.

        e_s = a - 1, e_th = u/R, k_s = phi' - psi', k_th = (sin phi - sin psi)/R, g_sn = g, with phi the drawn angle:
        those of the middle of a wall aside, a cylinder, less `aside` times k.
        """
        rows = np.zeros((len(STRAINS), *self.radius.shape))
        rows[0] = self.stretch - 1
        rows[1] = (self.radius - self.aside * self.drawn.t_z) / self.drawn.r - 1
        rows[3] = self.drawn.kappa - self.turn
        rows[4] = (self.drawn.t_z - self.sin) / self.drawn.r
        rows[6] = self.shear
        return rows


def bend(x: Field, dx: Field, at: Geometry, aside: Array | float = 0.0) -> BentMeridian:
    """The state of fields x = (u, w, b) with derivatives dx along the drawn meridian `at` of a wall `aside` from it.

    psi = phi - b: the shell's rotation b turns the director clockwise.
    """
    turned_cos, turned_sin = np.cos(x.b), np.sin(x.b)
    cos = at.t_r * turned_cos + at.t_z * turned_sin
    sin = at.t_z * turned_cos - at.t_r * turned_sin
    slope_r, slope_z = at.t_r + dx.u, at.t_z + dx.w
    stretch, shear = slope_r * cos + slope_z * sin, slope_z * cos - slope_r * sin
    radius = at.r + aside * at.t_z + x.u
    return BentMeridian(at, radius, cos, sin, slope_r, slope_z, stretch, shear, at.kappa - dx.b, aside)


def still(at: Geometry) -> BentMeridian:
    """The drawn meridian as a state."""
    none = np.zeros_like(at.r)
    return BentMeridian(at, at.r, at.t_r, at.t_z, at.t_r, at.t_z, none + 1, none, at.kappa)


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
