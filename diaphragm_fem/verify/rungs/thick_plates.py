"""Moderately thick plates: the same theory as the shell model's, solved exactly."""

from functools import partial

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import FREE, Edge
from diaphragm_fem.verify import bench
from diaphragm_fem.verify.check import Check
from diaphragm_fem.verify.references import thick_plates
from diaphragm_fem.verify.rungs.plates import NAMES, SUBJECT

check = partial(Check, rung="moderately thick plates", quantity=SUBJECT)
REASON = "same theory, so only the mesh differs: of the tool's own rule, once refined"


def _circular(edge: str, h: float) -> Check:
    def exact(m: int) -> Array:
        return thick_plates.circular_plate(edge, m, 2, h)

    return check(
        id=f"thick-plate/{edge}-{h:g}",
        problem=f"circular plate h/a = {h:g}, {NAMES[edge]} edge, m = 0...4, two bending modes",
        source="Mindlin and Deresiewicz, J. Appl. Phys. 25 (1954) 1329; determinant solved here, shear factor 5/6",
        allowed=1.2e-4,
        reason=REASON,
        values=bench.modal(bench.disc(bench.EDGES[edge], h), range(5), exact, bench.plate_scale(h), nearest=True),
    )


def _annular(outer: str, inner: str) -> Check:
    b, h = 0.4, 0.1

    def exact(n: int) -> Array:
        return thick_plates.annular_plate(outer, inner, b, n, 2, h)

    edges = f"outer edge {NAMES[outer]}, inner edge {NAMES[inner]}"
    return check(
        id=f"thick-annulus/{outer}{inner}",
        problem=f"annular plate b/a = 0.4, h/a = 0.1, {edges}, m = 0...3, two bending modes",
        source="Irie, Yamada and Takagi, J. Appl. Mech. 49 (1982) 633; determinant solved here, shear factor 5/6",
        allowed=1.5e-4,
        reason=REASON,
        values=bench.modal(
            bench.annulus(bench.EDGES[inner], bench.EDGES[outer], b, h),
            range(4),
            exact,
            bench.plate_scale(h),
            nearest=True,
        ),
    )


def _supported_annulus(model: str) -> Check:
    """NAFEMS FV43: outer radius 6 m, inner 1.8 m, thickness 0.6 m, supported at the middle of the outer edge."""
    steel = bench.substance(E=200e9, rho=8000.0, name="steel")
    wall = bench.piece(Line((1.8, 0.0), (6.0, 0.0)), 0.6, steel)
    design = bench.part("FV43", [wall], FREE, Edge(axial=np.inf))

    def exact(_: int) -> Array:
        plane = np.sqrt(200e9 / (8000 * (1 - 0.3**2))) / (2 * np.pi)
        bending = plane * 0.6 / np.sqrt(12) / 6.0**2
        first, second = thick_plates.annular_plate("S", "F", 0.3, 0, 2, 0.1) * bending
        return np.array((first, second, thick_plates.in_plane_annulus(1.8, 6.0, 1)[0] * plane))

    shell = model == "shell"
    return check(
        id=f"thick-plate/FV43-{model}",
        rung="moderately thick plates" if shell else "shell against solid",
        problem="supported thick annular plate (1.8 to 6 m, 0.6 m thick), m = 0, two bending modes, one in-plane",
        quantity="frequency in Hz",
        source="problem of NAFEMS FV43 (1990); Mindlin plate and plane stress solved exactly here",
        model=model,
        allowed=1e-4 if shell else 2e-3,
        reason="same theory, so only the mesh differs"
        if shell
        else "shear theory against a solid of h/a = 0.1, held by the mean motion of its edge face",
        values=bench.modal(design, [0], exact, find=bench.shell_frequencies if shell else bench.solid_frequencies),
        note="targets remembered from the book (18.583, 140.15, 224.16 Hz) lie within 0.05 % of the exact values"
        if shell
        else "",
    )


def checks() -> list[Check]:
    """Discs of two thicknesses, rings of five edge pairs, the benchmark plate with both models."""
    return [
        _supported_annulus("shell"),
        _supported_annulus("solid"),
        *(_circular(edge, h) for edge in "CSF" for h in (0.05, 0.2)),
        *(_annular(outer, inner) for outer, inner in ("CC", "CF", "FC", "FF", "SS")),
    ]
