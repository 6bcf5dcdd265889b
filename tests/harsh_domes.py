"""Harsh domes: steep, sharp, with surrounds that roll down along the former and walls far from equal in thickness; the
same for the same number. All dimensions and pairings made up here are invented.
"""

from typing import Any

import numpy as np
from sampled_designs import ELASTIC, STIFF, amount

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read.read import design_from

FORMERS = ("aluminium alloy", "polyimide film")


def harsh_dome(number: int) -> Design:
    """Dome number 0, 1, 2 ... Raises DesignError for some: their corners have no room."""
    return design_from(harsh_data(number), "harsh.toml")


def harsh_data(number: int) -> dict[str, Any]:
    """The same as the data of a design file."""
    rng = np.random.default_rng((77, number))
    rim = rng.uniform(18, 50)
    height = rng.uniform(0.1, 1.0) * rim / 2
    surround: dict[str, Any] = {"kind": str(rng.choice(["half-roll", "half-roll", "flat"]))}
    surround |= {"width": amount(rng.uniform(1.2, 5), "mm"), "material": str(rng.choice(ELASTIC))}
    surround["thickness"] = amount(rng.uniform(40, 300), "um")
    if surround["kind"] == "half-roll":
        surround["direction"] = str(rng.choice(["up", "down", "down"]))
    if rng.random() < 0.4:
        surround["corner_radius"] = "0 mm"
    profile = {"kind": "dome", "rim_diameter": amount(rim, "mm"), "height": amount(height, "mm")}
    profile["shape"] = str(rng.choice(["sphere", "sphere", "ellipse", "cone"]))
    profile["facing"] = str(rng.choice(["convex", "convex", "concave"]))
    former = {"material": str(rng.choice(FORMERS)), "thickness": amount(rng.uniform(30, 150), "um")}
    coil = {"kind": "former", "former": former, "former_height": amount(rng.uniform(3, 8), "mm")}
    coil |= {"winding_mass": "0.4 g", "winding_height": "2 mm"}
    wall = {"material": str(rng.choice(STIFF)), "thickness": amount(rng.uniform(20, 120), "um")}
    return {
        "name": f"harsh {number}",
        "wall": wall,
        "profile": {**profile, "surround": surround},
        "coil": coil,
        "edges": {"outer": "clamped"},
    }
