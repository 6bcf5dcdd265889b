"""The strains of a shell of revolution for circumferential order m, as they stand in the textbooks.

Sources: Kraus, Thin Elastic Shells (1967), ch. 2; Budiansky and Sanders (1963) and Koiter (1960) for the twist. (Named
from memory; the tests check the equations against closed forms and tables.)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array

STRAINS = ("e_s", "e_th", "g_sth", "k_s", "k_th", "k_sth", "g_sn", "g_thn")


class Field(NamedTuple):
    """The five unknowns, or their derivatives along s, at points; a plain 0.0 stands for an absent one."""

    u: Array | float = 0.0
    v: Array | float = 0.0
    w: Array | float = 0.0
    b: Array | float = 0.0
    q: Array | float = 0.0


def local_field(functions: Array, fields: Sequence[str]) -> Field:
    """Local functions (F, E, Q), or their slopes, as a field (F times fields, E, Q): they run field by field, each on
    its own functions and on none of the others."""
    values = np.zeros((len(fields), len(fields), *functions.shape))
    values[np.arange(len(fields)), np.arange(len(fields))] = functions
    flat = values.reshape(len(fields), -1, *functions.shape[1:])
    return Field(**dict(zip(fields, flat, strict=True)))


def stacked(rows: Sequence[Array | float], functions: Array, fields: Sequence[str]) -> Array:
    """What was made of such a field, (rows, F times fields, E, Q)."""
    found = np.empty((len(rows), len(functions) * len(fields), *functions.shape[1:]))
    for own, row in zip(found, rows, strict=True):
        own[:] = row
    return found


@dataclass(frozen=True)
class Geometry:
    """Meridian data at points (E, Q): radius r in m, tangent (t_r, t_z), curvature kappa in 1/m.

    fraction is the place along the piece, 0...1; weight the quadrature weight times ds in m.
    """

    r: Array
    t_r: Array
    t_z: Array
    kappa: Array
    fraction: Array
    weight: Array


def strains(x: Field, dx: Field, at: Geometry, m: int) -> list[Array | float]:
    """Eight strains (see STRAINS) of the fields x with derivatives dx = dx/ds for order m.

    With u_s = t.(u, w), u_n = n.(u, w), n = (-t_z, t_r) and the rotation about the normal
    omega = (v' + t_r v/r + m u_s/r)/2:
        e_s  = t_r u' + t_z w'          e_th = (u + m v)/r        g_sth = v' - t_r v/r - m u_s/r
        k_s  = b'                       k_th = (t_r b + m q)/r
        k_sth = q' - t_r q/r - m b/r + (kappa - t_z/r) omega
        g_sn = -t_z u' + t_r w' + b     g_thn = q - m u_n/r + t_z v/r
    The last term of k_sth makes a rigid turn about the axis free of strain; without it the twist of joined cones
    and cylinders is wrong in the order of thickness over radius.
    """
    r, t_r, t_z = at.r, at.t_r, at.t_z
    along = t_r * x.u + t_z * x.w
    across = -t_z * x.u + t_r * x.w
    about_normal = (dx.v + t_r * x.v / r + m * along / r) / 2
    return [
        t_r * dx.u + t_z * dx.w,
        (x.u + m * x.v) / r,
        dx.v - t_r * x.v / r - m * along / r,
        dx.b,
        (t_r * x.b + m * x.q) / r,
        dx.q - t_r * x.q / r - m * x.b / r + (at.kappa - t_z / r) * about_normal,
        -t_z * dx.u + t_r * dx.w + x.b,
        x.q - m * across / r + t_z * x.v / r,
    ]


def strains_aside(x: Field, dx: Field, at: Geometry, m: int, aside: Array) -> list[Array | float]:
    """The same of walls that stand `aside` (E, 1) in m from the line whose motions the fields are: of cylinders, for
    that is what formers are.

    Their own middle moves by v + a q, w + a t_z b, and what the line is strained by itself is that less a times the
    bending. Taken with the line's own motions at the wall's radius, g_sth and g_thn were off by a/r of the turns: a
    free metal dome with its former beside the drive circle rocked at 28 Hz.
    """
    if not aside.any():
        return strains(x, dx, at, m)
    lever = aside * at.t_z
    x, dx = (y._replace(v=y.v + aside * y.q, w=y.w + lever * y.b) for y in (x, dx))
    found = strains(x, dx, at, m)
    return [*(e - aside * k for e, k in zip(found[:3], found[3:6], strict=True)), *found[3:]]
