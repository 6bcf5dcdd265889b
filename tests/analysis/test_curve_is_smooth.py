"""A curve moves smoothly with the design: gradients and rankings of a study read its small changes.

Along 100 steps of 1e-4 of a key's range, what the quick path adds to direct solves on the same mesh has second
differences below 1e-5 of the larger of |S| and the area at rest, where mesh counts change below 1e-4; mode frequencies
have second differences below 1e-7, the meshes that change left out. Run long tests with -s to see what each measures.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from sampled_designs import sampled_data

from diaphragm_fem.analysis.area import direct_area
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.design.input_file import read_toml_file
from diaphragm_fem.design.key_path import write_path
from diaphragm_fem.design.read import design_from
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.shell import ShellModel

STUDIES = Path(__file__).parents[2] / "studies"
STEPS, STEP = 100, 1e-4
SMOOTH, SMOOTH_AT_NEW_MESH, SMOOTH_MODES = 1e-5, 1e-4, 1e-7
FREQUENCY = np.geomspace(30, 19.9e3, 30)
UP_TO_HZ = 20e3
COARSE = np.arange(0.3, 0.7, (STEPS - 2) * STEP)


def roughness(data: dict, key: str, unit: str, low: float, high: float) -> tuple[float, float, float, int]:
    """Largest second differences: of the area on equal meshes, where meshes change, of modes; and mesh changes met."""
    added, scale, modes, meshes = [], [], [], []

    def mesh_at(share: float) -> MeridianMesh:
        write_path(data, key, f"{low + share * (high - low):.12g} {unit}")
        return mesh_meridian(design_from(data, "smooth.toml"), UP_TO_HZ)

    coarse = [counts(mesh_at(share)) for share in COARSE]
    new = [k for k in range(1, len(coarse)) if coarse[k] != coarse[k - 1]]
    for k in range(STEPS):  # about a change of the mesh where the range holds one
        mesh = mesh_at(COARSE[new[len(new) // 2]] + (k - STEPS + 1) * STEP if new else COARSE[0] + k * STEP)
        structure = ShellModel(mesh).structure(0, by_zone=False)
        solution = solve(structure, UP_TO_HZ)
        exact = direct_area(structure, FREQUENCY).total
        added.append(solution.reduced.curve(FREQUENCY).total - exact)
        scale.append(np.maximum(np.abs(exact), abs(float(solution.static.low.sum()))))
        modes.append(solution.mode_hz)
        meshes.append(counts(mesh))
    same = np.array([meshes[k - 1] == meshes[k] == meshes[k + 1] for k in range(1, STEPS - 1)])
    bend = np.abs(np.diff(np.array(added), 2, axis=0)) / np.array(scale)[1:-1]
    lists = [modes[k - 1 : k + 2] for k in range(1, STEPS - 1) if same[k - 1]]
    moved = [
        np.max(np.abs(np.diff(three, 2, axis=0) / three[1])) for three in lists if len({len(one) for one in three}) == 1
    ]
    return bend[same].max(), bend[~same].max(initial=0.0), max(moved), len(set(meshes)) - 1


def counts(mesh: MeridianMesh) -> tuple[int, ...]:
    return tuple(len(stations) for stations in mesh.stations)


def check(data: dict, *range_of_key) -> None:
    area, at_new_mesh, modes, changes = roughness(data, *range_of_key)
    measured = f"area {area:.1e}, at {changes} new meshes {at_new_mesh:.1e}, modes {modes:.1e}"
    print(f"\n{data['name']}, {range_of_key[0]}: {measured}")
    assert area < SMOOTH
    assert at_new_mesh < SMOOTH_AT_NEW_MESH
    assert modes < SMOOTH_MODES


def test_a_dome_on_a_wider_surround() -> None:
    check(read_toml_file(STUDIES / "metal_dome.toml"), "profile.surround.width", "mm", 1.0, 3.0)


@pytest.mark.long
@pytest.mark.parametrize(
    "name, key, unit, low, high",
    [
        ("stepped_v", "profile.inner.steps.0.tread", "mm", 0.8, 1.8),
        ("stepped_v", "profile.outer.steps.0.distance", "mm", 1.2, 2.4),
        ("stepped_v", "wall.thickness", "um", 25.0, 100.0),
        ("straight_v", "profile.outer.rise", "mm", 4.0, 8.0),
        ("soft_dome", "profile.height", "mm", 5.0, 9.0),
    ],
)
def test_a_demonstration(name: str, key: str, unit: str, low: float, high: float) -> None:
    check(read_toml_file(STUDIES / f"{name}.toml"), key, unit, low, high)


@pytest.mark.long
@pytest.mark.parametrize("group, number", [("tables", 10), ("tables", 2), ("lossless", 1), ("soft", 1)])
def test_a_sampled_design(group: str, number: int) -> None:
    check(sampled_data(group, number), "wall.thickness", "um", 25.0, 90.0)
