"""Domes, bowls and a V recess that radiate from a baffle, and a cap in a sphere: exact series and a second way."""

from functools import partial

import numpy as np

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.meridian.curve import Arc
from diaphragm_fem.load.face_patterns import face_patterns
from diaphragm_fem.load.radiation import OpenAir
from diaphragm_fem.mesh.open_contour import OpenContour
from diaphragm_fem.mesh.open_section import cut_open_section
from diaphragm_fem.model.air.open_air import air_modes
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.rungs import radiation
from diaphragm_fem.verify.rungs.air_parts import AIR, RHO_C
from diaphragm_fem.verify.tables import Table, cases, column, phasor, rows

ELEMENTS = "computed: separate elements of order 5, a second way 7e-5 apart or closer"
ANGLES = np.radians([0.0, 30.0, 60.0, 90.0])


def hemisphere(table: Table) -> Complex:
    """Impedance, then sizes of the pressure at the apex, at two and five radii, and far away."""
    ka, face = column(table, "ka"), radiation.cap(1.0)
    velocity = partial(radiation.along_axis, face.face[0])
    air = radiation.air_of(face, float(ka.max()), 1.0, 20)
    c = radiation.motion(air.patterns, face, velocity)
    apex = np.abs(1j * ka * (air.modes.at(ka)[0] @ c @ air.patterns(np.zeros(1))[0]))
    fields = [np.abs(radiation.spread(face, velocity, ka, 1.0, r, np.zeros(1))[:, 0]) for r in (2.0, 5.0, np.inf)]
    return np.concatenate((radiation.impedance(face, velocity, ka, 1.0) / np.pi, apex, *fields))


def _domes() -> list[Check]:
    sphere = rows("radiation_hemisphere")
    names = ("abs_p_apex", "abs_p_r2a", "abs_p_r5a", "farfield_r_abs_p_over_a")
    found = [
        radiation.check(
            "radiation/hemisphere",
            "rigid hemisphere in a baffle, ka 0.1 to 10",
            "impedance; sizes of the pressure at the apex, at two and five radii and far away",
            "exact series of a sphere, its mirror image",
            1e-3,
            "elements half again as long as the tool cuts them",
            lambda: (
                np.concatenate((radiation.printed(sphere), *(column(sphere, x) for x in names))),
                hemisphere(sphere),
            ),
        )
    ]
    for mesh, refine, loose in (("", 1.0, 1.0), ("-fine", 2.0, 0.2)):
        for (height,), table in cases("radiation_domes", "h_over_a").items():
            face, ka = radiation.cap(float(height)), column(table, "ka")
            shape = f"{'dome' if float(height) > 0 else 'bowl'}-{height.removeprefix('-')}{mesh}"
            found += _shape(shape, face, partial(radiation.along_axis, face.face[0]), table, ka, refine, loose, np.pi)
        table = rows("radiation_v_recess")
        ring = np.pi * (1 - 0.42**2)
        found += _shape(
            f"v-recess{mesh}", radiation.V, radiation.v_velocity, table, column(table, "ka"), refine, loose, ring
        )
    return found


def _shape(
    shape: str, face: OpenContour, velocity: radiation.Velocity, table: Table, ka: Array, refine: float,
    loose: float, area: float,
) -> list[Check]:  # fmt: skip
    what = f"rigid {shape.replace('-', ' ')}{' mesh' * (refine > 1)}, ka {ka.min():g} to {ka.max():g}, in a baffle"
    long = "half again" if refine == 1 else "three quarters"
    why = f"elements {long} as long as the tool cuts them"

    def far() -> Pair:
        exact = [column(table, name) for name in ("far_axis", "far_30", "far_60", "far_90")]
        return np.array(exact).T, np.abs(radiation.spread(face, velocity, ka, refine, np.inf, ANGLES))

    return [
        radiation.check(
            f"radiation/{shape}", what, "impedance, complex", ELEMENTS, 1e-3 * loose, why,
            lambda: (phasor(table, "Z") * area, radiation.impedance(face, velocity, ka, refine, 28)),
        ),
        radiation.check(
            f"radiation/{shape}-far", what, "size of the far pressure at 0, 30, 60, 90 degrees", ELEMENTS,
            2.3e-3 * loose, f"0.02 dB; {why}", far,
        ),
    ]  # fmt: skip


def cap_in_sphere(half: float, kr: Array) -> Complex:
    """Impedance over pi sin^2, then far pressure before and behind, of a cap that moves in a rigid sphere."""
    moving = Arc((0.0, 0.0), 1.0, np.pi / 2, -half)
    contour = OpenContour((), (moving,), (Arc((0.0, 0.0), 1.0, np.pi / 2 - half, half - np.pi),))
    patterns, top = face_patterns(contour, 12), float(kr.max())
    modes = air_modes(cut_open_section(contour, top, whole=True), patterns, top, whole=True)
    c = radiation.motion(patterns, contour, partial(radiation.along_axis, moving))
    frequency = kr * AIR.sound_speed / (2 * np.pi)
    air = OpenAir(contour, patterns, modes)
    moved = c / (2j * np.pi * frequency[:, None])
    far = air.pressure(AIR, frequency, air.waves(AIR, frequency, moved), np.inf, np.array([0.0, np.pi])) / RHO_C
    return np.concatenate((1j * kr * (modes.at(kr)[0] @ c @ c) / (np.pi * np.sin(half) ** 2), *np.abs(far).T))


def _cap(angle: str, table: Table) -> Check:
    def values() -> Pair:
        exact: Complex = np.concatenate((phasor(table, "Z"), column(table, "far_front"), column(table, "far_back")))
        return exact, cap_in_sphere(np.radians(float(angle)), column(table, "kR"))

    return radiation.check(
        f"radiation/cap-in-sphere-{angle}",
        f"cap of {angle} degrees that moves in a rigid sphere, full space: closure by all harmonics",
        "impedance; sizes of the far pressure before and behind",
        "exact series; problem of Aarts and Janssen, J. Acoust. Soc. Am. 127 (2010) 2262",
        1e-3,
        "elements half again as long as the tool cuts them",
        values,
    )


def checks() -> list[Check]:
    """Domes, bowls and recesses with two meshes each, and the closure in full space."""
    caps = cases("radiation_cap_in_sphere", "alpha_deg").items()
    return [*_domes(), *(_cap(angle, table) for (angle,), table in caps)]
