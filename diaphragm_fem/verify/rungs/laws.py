"""Laws that hold whatever the design: lumped limits, similarity, reciprocity, equal descriptions."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.figures.reading import Reading
from diaphragm_fem.analysis.figures.zones import steps_of
from diaphragm_fem.analysis.solution import solve_area
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design, Ring
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import FREE
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.verify import bench
from diaphragm_fem.verify.bench import EDGES, RADIUS, cap_arc, disc, part, piece, plate_scale, shell_system, substance
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references import plates, statics
from diaphragm_fem.verify.rungs.joined import dome_on_roll, stepped_v

LUMPED = "lumped limits"
LAWS = "laws and limits"
check = partial(Check, rung=LAWS, model="analysis")
SAME = "the same equations written twice: rounding only"
MESHES = "the meshes differ; both are refined"


def mass_on_step(eta: float) -> tuple[Design, float]:
    """Two rigid flat rings joined by a soft, light step, and the closed form of their decoupling frequency in Hz."""
    h, thick, a, b = 1e-3 * RADIUS, 1e-2 * RADIUS, 0.5 * RADIUS, 0.56 * RADIUS
    rigid = substance(E=70e12, name="rigid")
    film = substance(nu=0.35, E=2e9, rho=0.01, eta=eta, name="light film")
    walls = [
        piece(Line((0.3 * RADIUS, 0.0), (a, 0.0)), thick, rigid, Zone("driven", Role.DRIVEN)),
        piece(Line((a, 0.0), (b, 0.0)), h / 2, film, Zone("step", Role.STEP, "outer", 1)),
        piece(Line((b, 0.0), (RADIUS, 0.0)), thick, rigid, Zone("beyond", Role.BEYOND, "outer", 1)),
    ]
    bending = film.youngs_modulus * (h / 2) ** 3 / 12 / (1 - film.poisson_ratio**2)
    stiffness = statics.sliding_annulus_stiffness(a, b, bending)
    mass = rigid.density * thick * np.pi * (RADIUS**2 - b**2)
    return part("mass on a step", walls, FREE, FREE, 1), float(np.sqrt(stiffness / mass) / (2 * np.pi))


def _lumped() -> list[Check]:
    eta = 0.02
    design, resonance = mass_on_step(eta)
    near = resonance * np.array((0.2, 0.5, 0.8, 0.95, 1.05, 1.3, 2.0, 4.0))
    area = np.pi * (RADIUS**2 - (0.56 * RADIUS) ** 2)
    passing = np.array((np.sqrt(1 + eta**2), np.sqrt(1 + 1 / 0.3)))

    def curve(frequency: Array) -> Curve:
        return solve_area(shell_system(design, 0, 4.5 * resonance, 2), frequency, absolute=False)

    def values() -> Pair:
        reading = Reading(curve(resonance * np.geomspace(0.5, 4.0, 1601)))
        (step,) = steps_of(reading, reading.top)
        return resonance * passing, np.array((step.decoupling_hz, step.handed_over_hz), float)

    stiff = "the zones bend 3e8 times more stiffly than the step; shear in a step 120 walls wide shifts f0 by 1e-4"
    return [
        check(
            id="lumped/share",
            rung=LUMPED,
            problem="rigid zone beyond a soft step, loss factor 0.02, eight frequencies about its resonance",
            quantity="zone share q, complex",
            source="mass on a spring driven at its base; spring: sliding annulus, Timoshenko (1959), ch. 3",
            allowed=5e-3,
            reason=stiff + ", which counts ten times and more near resonance",
            values=lambda: (statics.base_driven_share(near, resonance, eta), curve(near).zone[2] / area),
            scale="largest",
        ),
        check(
            id="lumped/decoupling",
            rung=LUMPED,
            problem="the same: decoupling frequency (Re q = 0) and hand-over (|q| < 0.3)",
            quantity="frequency in Hz",
            source="mass on a spring: f0 sqrt(1 + eta^2) and f0 sqrt(1 + 1/0.3), f0 as above",
            allowed=1e-3,
            reason=stiff,
            values=values,
        ),
    ]


def _same_modes(
    id: str,
    problem: str,
    source: str,
    other: Callable[[], Array],
    one: Callable[[], Array],
    allowed: float = 1e-8,
    reason: str = SAME,
) -> Check:
    return check(
        id=id,
        problem=problem + ", m = 0...3, four modes",
        quantity="frequency in Hz",
        source=source,
        allowed=allowed,
        reason=reason,
        values=lambda: (one(), other()),
    )


def _similarity() -> list[Check]:
    design, top = stepped_v(), 8e3
    doubled, stiffer = bench.scaled(design, 2.0), bench.stiffer(design, 4.0)
    same = partial(_same_modes, one=cache(lambda: bench.first_modes(design, top)))

    def area(x: Design, limit: float) -> Array:
        frequency = np.geomspace(0.01, 0.9, 12) * limit
        return solve_area(shell_system(x, 0, limit, 2), frequency, absolute=False).total.real

    return [
        same(
            "law/lengths",
            "stepped V, all lengths doubled, times 2",
            "similarity: f ~ 1/length",
            lambda: 2 * bench.first_modes(doubled, top / 2),
        ),
        same(
            "law/modulus",
            "stepped V, every modulus times 4, halved",
            "similarity: f ~ sqrt(E)",
            lambda: bench.first_modes(stiffer, 2 * top) / 2,
        ),
        check(
            id="law/area",
            problem="stepped V without loss: area curve of twelve frequencies, all lengths doubled",
            quantity="S/4 (m2)",
            source="similarity: S ~ length^2",
            allowed=1e-6,
            reason=SAME + "; peaks without loss enlarge it",
            values=lambda: (area(design, top), area(doubled, top / 2) / 4),
            scale="largest",
        ),
        same(
            "law/mirror",
            "stepped V turned upside down",
            "the same body",
            lambda: bench.first_modes(bench.mirrored(design), top),
        ),
        same(
            "law/split",
            "stepped V, every piece cut in three",
            "the same body",
            lambda: bench.first_modes(bench.split(design), top),
            allowed=2e-4,
            reason=MESHES,
        ),
    ]


def _reciprocity() -> Check:
    """Volume per force of the coil equals coil motion per pressure on the face."""
    frequency = (100.0, 700.0, 2000.0, 6000.0)

    def response(from_coil: bool) -> Complex:
        structure = shell_system(stepped_v(), 0, 8e3, 2)
        face = structure.volume.sum(axis=0)
        load, read = (structure.drive, face) if from_coil else (face, structure.pickup)
        found = []
        for f in frequency:
            dynamic = csc_matrix(structure.stiffness * (1 + 0.02j) - (2 * np.pi * f) ** 2 * structure.mass)
            found.append(read @ splu(dynamic).solve(load.astype(complex)))
        return np.array(found)

    return check(
        id="law/reciprocity",
        problem="stepped V: volume per coil force against coil motion per pressure, four frequencies",
        quantity="m3/N, complex",
        source="reciprocity (Rayleigh, Theory of Sound, section 107)",
        allowed=1e-7,
        reason="rounding",
        values=lambda: (response(True), response(False)),
    )


def _limits() -> list[Check]:
    height, wall = 1e-7 * RADIUS, 1e-3 * RADIUS
    radius = (RADIUS**2 + height**2) / (2 * height)
    dome = part("flat dome", [piece(cap_arc(radius, 0.0, float(np.arcsin(RADIUS / radius))), wall)], None, EDGES["C"])
    top = 1.1 * float(plates.circular_plate("C", 3, 4)[-1]) * plate_scale(1e-3)

    def cone(*ends: tuple[float, float]) -> Design:
        return part("cone", bench.straight(0.004, *ends), EDGES["C"], EDGES["F"])

    plain, stepped = cone((0.4, 0.0), (1.0, 0.6)), cone((0.4, 0.0), (0.7, 0.3), (0.72, 0.32), (1.0, 0.6))
    bare, light = replace(dome_on_roll(), ring=None), replace(dome_on_roll(), ring=Ring(1e-12))
    return [
        _same_modes(
            "limit/flat-dome",
            "clamped dome of vanishing height",
            "limit: the flat disc",
            lambda: bench.first_modes(dome, top),
            lambda: bench.first_modes(disc(EDGES["C"], 1e-3), top),
            1e-5,
            "the height is a ten-thousandth of the wall",
        ),
        _same_modes(
            "limit/no-step",
            "cone with a step of the flank's own wall and slope",
            "limit: the plain cone",
            lambda: bench.first_modes(stepped, 40e3, 4),
            lambda: bench.first_modes(plain, 40e3, 4),
            2e-4,
            MESHES,
        ),
        _same_modes(
            "limit/ring-of-no-mass",
            "dome on a half-roll with a ring of 1e-12 kg",
            "limit: no ring",
            lambda: bench.first_modes(light, 16e3),
            lambda: bench.first_modes(bare, 16e3),
            1e-6,
            "the ring weighs 1e-9 of the dome",
        ),
    ]


def checks() -> list[Check]:
    """Lumped limits, then laws."""
    return [*_lumped(), *_similarity(), _reciprocity(), *_limits()]
