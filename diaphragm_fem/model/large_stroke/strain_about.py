"""Strains of a small motion of order m about a bent meridian, to first and to second order.

The motion: displacement (u, v, w), director turned by b in the meridian plane and by q about the meridian, and a turn
omega about the director, which the wall takes of itself so that both shear components of the stretch tensor are equal
(polar decomposition). The drawn state gives the strains of `shell.strain` exactly. All are those of the line that
moves; a wall aside from it has there what its own middle has, less `aside` times the bending, and turns about its
director by itself.
"""

from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.large_stroke.bent_meridian import BentMeridian
from diaphragm_fem.model.shell.line import LinePoints
from diaphragm_fem.model.shell.numbering import living
from diaphragm_fem.model.shell.rocking import rocking_freely
from diaphragm_fem.model.shell.strain import Field, local_field, stacked

TURNS = ("b", "q", "omega", "along'", "across'", "v'", "y_t", "y_n", "q'")


class SmallMotion(NamedTuple):
    """Strains (8) to first order, and the turns and slopes (9, see TURNS) whose products make the second order."""

    strains: list[Array | float]
    turns: list[Array | float]


def small_motion(x: Field, dx: Field, state: BentMeridian, m: int) -> SmallMotion:
    """Small motion of fields x with derivatives dx = dx/ds about a state; for m = 0 leave v and q absent.

    With t = (cos psi, sin psi), n = (-sin psi, cos psi), a the stretch, g the shear, R and r the drawn and the present
    radius, along' = t.(u', w'), across' = n.(u', w'):
        y_t = -[(m u + v) cos psi + m w sin psi]/R      y_n = [(m u + v) sin psi - m w cos psi]/R
        omega = (v' - g q - y_t)/(a + r/R), of a wall aside by its own v', y_t, a and r
        e_s  = along' - g b       e_th = (u + m v)/R     g_sth = v' - a omega - g q + y_t + omega r/R
        k_s  = b'                 k_th = (cos psi b + m q)/R
        k_sth = q' + psi' omega - (m b + q cos psi + omega sin psi)/R
        g_sn = across' + a b      g_thn = y_n + q r/R
    """
    r, cos, sin, a, g = state.drawn.r, state.cos, state.sin, state.stretch, state.shear
    along, across = cos * dx.u + sin * dx.w, cos * dx.w - sin * dx.u
    y_t = -((m * x.u + x.v) * cos + m * x.w * sin) / r
    y_n = ((m * x.u + x.v) * sin - m * x.w * cos) / r
    around = dx.v + state.aside * (dx.q + (m * x.b + cos * x.q) / r)
    omega = (around - g * x.q - y_t) / (a + state.hoop - state.aside * (state.turn + sin / r))
    strains = [
        along - g * x.b,
        (x.u + m * x.v) / r,
        dx.v - a * omega - g * x.q + y_t + state.hoop * omega,
        dx.b,
        (cos * x.b + m * x.q) / r,
        dx.q + state.turn * omega - (m * x.b + cos * x.q + sin * omega) / r,
        across + a * x.b,
        y_n + state.hoop * x.q,
    ]
    return SmallMotion(strains, [x.b, x.q, omega, along, across, dx.v, y_t, y_n, dx.q])


def second_order(state: BentMeridian, stress: Array, m: int) -> Array:
    """Symmetric form G (9, 9, E, Q) of the second-order strains: stress . strain2 = turns^T G turns / 2.

    stress (8, E, Q) holds the state's N_s, N_th, 0, M_s, M_th, 0, Q, 0. With the symbols of `small_motion`
        e_s2  = -b across' + omega v' - g q omega - a (b^2 + omega^2)/2
        g_sn2 = b along' + q v' - g (b^2 + q^2)/2
        e_th2 = -q y_n - omega y_t - (r/R) (q^2 + omega^2)/2
        k_s2  = omega q' + psi' (q^2 + omega^2)/2
        k_th2 = [m b omega + q omega cos psi + sin psi (b^2 + omega^2)/2]/R
    from the rotation exp(b, q) exp(omega), the turn about the director first.
    """
    n_s, n_th, m_s, m_th, shear = stress[0], stress[1], stress[3], stress[4], stress[6]
    m_r = m_th / state.drawn.r
    a, g, hoop = state.stretch, state.shear, state.hoop
    form = np.zeros((len(TURNS), len(TURNS), *state.radius.shape))
    b, q, omega, along, across, dv, y_t, y_n, dq = range(len(TURNS))
    form[b, b] = -a * n_s - g * shear + m_r * state.sin
    form[q, q] = -g * shear - hoop * n_th + state.turn * m_s
    form[omega, omega] = -a * n_s - hoop * n_th + state.turn * m_s + m_r * state.sin
    for first, second, value in (
        (b, across, -n_s),
        (b, along, shear),
        (b, omega, m * m_r),
        (q, omega, -g * n_s + m_r * state.cos),
        (q, dv, shear),
        (q, y_n, -n_th),
        (omega, dv, n_s),
        (omega, y_t, -n_th),
        (omega, dq, m_s),
    ):
        form[first, second] = form[second, first] = value
    return form


def forms_about(state: BentMeridian, points: LinePoints, m: int, rocking: Array | None = None) -> tuple[Array, Array]:
    """Strains (8, F, E, Q) and turns (9, F, E, Q) of the local functions of order m about a state; of m = 1 these rock
    freely, where `rocking` (F, E) by them is given."""
    fields, shape = living(m), state.radius.shape
    found = small_motion(local_field(points.shape, fields), local_field(points.slope, fields), state, m)
    strained, turned = (stacked(rows, points.shape, fields) for rows in found)
    if rocking is not None:
        x = Field(0.0, 0.0, -state.radius, 1.0, -state.cos)  # u + v = 0, and neither counts by itself
        dx = Field(state.slope_z, -state.slope_z, -state.slope_r, 0.0, state.sin * state.turn)
        for rows, exact in zip((strained, turned), small_motion(x, dx, state, m), strict=True):
            rocking_freely(rows, rocking, np.stack([np.broadcast_to(row, shape) for row in exact]))
    return strained, turned
