"""The mass of the air that moves to and fro behind a face in a rear chamber, and sweeps no net volume.

A spring alone has none. Yet such air flows from what recedes to what advances close by, whatever the chamber is like:
of each smooth pattern but the even one the mass in boxes half again as wide as the face is within 2 % of that before an
endless wall, in one that hugs the face within a quarter (boundary elements of straight V and soft dome; the even one's
is a fifth to four fifths of it, and follows from a chamber's depth: see `rear_chamber`). Without it zones of the
demonstrations left their coil 0.3 to 1.5 % too high, a step let go 1.9 % too high, and levels were off by up to 0.14 dB
rms below 5 kHz, 2 dB above.

Incompressible, between the face and a hard box `WIDE` times as wide and deep, by rings of even potential:

    sum over j of H_ij (phi_j - phi_i) = sum over j of G_ij q_j,   H_ij = 2 pi s ds dG/dn,   G = K(m)/(2 pi^2 sqrt(a)),
    a = (r + s)^2 + (z - t)^2,  m = 4 r s/a,  n out of the air,  q_j a ring's flow,  mass rho phi_i per flow q_j,

K the complete elliptic integral. Source: Green's identity; potential of a ring (Jackson, Classical Electrodynamics
(1975), from memory).
"""

from functools import lru_cache

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.shell.front_face import Face

WIDE = 1.5  # radius and depth of the box over the radius of the face
RINGS = 24  # of each of its walls


@lru_cache(maxsize=4)
def mass_behind(face: Face) -> Array:
    """(P, P) in 1/m: the mass over the air's density per volume that the points of a face sweep."""
    area = 2 * np.pi * face.point[:, 0] * face.length
    points, normal, length = _walls(face)
    faced = len(area)
    source, slope = _rings(points, normal, length)
    away = slope * 2 * np.pi * points[:, 0] * length
    np.fill_diagonal(away, 0.0)
    np.fill_diagonal(away, -away.sum(axis=1))
    share = area / area.sum()
    away[:, :faced] += share  # of the potentials, known but for a constant, the one without a mean on the face
    found = np.linalg.solve(away, source[:, :faced])[:faced]
    found -= (found @ share)[:, None]  # flows less the even one that sweeps as much
    found -= share @ found
    return np.asarray((found + found.T) / 2)


def _walls(face: Face) -> tuple[Array, Array, Array]:
    """Rings of the face and of the box: points (Q, 2) in m, normals out of the air (Q, 2), lengths (Q,) in m."""
    step = np.gradient(face.point, face.place, axis=0)
    normal = np.stack((-step[:, 1], step[:, 0]), axis=1) / np.linalg.norm(step, axis=1)[:, None]  # toward the front
    (inner, low), (outer, high) = face.point[[0, -1]]
    wide = WIDE * float(face.point[:, 0].max())
    deep = float(face.point[:, 1].min()) - wide
    corners = np.array([(0.0, low), (inner, low), (outer, high), (wide, high), (wide, deep), (0.0, deep)])
    points, normals, lengths = [face.point], [normal], [face.length]
    for k in (0, 2, 3, 4):
        begin, step = corners[k], corners[k + 1] - corners[k]
        whole = float(np.hypot(*step))
        if whole > face.length[0]:
            points.append(begin + (np.arange(RINGS)[:, None] + 0.5) / RINGS * step)
            normals.append(np.tile((-step[1] / whole, step[0] / whole), (RINGS, 1)))
            lengths.append(np.full(RINGS, whole / RINGS))
    return np.vstack(points), np.vstack(normals), np.concatenate(lengths)


def _rings(points: Array, normal: Array, length: Array) -> tuple[Array, Array]:
    """G (Q, Q) in 1/m of a ring at each point on each other, and dG/dn (Q, Q) in 1/m2 along the source's normal."""
    from scipy.special import ellipe, ellipkm1

    r, z = points[:, :1], points[:, 1:]
    s, t = r.T, z.T
    near = (r - s) ** 2 + (z - t) ** 2
    np.fill_diagonal(near, (np.exp(-1.5) * length) ** 2)  # its logarithm averaged over both ends within a length
    far = (r + s) ** 2 + (z - t) ** 2
    K, E = ellipkm1(near / far), ellipe(1 - near / far)
    across = ((r**2 - s**2 + (z - t) ** 2) / near * E - K) / (2 * s)
    scale = 1 / (2 * np.pi**2 * np.sqrt(far))
    return scale * K, scale * (across * normal[:, 0] + (z - t) / near * E * normal[:, 1])
