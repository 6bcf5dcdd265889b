"""Moderately thick plates: the same theory as the shell model's, solved exactly."""

from __future__ import annotations

import numpy as np

from diaphragm_fem.verify.bench import EDGES, annulus, disc, plate_scale, shell_frequencies
from diaphragm_fem.verify.check import Check, Reals
from diaphragm_fem.verify.references import thick_plates
from diaphragm_fem.verify.rungs.plates import NAMES, SUBJECT

RUNG = "moderately thick plates"
REASON = "same theory, so only the mesh differs: of the tool's own rule, once refined"


def _circular(edge: str, h: float) -> Check:
    def reference() -> Reals:
        return np.array([thick_plates.circular_plate(edge, m, 2, h) for m in range(5)])

    def ours() -> Reals:
        scale, design = plate_scale(h), disc(EDGES[edge], h)
        found = [shell_frequencies(design, m, x * scale, nearest=True) for m, x in enumerate(reference())]
        return np.array(found) / scale

    return Check(
        id=f"thick-plate/{edge}-{h:g}",
        rung=RUNG,
        problem=f"circular plate h/a = {h:g}, {NAMES[edge]} edge, m = 0...4, two bending modes",
        quantity=SUBJECT,
        source="Mindlin and Deresiewicz, J. Appl. Phys. 25 (1954) 1329; determinant solved here, shear factor 5/6",
        model="shell",
        allowed=1.2e-4,
        reason=REASON,
        reference=reference,
        ours=ours,
    )


def _annular(outer: str, inner: str) -> Check:
    b, h = 0.4, 0.1

    def reference() -> Reals:
        return np.array([thick_plates.annular_plate(outer, inner, b, n, 2, h) for n in range(4)])

    def ours() -> Reals:
        scale, design = plate_scale(h), annulus(EDGES[inner], EDGES[outer], b, h)
        found = [shell_frequencies(design, n, x * scale, nearest=True) for n, x in enumerate(reference())]
        return np.array(found) / scale

    edges = f"outer edge {NAMES[outer]}, inner edge {NAMES[inner]}"
    return Check(
        id=f"thick-annulus/{outer}{inner}",
        rung=RUNG,
        problem=f"annular plate b/a = 0.4, h/a = 0.1, {edges}, m = 0...3, two bending modes",
        quantity=SUBJECT,
        source="Irie, Yamada and Takagi, J. Appl. Mech. 49 (1982) 633; determinant solved here, shear factor 5/6",
        model="shell",
        allowed=1.5e-4,
        reason=REASON,
        reference=reference,
        ours=ours,
    )


def checks() -> list[Check]:
    """Discs of two thicknesses and rings of five edge pairs."""
    return [
        *(_circular(edge, h) for edge in "CSF" for h in (0.05, 0.2)),
        *(_annular(outer, inner) for outer, inner in ("CC", "CF", "FC", "FF", "SS")),
    ]
