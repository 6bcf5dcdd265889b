"""How fast frequencies converge: with the fourth power of the element size, slower where an edge layer is cut off."""

from functools import partial

import numpy as np

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.verify.bench import EDGES, annulus, disc, modal, part, plate_scale, shell_system, straight
from diaphragm_fem.verify.check import Check
from diaphragm_fem.verify.references import plates

check = partial(Check, rung="order of convergence")
LAYER = "twist along an edge turns into shear in a layer one wall thick, which the elements cut off"
Parts = dict[float, list[Design]]  # by the top frequency in Hz of their meshes


def cone(outer: str) -> Design:
    return part("cone", straight(0.01, (0.4, 0.0), (1.0, 0.5)), EDGES["C"], EDGES[outer])


def v(outer: str) -> Design:
    return part("V", straight(0.01, (0.4, 0.3), (0.7, 0.0), (1.0, 0.4)), EDGES["C"], EDGES[outer])


def rate(design: Design, m: int, top: float) -> float:
    """Of the worst of the first four modes: meshes two and four times as fine as the default, against one twelve times
    as fine."""
    coarse, fine, best = (solve_modes(shell_system(design, m, top, k), top).frequency_hz[:4] for k in (2, 4, 12))
    return float(np.log2(np.abs(coarse / best - 1).max() / np.abs(fine / best - 1).max()))


def _rate(name: str, problem: str, order: float, allowed: float, reason: str, orders: range, parts: Parts) -> Check:
    cases = [(design, m, top) for top, designs in parts.items() for design in designs for m in orders]
    return check(
        id=f"law/rate{name}",
        problem=f"{problem}, walls of R/100, m = {orders[0]}" + (f"...{orders[-1]}" if len(orders) > 1 else ""),
        quantity="order of convergence",
        source="quadratic elements: fourth power; edge layer of a plate: Arnold and Falk (1990), from memory",
        allowed=allowed,
        reason=reason,
        values=lambda: (np.full(len(cases), order), np.array([rate(*case) for case in cases])),
    )


def _default_mesh() -> Check:
    thin = 1e-4

    def exact(m: int) -> Array:
        return plates.circular_plate("C", m, 6) * plate_scale(thin)

    return check(
        id="law/default-mesh",
        problem="clamped disc on the mesh that is used by default, not on a refined one, m = 0 and 2, six modes",
        quantity="frequency in Hz",
        source="Bessel determinant (Leissa 1969, ch. 2)",
        allowed=3.5e-4,
        reason="seven elements per wave at the top: 1e-4 to 2.3e-4, measured; without the inertia of bulges 9e-4",
        values=modal(disc(EDGES["C"], thin), (0, 2), exact, refine=1),
    )


def checks() -> list[Check]:
    """The default mesh, then orders of convergence, lower where an edge layer is cut off."""
    clamped, free = disc(EDGES["C"], 1e-2), disc(EDGES["F"], 1e-2)
    hardly = f"{LAYER}: a shell's free edge hardly twists, measured 3.77 to 4.01"
    little = f"{LAYER}: little at a held edge, measured 3.40 to 3.87"
    between = f"{LAYER}: between the second and the third power, measured 2.52 to 2.68"
    plate = [free, annulus(EDGES["C"], EDGES["F"], 0.3, 1e-2)]
    return [
        _default_mesh(),
        _rate("", "clamped cone and V", 4.0, 0.005, "measured 3.99 to 4.00", range(5), {60e3: [cone("C"), v("C")]}),
        _rate("-disc", "clamped disc", 4.0, 0.02, "measured 3.98", range(1), {25e3: [clamped]}),
        _rate(
            "-free-shell", "cone and V with a free outer edge", 4.0, 0.1, hardly, range(5), {60e3: [cone("F"), v("F")]}
        ),
        _rate("-around", "clamped disc", 3.6, 0.12, little, range(1, 5), {25e3: [clamped]}),
        _rate(
            "-free-plate", "free disc, annulus with a free outer edge", 2.6, 0.06, between, range(1, 5), {25e3: plate}
        ),
    ]
