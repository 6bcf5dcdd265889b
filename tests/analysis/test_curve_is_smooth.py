"""A curve moves smoothly with the design: gradients and rankings of a study read its small changes.

Along 100 steps of 1e-4 of a key's range, 33 by default, what the quick path adds to direct solves on the same mesh has
second differences below 1e-5 of the larger of |S| and the area at rest, where mesh counts change below 1e-4. Mode
frequencies on equal meshes have third differences below 1e-7: two modes that repel one another bend, and second
differences show it. Where the matrices themselves do not hold that much, low modes of thin soft parts, five times what
becomes of a frequency as each entry of the stiffness is moved by half its last digit. Run long tests with -s to see
what each measures.
"""

from typing import NamedTuple

import numpy as np
import pytest
from places import STUDIES
from sampled_designs import sampled_data
from scipy.sparse import triu

from diaphragm_fem.analysis.modes.eigen import Eigenpairs
from diaphragm_fem.analysis.solution import direct_area, solve
from diaphragm_fem.design.files.input_file import read_toml_file
from diaphragm_fem.design.files.key_path import write_path
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.shell.shell import ShellModel
from diaphragm_fem.model.structure import Structure

STEPS, STEP = 100, 1e-4
SMOOTH, SMOOTH_AT_NEW_MESH, SMOOTH_MODES, TIMES_ROUNDING = 1e-5, 1e-4, 1e-7, 5.0
MOST_MODES = 100
FREQUENCY = np.geomspace(30, 19.9e3, 30)
UP_TO_HZ = 20e3


class Rough(NamedTuple):
    """Largest second differences of the area on equal meshes, and where meshes change; third ones of the mode that is
    worst against what it is allowed, and that; mesh changes met.
    """

    area: float
    at_new_mesh: float
    modes: float
    allowed: float
    changes: int


def scatter(structure: Structure, pairs: Eigenpairs, pick: np.random.Generator) -> np.ndarray:
    """Relative changes of mode frequencies (M,) as each entry of the stiffness is moved by up to half a digit."""
    moved = []
    for square, shape in zip(pairs.squares, pairs.vectors.T, strict=True):
        upper = triu(structure.stiffness_at(np.sqrt(max(square, 1.0)) / (2 * np.pi)), format="coo")
        off = upper.data * pick.uniform(-1, 1, len(upper.data)) * np.finfo(float).eps / 2
        energy = shape[upper.row] * off * shape[upper.col] * np.where(upper.row == upper.col, 1, 2)
        moved.append(energy.sum() / (2 * square))
    return np.array(moved)[structure.rigid_modes :]


def roughness(data: dict, key: str, unit: str, low: float, high: float, steps: int) -> Rough:
    added, scale, modes, noise, meshes = [], [], [], [], []
    pick = np.random.default_rng(1)

    def mesh_at(share: float) -> MeridianMesh:
        write_path(data, key, f"{low + share * (high - low):.12g} {unit}")
        return mesh_meridian(design_from(data, "smooth.toml"), UP_TO_HZ)

    shares = np.arange(0.3, 0.7, (steps - 2) * STEP)
    coarse = [counts(mesh_at(share)) for share in shares]
    new = [k for k in range(1, len(coarse)) if coarse[k] != coarse[k - 1]]
    for k in range(steps):  # about a change of the mesh where the range holds one
        mesh = mesh_at(shares[new[len(new) // 2]] + (k - steps + 1) * STEP if new else shares[0] + k * STEP)
        structure = ShellModel(mesh).structure(0)
        solution = solve(structure, UP_TO_HZ)
        exact = direct_area(structure, FREQUENCY).total
        added.append(solution.reduced.curve(FREQUENCY).total - exact)
        scale.append(np.maximum(np.abs(exact), abs(float(solution.static.low.sum()))))
        modes.append(solution.mode_hz)
        noise.append(scatter(structure, solution.pairs, pick))
        meshes.append(counts(mesh))
    same = np.array([meshes[k - 1] == meshes[k] == meshes[k + 1] for k in range(1, steps - 1)])
    bend = np.abs(np.diff(np.array(added), 2, axis=0)) / np.array(scale)[1:-1]
    runs = [slice(k - 1, k + 3) for k in range(1, steps - 2) if same[k - 1] and same[k]]
    runs = [run for run in runs if len({len(one) for one in modes[run]}) == 1]
    moved, allowed = np.zeros(MOST_MODES), np.full(MOST_MODES, SMOOTH_MODES)
    for run in runs:
        count = len(modes[run.start])
        bent, rounded = (np.abs(np.diff(list_of[run], 3, axis=0)[0]) for list_of in (modes, noise))
        moved[:count] = np.maximum(moved[:count], bent / modes[run.start])
        allowed[:count] = np.maximum(allowed[:count], TIMES_ROUNDING * rounded)
    worst = int((moved / allowed).argmax())
    at_new_mesh = bend[~same].max(initial=0.0)
    return Rough(bend[same].max(), at_new_mesh, moved[worst], allowed[worst], len(set(meshes)) - 1)


def counts(mesh: MeridianMesh) -> tuple[int, ...]:
    return tuple(len(stations) for stations in mesh.stations)


def check(data: dict, *range_of_key, steps: int = STEPS) -> None:
    found = roughness(data, *range_of_key, steps)
    modes = f"modes {found.modes:.1e} where {found.allowed:.1e} is allowed"
    measured = f"area {found.area:.1e}, at {found.changes} new meshes {found.at_new_mesh:.1e}, {modes}"
    print(f"\n{data['name']}, {range_of_key[0]}: {measured}")
    assert found.area < SMOOTH
    assert found.at_new_mesh < SMOOTH_AT_NEW_MESH
    assert found.modes < found.allowed


def test_a_dome_on_a_wider_surround() -> None:
    check(read_toml_file(STUDIES / "metal_dome.toml"), "profile.surround.width", "mm", 1.0, 3.0, steps=STEPS // 3)


@pytest.mark.long
@pytest.mark.parametrize(
    "name, key, unit, low, high",
    [
        ("stepped_v", "profile.inner.steps.0.tread", "mm", 0.8, 1.8),
        ("stepped_v", "profile.outer.steps.0.distance", "mm", 1.2, 2.4),
        ("stepped_v", "wall.thickness", "um", 62.0, 100.0),  # at 60 um, the steps' own, their corners have a kink
        ("straight_v", "profile.outer.rise", "mm", 4.0, 8.0),
        ("soft_dome", "profile.height", "mm", 5.0, 9.0),
        ("metal_dome", "profile.surround.width", "mm", 1.0, 3.0),
    ],
)
def test_a_demonstration(name: str, key: str, unit: str, low: float, high: float) -> None:
    check(read_toml_file(STUDIES / f"{name}.toml"), key, unit, low, high)


@pytest.mark.long
@pytest.mark.parametrize("group, number", [("tables", 10), ("tables", 2), ("lossless", 1), ("soft", 1)])
def test_a_sampled_design(group: str, number: int) -> None:
    check(sampled_data(group, number), "wall.thickness", "um", 25.0, 90.0)
