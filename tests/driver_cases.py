"""Invented drivers for the tests: the demonstrations' diaphragms with a motor, chambers and slots."""

from typing import Any

import numpy as np
from places import STUDIES

from diaphragm_fem.design.files.input_file import read_toml_file
from diaphragm_fem.design.read.read import changed

SLOTS = [
    {"radius": "16.8 mm", "side": "inner", "width": "0.9 mm", "channel": {"length": "18 mm", "direction": "axial"}},
    {
        "radius": "25.9 mm",
        "side": "outer",
        "width": "0.9 mm",
        "channel": {"length": "18 mm", "areas": ["1.46 cm2", "2 cm2"]},
    },
]
TABLES: dict[str, Any] = {
    "motor": {
        "force_factor": "9 N/A",
        "coil_resistance": "6 ohm",
        "source_resistance": "0.1 ohm",
        "inductance": {"kind": "ideal", "inductance": "50 uH"},
    },
    "rear_chamber": {"volume": "120 cm3"},
    "front": {"kind": "thin chamber", "gap": "0.6 mm", "slots": SLOTS},
    "exit": {"diameter": "32 mm"},
}

SECOND: dict[str, Any] = {
    "distance": "20 mm",
    "slots": {"count": 4, "area": "35 mm2", "width": "0.8 mm", "length": "6 mm"},
    "volume": "4 cm3",
    "crossover": {"frequency": "1.5 kHz"},
    "table": {
        "frequency": ["20 Hz", "20 kHz"],
        "blocked_pressure": [500.0, 50.0],
        "phase": [0.0, -60.0],
        "resistance": [4e5, 4e5],
        "reactance": [0.0, 0.0],
    },
}
"""A lower section as a source, for `second_section`."""


def driver_data(name: str = "stepped_v", **changes: Any) -> dict[str, Any]:
    """Data of a demonstration's diaphragm with all tables; changes by key path, with __ for a dot."""
    data = {**read_toml_file(STUDIES / f"driver_{name}.toml"), **TABLES}
    return changed(data, {key.replace("__", "."): value for key, value in changes.items()})


def random_layout(seed: int) -> dict[str, Any]:
    """A gap and two or three slots somewhere on the straight V's flanks."""
    draw = np.random.default_rng(seed)
    gap = draw.uniform(0.3, 0.8)
    slots = []
    for side, low, high in (("inner", 16.6, 20.5), ("outer", 23.2, 26.2)):
        cuts = np.sort(draw.uniform(low, high, draw.integers(1, 3)))
        if len(cuts) == 2 and cuts[1] - cuts[0] < 1.0:
            cuts = cuts[:1]
        for r in cuts:
            channel = {"length": f"{draw.uniform(6, 25):.3f} mm", "direction": "axial"}
            width = f"{draw.uniform(0.4, min(1.0, 1.9 * gap)):.3f} mm"
            slots.append({"radius": f"{r:.4f} mm", "side": side, "width": width, "channel": channel})
    return {
        "front.gap": f"{gap:.4f} mm",
        "front.slots": slots,
        "rear_chamber.volume": f"{draw.uniform(40, 400):.1f} cm3",
    }
