"""Thin flat plates: every edge, solid and annular, bare and loaded with a ring, a point or a rigid boss."""

from collections.abc import Callable
from functools import partial

import numpy as np

from diaphragm_fem.design.design import Design, Ring
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.verify.bench import EDGES, RADIUS, annulus, disc, modal, part, piece, plate_scale, substance
from diaphragm_fem.verify.check import Check, Pair
from diaphragm_fem.verify.references import plates
from diaphragm_fem.verify.tables import column, rows

THIN = 2e-4  # thickness over radius: a 5 um wall on a 25 mm radius; thin theory's own error is below 1e-4
RING_THIN = 5e-4  # for annular plates, where two free edges close together make the theory's own error up to 3e-4
BOSS_THIN = 2e-3
NAMES = {"C": "clamped", "S": "supported", "F": "free", "G": "guided (slope held)"}
SUBJECT = "x^2 = omega a^2 sqrt(rho h/D)"
check = partial(Check, quantity=SUBJECT)
REASON = (
    "h/a = 0.0002, where shear and the edge layer of a free edge change less than 1e-4; the rest is the mesh of the "
    "tool's own rule, once refined"
)
BESSEL = "Leissa, Vibration of Plates, NASA SP-160 (1969), ch. 2; Bessel determinant solved here"
RING_SOURCE = "jump of the effective shear at the ring, Leissa (1969), ch. 2; determinant solved here"


def _circular(edge: str, m: int) -> Check:
    return check(
        id=f"plate/{edge}-m{m}",
        rung="thin circular plates",
        problem=f"circular plate, {NAMES[edge]} edge, m = {m}, three modes",
        source=BESSEL,
        allowed=2e-4,
        reason=REASON,
        values=modal(disc(EDGES[edge], THIN), [m], lambda m: plates.circular_plate(edge, m, 3), plate_scale(THIN)),
    )


def _annulus(outer: str, inner: str, b: float) -> Callable[[], Pair]:
    """Two modes of m = 0...3."""
    design = annulus(EDGES[inner], EDGES[outer], b, RING_THIN)
    return modal(design, range(4), lambda n: plates.annular_plate(outer, inner, b, n, 2), plate_scale(RING_THIN))


def _annular(outer: str, inner: str, b: float) -> Check:
    return check(
        id=f"annulus/{outer}{inner}-{b:g}",
        rung="annular plates",
        problem=f"annular plate b/a = {b:g}, outer {NAMES[outer]}, inner {NAMES[inner]}, m = 0...3, two modes",
        source="problem of Vogel and Skinner, J. Appl. Mech. 32 (1965) 926; 4 x 4 Bessel determinant solved here",
        allowed=5e-4,
        reason="h/a = 0.0005, where two free edges close together change up to 3e-4; else the mesh, once refined",
        values=_annulus(outer, inner, b),
    )


def _small_hole(b: float) -> Check:
    return check(
        id=f"annulus/hole-{b:g}",
        rung="annular plates",
        problem=f"clamped circular plate with a free hole of {b:g} a, m = 0...3, two modes",
        source="4 x 4 Bessel determinant solved here, Leissa (1969), ch. 2; it tends to the plate without a hole",
        allowed=2e-4,
        reason="mesh of the tool's own rule, once refined",
        values=_annulus("C", "F", b),
    )


def _handbook() -> Check:
    def values() -> Pair:
        table, found = rows("annular_plate_handbook"), _annulus("F", "C", 0.5)()[1]
        return column(table, "lambda2"), np.array([found[2 * int(r["n"]) + int(r["i"]) - 1] for r in table])

    return check(
        id="annulus/handbook",
        rung="printed tables of few digits",
        problem="annular plate b/a = 0.5, outer edge free, inner edge clamped, seven values as printed",
        source="Leissa, NASA SP-160 (1969), as printed for SDLS 04 of the AFNOR guide (1990)",
        allowed=4e-3,
        reason="the table has three digits",
        values=values,
        note="n = 3 is printed 18.5, the exact root is 18.562 (0.3 %); the other six agree to their digits",
    )


def _disc_in_two(edge: str, b: float, h: float, centre: Material | None = None, ring: float = 0.0) -> Design:
    """A disc cut at r = b; its centre of another material, or a ring of that many plate masses on the cut."""
    plate_mass = substance().density * h * RADIUS * np.pi * RADIUS**2
    walls = [
        piece(Line((0.0, 0.0), (b * RADIUS, 0.0)), h * RADIUS, centre),
        piece(Line((b * RADIUS, 0.0), (RADIUS, 0.0)), h * RADIUS),
    ]
    return part("loaded disc", walls, None, EDGES[edge], 1, Ring(ring * plate_mass) if ring else None)


def _ring(edge: str, b: float, ratio: float) -> Check:
    design = _disc_in_two(edge, b, THIN, ring=ratio)
    return check(
        id=f"ring/{edge}-{b:g}-{ratio:g}",
        rung="plates that carry a ring",
        problem=f"circular plate, {NAMES[edge]} edge, ring of {ratio:g} plate masses at {b:g} a, m = 0...2",
        source=RING_SOURCE,
        allowed=3e-4,
        reason=REASON,
        values=modal(design, range(3), lambda n: plates.plate_with_ring(edge, b, ratio, n, 3), plate_scale(THIN)),
    )


def _point_mass(edge: str) -> Check:
    design = _disc_in_two(edge, 0.002, THIN, ring=0.2)
    return check(
        id=f"point-mass/{edge}",
        rung="plates that carry a ring",
        problem=f"circular plate, {NAMES[edge]} edge, 0.2 plate masses at its centre, m = 0, three modes",
        source="point force of the Bessel functions, Leissa (1969), ch. 2; determinant solved here",
        allowed=5e-4,
        reason="our mass is a ring of radius 0.002 a: it shifts the exact roots by less than 2e-4",
        values=modal(design, [0], lambda _: plates.plate_with_point_mass(edge, 0.2, 3), plate_scale(THIN)),
    )


def _boss(edge: str) -> Check:
    b, ratio, plain = 0.3, 0.5, substance()
    stiff = substance(E=plain.youngs_modulus * 1e5, rho=plain.density * ratio / b**2, name="boss")
    design = _disc_in_two(edge, b, BOSS_THIN, stiff)
    return check(
        id=f"boss/{edge}",
        rung="plates that carry a ring",
        problem=f"circular plate, {NAMES[edge]} edge, rigid centre r < 0.3 a of 0.5 plate masses, m = 0, three modes",
        source=RING_SOURCE,
        allowed=3e-4,
        reason="the centre is 1e5 times stiffer than the plate, h/a = 0.002; shear takes off 5e-5",
        values=modal(design, [0], lambda _: plates.plate_with_boss(edge, b, ratio, 3), plate_scale(BOSS_THIN)),
    )


def checks() -> list[Check]:
    """Circular plates, annular plates of nine edge pairs, loaded plates."""
    loads = ((0.3, 0.1), (0.3, 1.0), (0.7, 0.5))
    return [
        *(_circular(edge, m) for edge in "CSFG" for m in range(5)),
        *(_annular(outer, inner, b) for outer in "CSF" for inner in "CSF" for b in (0.1, 0.3, 0.5, 0.7)),
        *(_small_hole(b) for b in (0.01, 0.0001)),
        _handbook(),
        *(_ring(edge, b, ratio) for edge in "CSF" for b, ratio in loads),
        *(_point_mass(edge) for edge in "CSF"),
        *(_boss(edge) for edge in "CSF"),
    ]
