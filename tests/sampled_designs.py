"""Sampled designs: random domes and V profiles in four groups, the same for the same group and number.

library   films, metals and elastomers as the package ships them
tables    every material with a loss table of its own, 1e-4 to 0.5 at four frequencies
lossless  every material with a loss factor of 1e-4
soft      surrounds of 15 to 40 um of an elastomer of 1 to 10 MPa with a loss factor of 1e-4 to 0.3
All dimensions and materials made up here are invented.
"""

from collections.abc import Iterator
from typing import Any

import numpy as np

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read.read import design_from

GROUPS = ("library", "tables", "lossless", "soft")
STIFF = ("aluminium alloy", "titanium", "magnesium alloy", "beryllium", "PET film", "PEN film", "PEI film", "PEEK film")
ELASTIC = ("thermoplastic elastomer", "nitrile rubber", "butyl rubber")
TABLE_AT = ("20 Hz", "200 Hz", "2 kHz", "20 kHz")
ORIGIN = "sampled.toml"


def sampled_design(group: str, number: int) -> Design:
    """Design number 0, 1, 2 ... of a group."""
    return design_from(sampled_data(group, number), ORIGIN)


def sampled_data(group: str, number: int) -> dict[str, Any]:
    """The same as the data of a design file."""
    rng = np.random.default_rng((GROUPS.index(group), number))
    make = _dome if rng.random() < 0.4 else _vee
    data = {"name": f"{group} {number}", "wall": _wall(rng, STIFF, 25, 90), **make(rng, group == "soft")}
    used = sorted(set(_materials(data)))
    if group == "tables":
        data["materials"] = {name: {"loss_factor": _table(rng)} for name in used}
    elif group == "lossless":
        data["materials"] = {name: {"loss_factor": assumed(1e-4)} for name in used}
    elif group == "soft":
        modulus = {"value": amount(_log_uniform(rng, 1, 10), "MPa"), "kind": "assumed", "source": "a test"}
        loss = assumed(_log_uniform(rng, 1e-4, 0.3))
        data["materials"] = {name: {"youngs_modulus": modulus, "loss_factor": loss} for name in _surrounds(data)}
        data["unusual"] = [f'materials."{name}".youngs_modulus' for name in data["materials"]]
    return data


def assumed(value: Any, **more: Any) -> dict[str, Any]:
    """A number of a material that stands for nothing but this test."""
    return {"value": value, "kind": "assumed", "source": "a test", **more}


def amount(value: float, unit: str) -> str:
    return f"{value:.6g} {unit}"


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _table(rng: np.random.Generator) -> dict[str, Any]:
    return assumed([_log_uniform(rng, 1e-4, 0.5) for _ in TABLE_AT], frequency=list(TABLE_AT))


def _wall(rng: np.random.Generator, materials: tuple[str, ...], low_um: float, high_um: float) -> dict[str, str]:
    return {"material": str(rng.choice(materials)), "thickness": amount(rng.uniform(low_um, high_um), "um")}


def _surround(rng: np.random.Generator, soft: bool) -> dict[str, str]:
    kind, width = str(rng.choice(["half-roll", "flat"])), amount(rng.uniform(1.5, 4), "mm")
    return {"kind": kind, "width": width, **_wall(rng, ELASTIC, *((15, 40) if soft else (60, 220)))}


def _flank(rng: np.random.Generator, soft: bool) -> dict[str, Any]:
    width = rng.uniform(6, 12)
    flank: dict[str, Any] = {
        "width": amount(width, "mm"),
        "rise": amount(rng.uniform(2, 6), "mm"),
        "surround": _surround(rng, soft),
    }
    if rng.random() < 0.7:
        place = {"distance": amount(width * rng.uniform(0.35, 0.6), "mm"), "rise": "0 mm"}
        flank["steps"] = [{**place, "tread": amount(rng.uniform(0.8, 1.8), "mm"), **_wall(rng, ELASTIC, 60, 200)}]
    return flank


def _coil(rng: np.random.Generator, height_mm: float, least_g: float, most_g: float) -> dict[str, Any]:
    former = {"material": str(rng.choice(["aluminium alloy", "polyimide film"])), "thickness": "60 um"}
    return {
        "kind": "former",
        "former": former,
        "former_height": amount(height_mm, "mm"),
        "winding_mass": amount(rng.uniform(least_g, most_g), "g"),
        "winding_height": amount(height_mm / 2, "mm"),
    }


def _dome(rng: np.random.Generator, soft: bool) -> dict[str, Any]:
    profile = {
        "kind": "dome",
        "rim_diameter": amount(rng.uniform(18, 50), "mm"),
        "height": amount(rng.uniform(3, 8), "mm"),
        "surround": _surround(rng, soft),
    }
    return {"profile": profile, "coil": _coil(rng, rng.uniform(3, 6), 0.15, 0.8), "edges": {"outer": "clamped"}}


def _vee(rng: np.random.Generator, soft: bool) -> dict[str, Any]:
    profile = {
        "kind": "v",
        "coil_diameter": amount(rng.uniform(40, 70), "mm"),
        "inner": _flank(rng, soft),
        "outer": _flank(rng, soft),
    }
    return {"profile": profile, "coil": _coil(rng, 5, 0.8, 2), "edges": {"inner": "clamped", "outer": "clamped"}}


def _materials(data: Any) -> Iterator[str]:
    """Names of the materials that a design's data ask for."""
    if isinstance(data, dict):
        for key, value in data.items():
            if key == "material":
                yield value
            else:
                yield from _materials(value)
    elif isinstance(data, list):
        for value in data:
            yield from _materials(value)


def _surrounds(data: dict[str, Any]) -> set[str]:
    profile = data["profile"]
    parts = (profile, profile.get("inner", {}), profile.get("outer", {}))
    return {part["surround"]["material"] for part in parts if "surround" in part}
