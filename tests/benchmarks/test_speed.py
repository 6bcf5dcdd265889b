"""How long the main answers take on the stepped V of the demonstrations: run with --benchmark-enable, one core.

Nothing here asserts a time: machines differ and are noisy. Ratios are taken within one run.
"""

import subprocess
import sys
from dataclasses import replace
from itertools import count
from time import perf_counter

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.analysis.solution import direct_area
from diaphragm_fem.answer.driver.curve import driver_curve
from diaphragm_fem.answer.driver.loaded import in_vacuum, load_design_on
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.answer.walls.grid import read_wall_grid
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.model.shell.shell import build_shell

STEPPED_V = STUDIES / "stepped_v.toml"


@pytest.fixture(scope="module")
def stepped_v():
    return load_design(STEPPED_V)


def test_modes_and_resolved_area_curve(benchmark, stepped_v):
    """Shell, m = 0: mesh, matrices, all modes to 20 kHz and an area curve of 400 points with its figures."""

    def whole():
        found = quick(stepped_v)
        found.solution.curve(400)
        return found

    result = benchmark(whole)
    assert len(result.solution.mode_hz) > 3


def test_the_plain_way_takes_longer(benchmark, stepped_v):
    """The same curve with one sparse factorisation per frequency: the ratio goes into the report."""
    frequency = quick(stepped_v).solution.curve(400).frequency_hz
    structure = build_shell(stepped_v, corrected=True).structure(0)
    begin = perf_counter()
    reduced = quick(stepped_v).solution.curve(400)
    fast = perf_counter() - begin
    plain = benchmark.pedantic(direct_area, (structure, frequency), rounds=2, iterations=1)
    if benchmark.stats:
        ratio = benchmark.stats.stats.min / fast
        benchmark.extra_info["plain way over reduced"] = round(ratio, 1)
        print(
            f"\nplain way {benchmark.stats.stats.min:.3f} s, reduced with modes and mesh {fast:.3f} s, "
            f"ratio {ratio:.1f}"
        )
    scale = np.maximum(np.abs(plain.total), abs(reduced.low.sum()))
    assert np.max(np.abs(plain.total - reduced.total) / scale) < 2e-4


def test_modes_of_seven_orders(benchmark, stepped_v):
    """Shell, m = 0...6: mesh, matrices and all modes to 20 kHz."""

    def seven():
        model = build_shell(stepped_v)
        return [solve_modes(model.structure(m), 20e3) for m in range(7)]

    assert all(len(modes) > 3 for modes in benchmark(seven))


def test_solid_modes(benchmark, stepped_v):
    """Solid, m = 0: section, matrices and all modes to 5 kHz."""
    from diaphragm_fem.model.solid.solid import build_solid

    result = benchmark(lambda: solve_modes(build_solid(stepped_v, up_to_hz=5e3).structure(0), 5e3))
    assert len(result) > 1


def test_loaded_curve_of_a_driver(benchmark):
    """From the design to level, impedance, excursions and power by cause at 400 points, the diaphragm solved anew."""
    design, frequency = load_design(STUDIES / "driver_stepped_v.toml"), np.geomspace(20, 20e3, 400)

    def whole():
        in_vacuum.cache_clear()
        return driver_curve(load_design_on(design), frequency, places=61)

    assert len(benchmark(whole).power) > 5


def test_another_layout_of_slots(benchmark):
    """The same levels for slots that moved, on a diaphragm that is solved already."""
    design, frequency = load_design(STUDIES / "driver_stepped_v.toml"), np.geomspace(20, 20e3, 400)
    front, moves = design.driver.front, count(1)

    def layout():
        first, second = front.slots
        moved = replace(front, slots=(replace(first, radius=first.radius + 1e-6 * next(moves)), second))
        other = replace(design, driver=replace(design.driver, front=moved))
        return driver_curve(load_design_on(other), frequency, power=False)

    assert benchmark(layout).level_db.max() > 130


@pytest.mark.long
def test_whole_job_in_its_own_process(benchmark, tmp_path):
    """The whole-job verb with second opinion and figures, from a cold start."""
    command = [sys.executable, "-m", "diaphragm_fem.cli", "examine", str(STEPPED_V), "--out", str(tmp_path / "out")]
    done = benchmark.pedantic(subprocess.run, (command,), {"capture_output": True}, rounds=2, iterations=1)
    assert done.returncode == 0, done.stderr.decode()


@pytest.mark.long
@pytest.mark.parametrize("name", ["straight_v", "stepped_v"])
def test_grid_of_walls(benchmark, name):
    """Ten materials by fifty thicknesses on one mesh, four of them checked by the full model."""
    materials = [
        "PET film", "PEN film", "PEI film", "PEEK film", "polyimide film", "aluminium alloy", "titanium",
        "magnesium alloy", "paper", "phenolic cloth",
    ]  # fmt: skip
    thicknesses = [f"{h:.2f} um" for h in np.geomspace(25, 100, 50)]
    asked = (STUDIES / f"{name}.toml", materials, thicknesses)
    grid = benchmark.pedantic(read_wall_grid, asked, rounds=3, iterations=1)
    assert grid.figures["break_up_mode_hz"].shape == (10, 50)
