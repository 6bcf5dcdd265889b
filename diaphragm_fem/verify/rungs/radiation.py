"""Faces that radiate from a baffle: pistons, rings and profiles against closed forms, limits of curved ones."""

from collections.abc import Callable
from functools import lru_cache, partial
from math import factorial
from typing import Any

import numpy as np
from scipy.special import jv

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.load.face_patterns import FacePatterns, face_patterns, face_rule
from diaphragm_fem.load.radiation import OpenAir
from diaphragm_fem.mesh.open_contour import OpenContour
from diaphragm_fem.mesh.open_section import cut_open_section
from diaphragm_fem.model.air.open_air import AirModes, air_fields, air_modes
from diaphragm_fem.model.air.spherical_waves import log_slope
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.rungs.air_parts import AIR, RHO_C
from diaphragm_fem.verify.tables import Table, cases, column, phasor, rows

check = partial(Check, rung="radiation", model="load")
FINE = 6.0  # mesh that takes a flat face to 1e-6
KING = "King's integral, Beranek and Mellow, Acoustics; ring: Thompson (1971), from memory"
Velocity = Callable[[Array], Array]


def evenly(place: Array) -> Array:
    return np.ones_like(place)


def flat(inner: float = 0.0) -> OpenContour:
    """A flat ring, or disc, of outer radius 1 m."""
    return OpenContour((Line((0.0, 0.0), (inner, 0.0)),) if inner else (), (Line((inner, 0.0), (1.0, 0.0)),))


def cap(height: float) -> OpenContour:
    """A spherical cap over a base radius of 1 m, hollow where the height in m is below zero."""
    radius, way = (1 + height**2) / (2 * abs(height)), np.sign(height)
    half = float(np.arctan2(1, radius - abs(height)))
    centre = (0.0, float(height - way * radius))
    return OpenContour((), (Arc(centre, radius, float(way * np.pi / 2), float(-way * half)),))


def along_axis(curve: Curve, place: Array) -> Array:
    """Normal velocity of a face of one curve that moves along the axis with 1 m/s."""
    return np.asarray(curve.tangent(place)[..., 0])


V = OpenContour((Line((0.0, 0.0), (0.42, 0.0)),), (Line((0.42, 0.0), (0.75, -0.3)), Line((0.75, -0.3), (1.0, 0.0))))


def v_velocity(place: Array) -> Array:
    inner, outer = V.face
    return np.where(place < inner.length, inner.tangent(0.0)[0], outer.tangent(0.0)[0])


@lru_cache(maxsize=32)
def air_of(contour: OpenContour, top: float, refine: float, count: int) -> OpenAir:
    patterns = face_patterns(contour, count)
    return OpenAir(contour, patterns, air_modes(cut_open_section(contour, top, refine), patterns, top))


def motion(patterns: FacePatterns, contour: OpenContour, velocity: Velocity) -> Array:
    """Generalised velocity (N,) of a normal velocity in m/s along the face."""
    place, weight = face_rule(contour, 60)
    return np.asarray(patterns(place).T @ (weight * velocity(place)))


def impedance(contour: OpenContour, velocity: Velocity, ka: Array, refine: float, count: int = 20) -> Complex:
    """(integral of p v dS) over rho c (F,) in m2."""
    air = air_of(contour, float(ka.max()), refine, count)
    c = motion(air.patterns, contour, velocity)
    return np.asarray(1j * ka * (air.modes.at(ka)[0] @ c @ c))


def spread(
    contour: OpenContour, velocity: Velocity, ka: Array, refine: float, distance: float, angle: Array
) -> Complex:
    """p over rho c (F, A) at a distance in m; r p for an infinite one."""
    air = air_of(contour, float(ka.max()), refine, 20)
    frequency = ka * AIR.sound_speed / (2 * np.pi)
    moved = motion(air.patterns, contour, velocity) / (2j * np.pi * frequency[:, None])
    return air.pressure(AIR, frequency, air.waves(AIR, frequency, moved), distance, angle) / RHO_C


def printed(table: Table) -> Complex:
    """The impedance of a table over rho c and area."""
    return column(table, "R") + 1j * column(table, "X")


def _ring(ratio: str, table: Table) -> Check:
    inner = float(ratio)
    area = np.pi * (1 - inner**2)
    return check(
        f"radiation/ring-{ratio}" if inner else "radiation/piston",
        f"rigid ring of radius ratio {ratio} in a baffle" if inner else "rigid piston in a baffle",
        "impedance, complex",
        KING,
        1e-6,
        "elements of the finest mesh; eight digits in the table",
        lambda: (printed(table) * area, impedance(flat(inner), evenly, column(table, "ka"), FINE)),
    )


def _profile(n: int, table: Table) -> Check:
    return check(
        f"radiation/profile-{n}",
        f"velocity (1 - (r/a)^2)^{n} in a baffle",
        "impedance, complex",
        "power series and King's integral; problem of Greenspan (1979) and of Aarts and Janssen (2009)",
        1e-5,
        "elements at ka = 20",
        lambda: (printed(table) * np.pi, impedance(flat(), lambda s: (1 - s**2) ** n, column(table, "ka"), 2.0)),
    )


def pressure_inside(fields: tuple[AirModes, Any, Array], k: Array, points: Array) -> Complex:
    """As `AirModes.at`, at points (P, 2) of (r, z) in m between face and sphere: (F, P, N), per i omega rho; fields:
    as `air_fields` gives them."""
    air, basis, span = fields
    slope = log_slope(int(air.order[-1]), k * air.radius)[:, air.order]
    added = k[:, None] * slope + air.stand_in
    driven = air.push + air.moments @ (added[:, :, None] * air.at(k)[1])
    read = _values_at(basis, points, span)
    return np.asarray(read @ (driven / (air.squares - k[:, None] ** 2)[:, :, None]))


def _values_at(basis, points: Array, fields: Array) -> Array:  # type: ignore[no-untyped-def]
    """Values (P, m) of fields (n, m) at points (P, 2), each in the triangle that holds it, or the nearest one."""
    element, places = basis.mesh.elem(), basis.mesh.doflocs[:, basis.mesh.dofs.element_dofs]
    a, b, c = (places[:, i, None] for i in range(3))
    step = points.T[:, :, None] - a

    def cross(u: Array, v: Array) -> Array:
        return np.asarray(u[0] * v[1] - u[1] * v[0])

    x, y = cross(step, c - a) / cross(b - a, c - a), cross(b - a, step) / cross(b - a, c - a)
    cell = np.argmax(np.minimum(np.minimum(x, y), 1 - x - y), axis=1)
    row = np.arange(len(points))
    at = np.stack((x[row, cell], y[row, cell]))
    for _ in range(6):  # of Newton's method: a straight triangle takes one
        shape, slope = zip(*(element.lbasis(at, i) for i in range(6)), strict=True)
        off = points.T - np.einsum("ip,cip->cp", np.array(shape), places[:, :, cell])
        jacobian = np.einsum("idp,cip->pcd", np.array(slope), places[:, :, cell])
        at = at + np.linalg.solve(jacobian, off.T[..., None])[..., 0].T
    dofs = basis.element_dofs[:, cell]
    value = np.array([basis.elem.lbasis(at, i)[0] for i in range(len(dofs))])
    return np.asarray(np.einsum("ip,ipm->pm", value, fields[dofs]))


def field_of_piston(table: Table, refine: float) -> Complex:
    """p over rho c U at the table's points: within the hemisphere from the elements, beyond it from the harmonics."""
    air, found = air_of(flat(), 20.0, refine, 20), []
    fields = air_fields(cut_open_section(flat(), 20.0, refine), air.patterns, 20.0)
    for row in table:
        ka, point = np.array([float(row["ka"])]), np.array([float(row["r_over_a"]), float(row["z_over_a"])])
        far = float(np.hypot(*point))
        if far < air.nearest:
            at = 1j * ka * pressure_inside(fields, ka, point[None])[0] @ motion(air.patterns, flat(), evenly)
        else:
            at = spread(flat(), evenly, ka, refine, far, np.arctan2(*point)[None])[0]
        found.append(complex(at[0]))
    return np.array(found)


def _field() -> list[Check]:
    table, ka, x = rows("radiation_field"), 16.0, np.array((0.5, 1.0, 2.0, 3.0, 3.8317, 5.0, 7.0, 10.0, 15.0))

    def over_axis(n: int) -> Array:
        angle = np.arcsin(np.append(0.0, x / ka))
        far = spread(flat(), lambda s: (1 - s**2) ** n, np.array([ka]), 2.0, np.inf, angle)[0]
        return np.asarray((far[1:] / far[0]).real)

    def directivity() -> Pair:
        orders = range(3)
        exact = [2 ** (n + 1) * factorial(n + 1) * jv(n + 1, x) / x ** (n + 1) for n in orders]
        return np.array(exact), np.array([over_axis(n) for n in orders])

    return [
        check(
            "radiation/field",
            "rigid piston in a baffle, ka 1 to 20, on and off the axis, near and far",
            "pressure, complex",
            "closed form on the axis, else Rayleigh's integral; King's integral agrees to 6e-13",
            1e-4,
            "elements at ka = 20",
            lambda: (phasor(table, "p"), field_of_piston(table, 2.0)),
            scale="largest",
        ),
        check(
            "radiation/directivity",
            "velocities (1 - (r/a)^2)^n, n = 0 to 2, far away, ka = 16",
            "pressure over that on the axis",
            "Sonine's integral: 2^(n+1) (n+1)! J_(n+1)(x)/x^(n+1), x = ka sin(theta), evaluated here",
            1e-4,
            "elements at ka = 16",
            directivity,
            scale="largest",
        ),
    ]


def power_by_both(face: OpenContour, velocity: Velocity, ka: Array) -> tuple[Array, Array]:
    """Power over rho c that the face gives and that the far field carries, for 1 m/s."""
    air = air_of(face, float(ka.max()), 1.0, 28)
    frequency = ka * AIR.sound_speed / (2 * np.pi)
    moved = motion(air.patterns, face, velocity) / (2j * np.pi * frequency[:, None])
    given = impedance(face, velocity, ka, 1.0, 28).real / 2
    return given, air.power(AIR, frequency, air.waves(AIR, frequency, moved)) / RHO_C


def _limits() -> list[Check]:
    ka = np.array([0.5, 1.0, 2.0, 5.0, 8.0])
    table = cases("radiation_rings", "b_over_a")[("0",)]
    nearly = cap(1e-4)
    velocity = partial(along_axis, nearly.face[0])
    small = np.array([1e-3])

    def balance() -> Pair:
        dome = cap(1.0)
        faces: list[tuple[OpenContour, Velocity]] = [(V, v_velocity), (dome, partial(along_axis, dome.face[0]))]
        given, carried = zip(*(power_by_both(face, velocity, ka) for face, velocity in faces), strict=True)
        return np.concatenate(given), np.concatenate(carried)

    return [
        check(
            "radiation/flat-limit",
            "dome of a height of 1e-4 radii, against the flat piston",
            "impedance, complex",
            KING,
            3e-4,
            "the height itself: 1e-4 of the radius",
            lambda: (printed(table) * np.pi, impedance(nearly, velocity, column(table, "ka"), 2.0)),
        ),
        check(
            "radiation/mass-of-air",
            "rigid piston in a baffle, far below ka = 1",
            "mass of air on one side over its area, over rho a",
            "8/(3 pi), the low-frequency limit (Beranek and Mellow, Acoustics)",
            1e-6,
            "ka = 0.001 and elements of the finest mesh",
            lambda: (np.array([8 / (3 * np.pi)]), impedance(flat(), evenly, small, FINE).imag / small / np.pi),
        ),
        check(
            "radiation/power-balance",
            "V recess and hemispherical dome, rigid, ka 0.5 to 8",
            "power through the half space, against what the face gives",
            "conservation of energy in lossless air",
            1e-10,
            "the elements conserve energy exactly: rounding",
            balance,
        ),
    ]


def checks() -> list[Check]:
    """Closed forms of flat faces, and limits."""
    return [
        *(_ring(ratio, table) for (ratio,), table in cases("radiation_rings", "b_over_a").items()),
        *(_profile(int(n), table) for (n,), table in cases("radiation_profiles", "n").items()),
        *_field(),
        *_limits(),
    ]
