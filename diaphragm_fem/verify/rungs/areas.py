"""Effective radiating area: closed forms with and without loss, zone by zone, the independent Ritz solver, limits."""

from functools import partial
from itertools import pairwise

import numpy as np

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.analysis.solution import direct_area, solve_area
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.model.structure import Structure
from diaphragm_fem.verify.bench import (
    EDGES,
    GUIDED,
    RADIUS,
    disc,
    lossy,
    part,
    piece,
    plate_scale,
    shell_system,
    substance,
)
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references import plates, statics
from diaphragm_fem.verify.references.driven_plates import FlatRing, driven_plate, rim_driven_shape
from diaphragm_fem.verify.rungs.joined import RITZ, stepped_v
from diaphragm_fem.verify.second_solver import ritz, ritz_joint

THIN = 5e-4
area_check = partial(Check, rung="effective area")
check = partial(area_check, scale="largest")
WHOLE = np.pi * RADIUS**2
RATIOS = np.array((0.5, 2.0, 4.0, 6.0, 8.0, 9.5, 11.0, 14.0, 18.0, 25.0, 32.0, 38.0))  # omega a^2 sqrt(rho h/D)
FLANK = "a shift of 1e-5 of a resonance shows up to twenty times enlarged on its flank"
CHAIN = "chain of Kirchhoff rings, complex Bessel functions of Leissa (1969), ch. 2, solved here"


def _system(design: Design, frequency: Array, refine: int = 4) -> Structure:
    """The shell, cut for a little more than the highest frequency."""
    return shell_system(design, 0, 1.1 * float(frequency.max()), refine)


def _quick(design: Design, frequency: Array, refine: int = 4) -> Complex:
    """Whole area (F,) in m2 from the reduced curve."""
    return solve_area(_system(design, frequency, refine), frequency).total


def _driven_plate(b: float, c: float, inner: str, outer: str, eta: float) -> tuple[Design, list[FlatRing]]:
    """A flat annulus b < r < 1 (or disc, b = 0) driven at r = c."""
    h = THIN * RADIUS
    material = substance(eta=eta)
    bending = material.youngs_modulus * h**3 / 12 / (1 - material.poisson_ratio**2)
    borders = np.unique((b, c, 1.0)) * RADIUS
    walls = [piece(Line((x, 0.0), (y, 0.0)), h, material) for x, y in pairwise(borders.tolist())]
    flat = [FlatRing(x, y, bending, material.density * h, 0.3, eta) for x, y in pairwise(borders.tolist())]
    return part("driven plate", walls, EDGES[inner] if inner else None, EDGES[outer], 1 if b < c else 0), flat


def _driven(name: str, problem: str, b: float, c: float, inner: str, outer: str, eta: float = 0.03) -> Check:
    design, flat = _driven_plate(b, c, inner, outer, eta)
    frequency = (RATIOS if c == 1 else 2 * RATIOS) * plate_scale(THIN)

    def values() -> Pair:
        exact = driven_plate(flat, design.joint or 0, inner, outer, 2 * np.pi * frequency)
        return exact.effective_area / WHOLE, _quick(design, frequency) / WHOLE

    return check(
        id=f"area/{name}",
        problem=f"{problem}, loss factor {eta:g}, twelve frequencies",
        quantity="S/(pi a^2), complex",
        source=CHAIN,
        allowed=2e-4 if c == 1 else 5e-4,
        reason=FLANK,
        values=values,
    )


def _apparent_mass() -> Check:
    design, flat = _driven_plate(0.0, 1.0, "", "G", 0.05)
    frequency = RATIOS * plate_scale(THIN)
    mass = substance().density * THIN * RADIUS * WHOLE

    def values() -> Pair:
        exact = driven_plate(flat, 1, "", "G", 2 * np.pi * frequency)
        curve = solve_area(_system(design, frequency), frequency)
        return exact.effective_area / WHOLE, -curve.coil_force / ((2 * np.pi * frequency) ** 2 * mass)

    return check(
        id="area/apparent-mass",
        problem="disc driven at its rim, slope held, loss factor 0.05: apparent mass at the rim over total mass",
        quantity="force/(-omega^2 m) per motion, complex",
        source="momentum balance: equal to S/(pi a^2) for a flat uniform plate, by the " + CHAIN,
        allowed=2e-4,
        reason=FLANK,
        values=values,
    )


def flat_stepped() -> tuple[Design, list[FlatRing]]:
    """Flat disc in four zones of different films, driven at half its radius."""
    zones = (
        Zone("centre", Role.DRIVEN),
        Zone("driven", Role.DRIVEN),
        Zone("step", Role.STEP, "outer", 1),
        Zone("beyond", Role.BEYOND, "outer", 1),
    )
    stiff, soft, light = (0.3, 70e9, 2700.0, 0.01, 1.0), (0.4, 2e9, 1200.0, 0.1, 0.5), (0.35, 5e9, 1400.0, 0.04, 1.2)
    walls, flat = [], []
    borders = pairwise((0.0, 0.5, 0.62, 0.68, 1.0))
    for zone, (a, b), data in zip(zones, borders, (stiff, stiff, soft, light), strict=True):
        nu, young, rho, eta, thickness = data
        h = THIN * RADIUS * thickness
        film = substance(nu, young, rho, eta, f"film of {zone.name}")
        walls.append(piece(Line((a * RADIUS, 0.0), (b * RADIUS, 0.0)), h, film, zone))
        flat.append(FlatRing(a * RADIUS, b * RADIUS, young * h**3 / 12 / (1 - nu**2), rho * h, nu, eta))
    return part("flat stepped disc", walls, None, FREE, 1), flat


def _zones() -> Check:
    design, flat = flat_stepped()
    frequency = np.geomspace(0.2, 30.0, 25) * plate_scale(THIN)

    def values() -> Pair:
        exact = driven_plate(flat, 1, "", "F", 2 * np.pi * frequency).volume.T
        return exact / WHOLE, solve_area(_system(design, frequency), frequency).zone / WHOLE

    return check(
        id="area/zones",
        problem="flat disc with a soft decoupling step, four zones of different films and losses, 25 frequencies",
        quantity="S of each zone/(pi a^2), complex",
        source=CHAIN,
        allowed=1e-3,
        reason=FLANK,
        values=values,
    )


def _stepped_v() -> Check:
    design = lossy(stepped_v())
    frequency = np.geomspace(50.0, 8e3, 30)

    def values() -> Pair:
        exact = ritz(design, 0, "shear").effective_area(ritz_joint(design), 2 * np.pi * frequency)
        return exact.sum(axis=1) / WHOLE, _quick(design, frequency, 2) / WHOLE

    return check(
        id="area/stepped-v",
        problem="stepped V with two half-rolls and a ring, loss factor 0.05, 30 frequencies from 50 Hz to 8 kHz",
        quantity="S/(pi R^2), complex",
        source=RITZ,
        allowed=5e-4,
        reason="same theory, so only the mesh differs",
        values=values,
    )


def _reduced(name: str, problem: str, design: Design, frequency: Array) -> Check:
    return check(
        id=f"area/reduced-{name}",
        problem=f"{problem}: quick reduced curve against the direct solve",
        quantity="S/(pi R^2), complex",
        source="one factorisation per frequency, the same matrices",
        model="analysis",
        allowed=1e-4,
        reason="what the reduction leaves out, largest at the top of the range",
        values=lambda: (
            direct_area(_system(design, frequency, 2), frequency).total / WHOLE,
            _quick(design, frequency, 2) / WHOLE,
        ),
    )


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

    return area_check(
        id="area/surround",
        problem="rigid disc in a flat soft surround, b/a = 0.5, 0.8, 0.9, in the limit of low frequency",
        quantity="S/(pi a^2)",
        source="annular plate with a sliding inner edge, Timoshenko and Woinowsky-Krieger (1959), ch. 3; it tends to "
        "Pappus' pi/3 (R1^2 + R1 R2 + R2^2) as the surround narrows",
        allowed=3e-4,
        reason="shear in a surround only 200 walls wide: 1.5e-4",
        values=values,
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

    return area_check(
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

    return area_check(
        id="area/absolute",
        problem="flat disc driven at its rim, slope held, loss factor 0.05: area swept in total, six frequencies",
        quantity="integral of |v| over the face/(pi a^2 v_rim)",
        source="closed shape in J and I, Gauss quadrature of its size",
        allowed=1e-3,
        reason="the nodes' rule integrates the kinks of |v| at nodal circles only to second order",
        values=values,
    )


def checks() -> list[Check]:
    """Driven discs and rings, zones, the stepped V, the quick curve; its limits; area in total."""
    held_disc, _ = _driven_plate(0.0, 0.5, "", "C", 0.03)
    lossy_v = lossy(stepped_v())
    rim = "flat disc driven at its rim, slope there "
    return [
        *(
            _driven(f"rim-{slope}-{eta:g}", rim + slope, 0.0, 1.0, "", edge, eta)
            for slope, edge in (("clamped", "G"), ("free", "F"))
            for eta in (0.0, 0.05)
        ),
        _apparent_mass(),
        _driven("ring-0-0.5-C", "disc driven at half its radius, rim clamped", 0.0, 0.5, "", "C"),
        _driven("ring-0-0.5-S", "disc driven at half its radius, rim supported", 0.0, 0.5, "", "S"),
        _driven("ring-0-0.3-F", "disc driven at 0.3 of its radius, rim free", 0.0, 0.3, "", "F"),
        _driven("ring-0.3-0.3-FC", "annulus b/a = 0.3 driven at its inner rim, outer rim clamped", 0.3, 0.3, "F", "C"),
        _driven(
            "ring-0.3-0.3-GF",
            "annulus b/a = 0.3 driven at its inner rim with slope held, outer rim free",
            0.3,
            0.3,
            "G",
            "F",
        ),
        _driven("ring-0.4-0.7-CC", "annulus b/a = 0.4 driven between two clamped rims", 0.4, 0.7, "C", "C"),
        _zones(),
        _stepped_v(),
        _reduced("disc", "clamped disc driven at half its radius", held_disc, 2 * RATIOS * plate_scale(THIN)),
        _reduced("stepped-v", "stepped V with loss factor 0.05", lossy_v, np.geomspace(50.0, 18e3, 40)),
        _surround(),
        area_check(
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
        ),
        _modal(),
        _swept_in_total(),
    ]
