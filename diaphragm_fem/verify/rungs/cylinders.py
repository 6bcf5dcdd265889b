"""Cylinders against thin-shell theory, three-dimensional elasticity and a published pipe."""

from functools import cache, partial

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import Edge
from diaphragm_fem.verify import bench
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references import cylinders
from diaphragm_fem.verify.tables import rows

OMEGA = "Omega = omega R sqrt(rho/E)"
LENGTH = 1.5  # per radius
check = partial(Check, rung="cylinders", quantity=OMEGA)
ELASTICITY = "three-dimensional elasticity, problem of Armenakas, Gazis and Herrmann (1969), solved here"


def cylinder(
    length: float, h: float, inner: Edge, outer: Edge, radius: float = bench.RADIUS, material: Material | None = None
) -> Design:
    """Cylinder; length and wall per radius."""
    wall = bench.piece(Line((radius, 0.0), (radius, length * radius)), h * radius, material)
    return bench.part("cylinder", [wall], inner, outer)


def lowest(families: list[Array], n: int, count: int) -> Array:
    """The first modes of all families; for n = 0 without the axial shift, which a pair of diaphragms leaves free."""
    return np.sort(np.concatenate(families))[int(n == 0) :][:count]


@cache
def elastic_modes(h: float, n: int) -> Array:
    """Omega of two modes of n waves, exact elasticity."""
    return lowest([cylinders.elastic_cylinder(n, j, LENGTH, h, 2) for j in range(9)], n, 2)


def _thin(n: int) -> Check:
    h = 5e-4

    def exact(n: int) -> Array:
        return lowest([cylinders.fluegge_cylinder(n, j, LENGTH, h) for j in range(25)], n, 3)

    return check(
        id=f"cylinder/fluegge-m{n}",
        problem=f"cylinder between shear diaphragms, L/R = 1.5, h/R = 0.0005, m = {n}, three modes",
        source="Fluegge (1960), matrix as in Leissa, Vibration of Shells, NASA SP-288 (1973), ch. 2",
        allowed=1e-4,
        reason="thin theory's own error is (h/R)^2 n^4, below 1e-4",
        values=bench.modal(cylinder(LENGTH, h, bench.DIAPHRAGM, bench.DIAPHRAGM), [n], exact, bench.shell_scale()),
    )


def _elastic(h: float, allowed: float) -> Check:
    design = cylinder(LENGTH, h, bench.DIAPHRAGM, bench.DIAPHRAGM)
    return check(
        id=f"cylinder/elastic-{h:g}",
        problem=f"cylinder between shear diaphragms, L/R = 1.5, h/R = {h:g}, m = 0...4, two modes",
        source=ELASTICITY,
        allowed=allowed,
        reason="a shell stands for a solid to the order (h/R)^2 n^2/12",
        values=bench.modal(design, range(5), partial(elastic_modes, h), bench.shell_scale()),
    )


def _pipe() -> Check:
    table = {int(r["n"]): r for r in rows("pipe")}
    wanted = (("SS", 2), ("SS", 3), ("SS", 4), ("CC", 3), ("CC", 4))
    held = {"S": bench.DIAPHRAGM, "C": bench.EDGES["C"]}
    steel = bench.substance(E=200e9, rho=7800.0)

    def values() -> Pair:
        exact = np.array([float(table[n][edges]) for edges, n in wanted])
        found = []
        for (edges, n), value in zip(wanted, exact, strict=True):
            design = cylinder(20.0, 0.05, held[edges[0]], held[edges[1]], 0.05, steel)
            found.append(bench.shell_frequencies(design, n, np.array([value]))[0])
        return exact, np.array(found)

    return check(
        id="cylinder/pipe",
        rung="printed tables of few digits",
        problem="steel pipe 50 mm by 2.5 mm by 1 m between diaphragms or clamps, n = 2, 3, 4, first mode",
        quantity="frequency in Hz",
        source="Haar wavelets, Goldenveizer-Novozhilov shell, as quoted in a validation manual (V2.02.153)",
        allowed=8e-3,
        reason="the published theory leaves out shear and rotary inertia: 0.16 % (n = 2) to 0.7 % (n = 4)",
        values=values,
        note="Kirchhoff theory solved here agrees with these rows, and with n = 5 and 6, to 0.005 %; the table's "
        "n = 1, free and clamped-supported rows differ from it by up to 3.3 % and are left out",
    )


def checks() -> list[Check]:
    """Thin and moderately thick cylinders."""
    return [*(_thin(n) for n in range(5)), _elastic(0.01, 2e-4), _elastic(0.05, 1.5e-3), _pipe()]
