"""Shells and plates at rest: deflections, swept volumes, stiffness at the coil."""

from functools import partial

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from diaphragm_fem.analysis.static import solve_static
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, Edge
from diaphragm_fem.verify.bench import EDGES, RADIUS, SYMMETRY, cap_arc, disc, part, piece, shell_system, substance
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references import statics
from diaphragm_fem.verify.rungs.joined import RITZ, stepped_v, v_ring
from diaphragm_fem.verify.second_solver import ritz, ritz_joint

E, NU = 70e9, 0.3
MESH_HZ = 2e3
check = partial(Check, rung="shells and plates at rest")
TIMOSHENKO = "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells (1959)"


def pressure_volume(design: Design, refine: int = 4) -> float:
    """Volume swept per pascal on the front face, m3/Pa: volume K^-1 volume."""
    structure = shell_system(design, 0, MESH_HZ, refine)
    load = structure.volume.sum(axis=0)
    return float(load @ splu(csc_matrix(structure.stiffness)).solve(load))


def ring_answers(design: Design, refine: int = 4) -> tuple[float, float]:
    """Deflection of the drive circle (m/N) and swept volume (m3/N) under a unit axial force on it."""
    structure = shell_system(design, 0, MESH_HZ, refine)
    shape = splu(csc_matrix(structure.stiffness)).solve(structure.drive)
    return float(structure.pickup @ shape), float(structure.volume.sum(axis=0) @ shape)


PLATES: tuple[tuple[str | None, str, float], ...] = (
    (None, "C", 0.0),
    (None, "S", 0.0),
    ("C", "C", 0.3),
    ("F", "C", 0.3),
    ("F", "S", 0.5),
    ("S", "S", 0.3),
    ("C", "F", 0.3),
)


def _plates() -> Check:
    h, r = 1e-3 * RADIUS, RADIUS
    bending = E * h**3 / 12 / (1 - NU**2)

    def values() -> Pair:
        exact, found = [], []
        for inner, outer, b in PLATES:
            c = (b + 1) / 2
            loaded = statics.plate_at_rest(outer, inner, b, ring=(c, 1.0))
            pressed = statics.plate_at_rest(outer, inner, b, pressure=1.0)
            exact.append((loaded.at_load * r**2, loaded.volume * r**4, pressed.volume * r**6))
            walls = [piece(Line((b * r, 0.0), (c * r, 0.0)), h), piece(Line((c * r, 0.0), (r, 0.0)), h)]
            design = part("plate at rest", walls, None if inner is None else EDGES[inner], EDGES[outer], 1)
            found.append((*ring_answers(design), pressure_volume(design)))
        return np.array(exact) / bending, np.array(found)

    return check(
        id="static/plates",
        problem="seven plates (discs and rings; clamped, supported, free edges) under a ring force and under pressure",
        quantity="deflection at the ring (m/N), volume per newton (m3/N), volume per pascal (m3/Pa)",
        source=TIMOSHENKO + ", ch. 3",
        allowed=1e-4,
        reason="h/a = 0.001: shear adds 1e-5; the rest is the mesh",
        values=values,
    )


def _pressed(name: str, problem: str, section: int, allowed: float, reason: str, exact: float, design: Design) -> Check:
    return check(
        id=f"static/{name}",
        problem=f"{problem}, under pressure",
        quantity="volume per pascal (m3/Pa)",
        source=f"{TIMOSHENKO}, section {section}",
        allowed=allowed,
        reason=reason,
        values=lambda: (np.array([exact]), np.array([pressure_volume(design)])),
    )


def _cylinder() -> Check:
    h, length = 5e-3 * RADIUS, 1.2 * RADIUS
    sliding = Edge(radial=np.inf, circumferential=np.inf, rotation=np.inf)
    tube = part("pressed cylinder", [piece(Line((RADIUS, 0.0), (RADIUS, length)), h)], CLAMPED, sliding)
    problem = "cylinder L/R = 1.2, h/R = 0.005, ends held radially and in slope"
    exact = statics.clamped_cylinder_volume(length, RADIUS, h, E, NU)
    return _pressed("cylinder", problem, 114, 1e-3, "shear in the edge effect is of the order of h/R", exact, tube)


def _hemisphere() -> Check:
    h = 5e-3 * RADIUS
    dome = part("pressed hemisphere", [piece(cap_arc(RADIUS, 0.0, np.pi / 2), h)], None, SYMMETRY)
    problem = "hemisphere h/R = 0.005 with a mirror at its equator"
    exact = statics.hemisphere_volume(RADIUS, h, E, NU)
    return _pressed("hemisphere", problem, 105, 1e-6, "membrane state, exact for a shell", exact, dome)


def _shallow_sphere() -> Check:
    h, angle = 2e-5 * RADIUS, 0.0025

    def values() -> Pair:
        walls = [piece(cap_arc(RADIUS, 0.0, angle), h), piece(cap_arc(RADIUS, angle, 0.8), h)]
        return np.array([statics.shallow_sphere_ring_compliance(RADIUS, h, RADIUS * np.sin(angle), E, NU)]), np.array(
            [ring_answers(part("ring on a sphere", walls, None, CLAMPED, 1))[0]]
        )

    return check(
        id="static/shallow-sphere",
        problem="small ring force on a thin sphere, h/R = 0.00002, ring radius 0.0025 R",
        quantity="deflection (m/N)",
        source="E. Reissner, J. Math. Phys. 25 (1946) 80 and 279, ring average of the point load",
        allowed=5e-4,
        reason="endless shallow sphere against a cap of 46 degrees: 1e-4; shear at the ring: 1e-4; else the mesh",
        values=values,
    )


def _against_ritz(name: str, design: Design) -> Check:
    def values() -> Pair:
        deflection, volume = ritz(design, 0, "shear").static(ritz_joint(design))
        return np.array((deflection, volume.sum())), np.array(ring_answers(design, 2))

    return check(
        id=f"static/{name.replace(' ', '-')}",
        problem=f"{name}, force on the circle at its bottom",
        quantity="deflection (m/N), volume per newton (m3/N)",
        source=RITZ,
        allowed=3e-4,
        reason="same theory, so only the mesh differs",
        values=values,
    )


def _on_springs() -> Check:
    h, spring = 1e-3, 1e4
    design = disc(Edge(axial=spring, rotation=np.inf), h, joint=1)
    stiffness = spring * 2 * np.pi * RADIUS
    mass = substance().density * h * np.pi * RADIUS**3

    def values() -> Pair:
        answer = solve_static(shell_system(design, 0, MESH_HZ, 2))
        both = (stiffness, mass), (answer.stiffness, answer.moving_mass)
        exact, found = (np.array((k, m, np.sqrt(k / m) / (2 * np.pi))) for k, m in both)
        return exact, found

    return check(
        id="static/on-springs",
        problem="disc on a soft ring of springs, driven at its rim",
        quantity="stiffness at the coil (N/m), moving mass (kg), resonance (Hz)",
        source="a mass on a spring: k = 2 pi a times the edge's stiffness, m = density times volume",
        model="analysis",
        allowed=1e-6,
        reason="exact: a force at the supported rim does not bend the disc",
        values=values,
    )


def _free_mass() -> Check:
    design = disc(FREE, 1e-3, joint=1)
    mass = substance().density * 1e-3 * np.pi * RADIUS**3
    return check(
        id="static/free-mass",
        problem="free disc, driven at its rim",
        quantity="moving mass (kg)",
        source="density times volume",
        model="analysis",
        allowed=1e-6,
        reason="exact",
        values=lambda: (np.array([mass]), np.array([solve_static(shell_system(design, 0, MESH_HZ, 2)).moving_mass])),
    )


def checks() -> list[Check]:
    """Plates, shells, and the tool's own static answers."""
    return [
        _plates(),
        _cylinder(),
        _hemisphere(),
        _shallow_sphere(),
        _against_ritz("V ring", v_ring(0.005)),
        _against_ritz("stepped V", stepped_v()),
        _on_springs(),
        _free_mass(),
    ]
