"""The meridian in a state of large stroke: where each point went, how its director turned, how the wall is strained.

A one-director shell of revolution, exact in displacement and rotation; only the law of the wall is linear.
Sources: Reissner, J. Math. Phys. 50 (1972) and Simo and Fox, Comput. Methods Appl. Mech. Eng. 72 (1989) 267 for the
kinematics (named from memory; the tests check the equations against closed forms and published problems).
"""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.shell.strain import STRAINS, Field, Geometry


@dataclass(frozen=True)
class BentMeridian:
    """A state at points (E, Q); derivatives go by the arc length s of the drawn meridian.

    radius r = R + u in m over the drawn radius R; cos, sin of the director's angle psi; slope_r = r', slope_z = z';
    stretch a = r' cos psi + z' sin psi; shear g = -r' sin psi + z' cos psi; turn psi' in 1/m. A wall that stands
    `aside` (E, 1) in m from the line whose motions are told, as a former may, has these of its own middle.
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

        Of the wall's own middle e_s = a - 1, e_th = u/R, k_s = phi' - psi', k_th = (sin phi - sin psi)/R, g_sn = g,
        with phi the drawn angle; of the line e less `aside` times k.
        """
        rows = np.zeros((len(STRAINS), *self.radius.shape))
        rows[0] = self.stretch - 1
        rows[1] = self.hoop - 1
        rows[3] = self.drawn.kappa - self.turn
        rows[4] = (self.drawn.t_z - self.sin) / self.drawn.r
        rows[6] = self.shear
        rows[:2] -= self.aside * rows[3:5]
        return rows


def bend(x: Field, dx: Field, at: Geometry, aside: Array | float = 0.0) -> BentMeridian:
    """The state of fields x = (u, w, b) with derivatives dx along the drawn meridian `at` of a wall `aside` from it.

    psi = phi - b: the shell's rotation b turns the director clockwise.
    """
    turned_cos, turned_sin = np.cos(x.b), np.sin(x.b)
    cos = at.t_r * turned_cos + at.t_z * turned_sin
    sin = at.t_z * turned_cos - at.t_r * turned_sin
    turn = at.kappa - dx.b
    out, slope_r = aside * (at.t_z - sin), at.t_r + dx.u + aside * (at.kappa * at.t_r - turn * cos)
    slope_z = at.t_z + dx.w + aside * (at.kappa * at.t_z - turn * sin)
    stretch, shear = slope_r * cos + slope_z * sin, slope_z * cos - slope_r * sin
    return BentMeridian(at, at.r + x.u + out, cos, sin, slope_r, slope_z, stretch, shear, turn, aside)


def still(at: Geometry) -> BentMeridian:
    """The drawn meridian as a state."""
    none = np.zeros_like(at.r)
    return BentMeridian(at, at.r, at.t_r, at.t_z, at.t_r, at.t_z, none + 1, none, at.kappa)
