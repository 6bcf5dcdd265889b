"""Effective area in its limits: low frequency, one rigid body, single modes."""

from functools import partial

import numpy as np

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.analysis.solution import solve_area
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.verify.bench import EDGES, GUIDED, RADIUS, disc, part, piece, plate_scale, shell_system, substance
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references import plates, statics
from diaphragm_fem.verify.references.driven_plates import rim_driven_shape
from diaphragm_fem.verify.rungs.areas import THIN, WHOLE
from diaphragm_fem.verify.rungs.joined import stepped_v

check = partial(Check, rung="effective area")


def _surround() -> Check:
    def values() -> Pair:
        exact, found = [], []
        for b in (0.5, 0.8, 0.9):
            at_rest = statics.plate_at_rest("C", "G", b, ring=(b, 1.0))
            exact.append(b**2 + at_rest.volume / at_rest.at_load / np.pi)
            rigid = substance(E=70e15, name="rigid")
            walls = [
                piece(Line((0.0, 0.0), (b * RADIUS, 0.0)), THIN * RADIUS, rigid, Zone("disc", Role.DRIVEN)),
                piece(Line((b * RADIUS, 0.0), (RADIUS, 0.0)), THIN * RADIUS, None, Zone("surround", Role.SURROUND)),
            ]
            structure = shell_system(part("disc in a surround", walls, None, CLAMPED, 1), 0, 500.0, 2)
            found.append(solve_area(structure, [1.0], absolute=False).low.sum())
        return np.array(exact), np.array(found) / WHOLE

    return check(
        id="area/surround",
        problem="rigid disc in a flat soft surround, b/a = 0.5, 0.8, 0.9, in the limit of low frequency",
        quantity="S/(pi a^2)",
        source="annular plate with a sliding inner edge, Timoshenko and Woinowsky-Krieger (1959), ch. 3; it tends to "
        "Pappus' pi/3 (R1^2 + R1 R2 + R2^2) as the surround narrows",
        allowed=3e-4,
        reason="shear in a surround only 200 walls wide: 1.5e-4",
        values=values,
    )


def _projection() -> Check:
    return check(
        id="area/projection",
        problem="stepped V with two half-rolls moving as one body",
        quantity="swept area (m2)",
        source="projected area (Pappus): pi (R2^2 - R1^2)",
        allowed=1e-8,
        reason="exact but for the quadrature on the rolls",
        values=lambda: (
            np.array([np.pi * ((1.15 * RADIUS) ** 2 - (0.45 * RADIUS) ** 2)]),
            np.array([shell_system(stepped_v(), 0, 10e3, 2).zone_area.sum()]),
        ),
    )


def _modal() -> Check:
    b = 0.002

    def values() -> Pair:
        found = []
        for edge in "CS":
            walls = [piece(Line((x * RADIUS, 0.0), (y * RADIUS, 0.0)), THIN * RADIUS) for x, y in ((0.0, b), (b, 1.0))]
            design = part("disc with a small coil", walls, None, EDGES[edge], 1)
            top = 1.05 * float(plates.circular_plate(edge, 0, 3)[-1]) * plate_scale(THIN)
            found.append(solve_modes(shell_system(design, 0, top, 4), top).modal_area[:3])
        exact = [[plates.mode_mean_over_centre(edge, i) for i in (1, 2, 3)] for edge in "CS"]
        return np.array(exact), np.array(found) / WHOLE

    return check(
        id="area/modal",
        problem="circular plates with clamped and supported rim, coil at the centre, modes 1...3 of m = 0",
        quantity="modal area/(pi a^2)",
        source="mean over centre of J_0 + c I_0, closed form",
        allowed=5e-4,
        reason="the coil is a circle of radius 0.002 a: 1e-4",
        values=values,
    )


def _swept_in_total() -> Check:
    """S_abs, the area that counts motion both ways, from the closed shape by Gauss quadrature."""
    eta, ratios = 0.05, np.array((2.0, 8.0, 12.0, 20.0, 35.0, 60.0))
    design = disc(GUIDED, THIN, material=substance(eta=eta), joint=1)

    def values() -> Pair:
        x, weight = np.polynomial.legendre.leggauss(400)
        r, weight = (x + 1) / 2, weight / 2
        frequency = ratios * plate_scale(THIN)
        absolute = solve_area(shell_system(design, 0, 1.1 * float(frequency.max()), 4), frequency).absolute
        assert absolute is not None
        exact = [2 * (weight * r * np.abs(rim_driven_shape(r, ratio, eta))).sum() for ratio in ratios]
        return np.array(exact), absolute / WHOLE

    return check(
        id="area/absolute",
        problem="flat disc driven at its rim, slope held, loss factor 0.05: area swept in total, six frequencies",
        quantity="integral of |v| over the face/(pi a^2 v_rim)",
        source="closed shape in J and I, Gauss quadrature of its size",
        allowed=1e-3,
        reason="the nodes' rule integrates the kinks of |v| at nodal circles only to second order",
        values=values,
    )


def checks() -> list[Check]:
    """Low frequency, rigid body, modal areas, the area swept in total."""
    return [_surround(), _projection(), _modal(), _swept_in_total()]
