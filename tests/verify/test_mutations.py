"""Deliberate faults must be caught: in the equations by the ladder, in estimates of error and in sampling by tests.

Each fault is written into a copy of the package, and a small part of the ladder, or the tests named, are run on that
copy in a process of its own. A fault that they survive fails the test. Run with `-m long`; the table in DEVELOPERS.md
lists them.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import diaphragm_fem

PACKAGE = Path(diaphragm_fem.__file__).parent
RUN = """
import json, sys
from diaphragm_fem.verify.ladder import select
from diaphragm_fem.verify.run import run_ladder
wanted = {check.id: check for pattern in sys.argv[1:] for check in select(pattern)}
results = run_ladder(wanted.values())
print(json.dumps({"file": sys.modules["diaphragm_fem"].__file__, "ran": len(results),
                  "failed": [r.check.id for r in results if not r.passed]}))
"""
TESTS = Path(__file__).parents[1]
RUN_TESTS = """
import json, sys, pytest, diaphragm_fem
code = pytest.main(["-q", "-x", "-n", "0", "-p", "no:cacheprovider", "-m", "long or not long", *sys.argv[1:]])
print(json.dumps({"file": diaphragm_fem.__file__, "code": int(code)}))
"""
ALL_PASSED, SOME_FAILED = 0, 1  # what pytest returns; anything else means that the tests could not be run


@dataclass(frozen=True)
class Fault:
    """What is done to which file, and the part of the ladder, or the tests, that must notice."""

    name: str
    file: str
    right: str
    wrong: str
    checks: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()


AGAINST_DIRECT = "analysis/test_curve_against_direct.py::test_a_sampled_design_meets_its_direct_solves"
ERROR_OF_A_CURVE = "analysis/test_error_estimates.py::test_the_error_of_a_curve_is_told"
RESIDUAL = "analysis/test_error_estimates.py::test_the_residual_tells_what_a_poor_basis_misses"
NO_MODE_MISSING = "analysis/test_error_estimates.py::test_no_mode_is_missing"
JOINT_SHARES = "model/test_joint_shares.py::test_shares_are_positive_and_add_up"
JOINT_SPRINGS = "model/test_joint_shares.py::test_springs_are_what_condensing_says"
POSITIVE = "model/test_joints.py::test_whatever_the_moduli_the_stiffness_stays_positive"
MESH_ESTIMATES = "answer/test_convergence_estimates.py::test_estimates_of_a_sampled_design"

FAULTS = (
    Fault(
        "hoop strain: sign of m v",
        "model/shell_strain.py",
        "(x.u + m * x.v) / r",
        "(x.u - m * x.v) / r",
        ("plate/C-m2", "cylinder/fluegge-m2"),
    ),
    Fault(
        "in-plane shear: missing m",
        "model/shell_strain.py",
        "dx.v - t_r * x.v / r - m * along / r,",
        "dx.v - t_r * x.v / r - along / r,",
        ("cylinder/fluegge-m2", "cylinder/fluegge-m3"),
    ),
    Fault(
        "hoop bending: missing m",
        "model/shell_strain.py",
        "(t_r * x.b + m * x.q) / r",
        "(t_r * x.b + x.q) / r",
        ("plate/C-m2", "plate/F-m3"),
    ),
    Fault(
        "twist: factor 2",
        "model/shell_strain.py",
        "m * x.b / r + (at.kappa",
        "2 * m * x.b / r + (at.kappa",
        ("plate/F-m2", "plate/F-m3"),
    ),
    Fault(
        "twist: no turn about the normal",
        "model/shell_strain.py",
        " + (at.kappa - t_z / r) * about_normal",
        "",
        ("cylinder/elastic-0.01", "joined/cone-cylinder"),
    ),
    Fault(
        "twist: turn about the normal not halved",
        "model/shell_strain.py",
        "m * along / r) / 2",
        "m * along / r)",
        ("cylinder/elastic-0.01", "joined/cone-cylinder"),
    ),
    Fault(
        "meridian shear: sign of the rotation",
        "model/shell_strain.py",
        "t_r * dx.w + x.b,",
        "t_r * dx.w - x.b,",
        ("static/plates", "cap/60-0.05-C"),
    ),
    Fault(
        "hoop shear: sign of t_z v/r",
        "model/shell_strain.py",
        "m * across / r + t_z * x.v / r",
        "m * across / r - t_z * x.v / r",
        ("cylinder/fluegge-m2", "sphere/exact-m2-mirror"),
    ),
    Fault(
        "bending: h^3/6 for h^3/12",
        "model/elasticity.py",
        "own * (middle**2 + h**2 / 12)",
        "own * (middle**2 + h**2 / 6)",
        ("plate/C-m0", "static/plates"),
    ),
    Fault(
        "plane stress: shear modulus doubled",
        "model/elasticity.py",
        "[0, 0, (1 - nu) / 2]",
        "[0, 0, 1 - nu]",
        ("plate/F-m2", "cylinder/fluegge-m1"),
    ),
    Fault(
        "shear factor 1 for 5/6",
        "model/elasticity.py",
        "SHEAR_FACTOR = 5 / 6",
        "SHEAR_FACTOR = 1.0",
        ("thick-plate/C-0.2",),
    ),
    Fault(
        "layers: energy of shear doubled",
        "model/elasticity.py",
        "(g**2 @ weight) * h / 2 / shear",
        "(g**2 @ weight) * h / shear",
        ("wall/sandwich",),
    ),
    Fault(
        "waves: inertia of a bulge halved",
        "model/wave_inertia.py",
        "SHARE = 1 / 15",
        "SHARE = 1 / 30",
        ("law/default-mesh",),
    ),
    Fault(
        "no rotary inertia",
        "model/elasticity.py",
        "inertia[3, 3] = inertia[4, 4] = second",
        "inertia[3, 3] = inertia[4, 4] = 0 * second",
        ("thick-plate/C-0.2",),
    ),
    Fault(
        "laminate: no coupling of stretching and bending",
        "model/elasticity.py",
        "law[3:6, :3] = elastic * first",
        "law[3:6, :3] = 0 * elastic * first",
        ("wall/laminate-*-shell",),
    ),
    Fault(
        "full integration of the strains",
        "model/shell_line.py",
        "return line_points(self.mesh, 2)",
        "return line_points(self.mesh, 3)",
        ("plate/C-m2", "roll/up"),
    ),
    Fault(
        "axis, m = 1: sign of the tie",
        "model/numbering.py",
        '("v", "u", -1.0)',
        '("v", "u", 1.0)',
        ("sphere/exact-m1-mirror", "cap/60-0.05-C"),
    ),
    Fault(
        "ring: hoop stiffness without m",
        "model/rings.py",
        "square(u + m * v)",
        "square(u)",
        ("wall/hoop",),
    ),
    Fault(
        "ring: mass counted twice",
        "model/rings.py",
        "mass = ring.mass * around",
        "mass = 2 * ring.mass * around",
        ("ring/C-0.3-1",),
    ),
    Fault(
        "swept volume: sign of the radial part",
        "model/shell_motion.py",
        '("u", -heavy.at.t_z)',
        '("u", heavy.at.t_z)',
        ("static/hemisphere", "static/cylinder", "area/stepped-v"),
    ),
    Fault("solid: missing m^2", "model/solid_cells.py", "vv = m**2 * stiff", "vv = m * stiff", ("solid/cylinder-0.1",)),
    Fault(
        "solid: sign in the coupling of u and v",
        "model/solid_cells.py",
        "mu * (p(o, o) - p(o, r)))",
        "mu * (p(o, o) + p(o, r)))",
        ("solid/cylinder-0.1",),
    ),
    Fault(
        "solid: sign in the coupling of w and v",
        "model/solid_cells.py",
        "m * (lame * p(z, o) - mu * p(o, z))",
        "m * (lame * p(z, o) + mu * p(o, z))",
        ("solid/cylinder-0.1",),
    ),
    Fault("solid: Lame's constant", "model/solid_cells.py", "(1 - 2 * nu))", "(1 - nu))", ("solid/FV41-exact",)),
    Fault(
        "loss with the wrong sign",
        "model/structure.py",
        "found[k] = term.scale * term.law(frequency_hz)",
        "found[k] = term.scale * term.law(frequency_hz).conj()",
        ("area/rim-free-0.05",),
    ),
    Fault(
        "coil force: sign of the inertia",
        "model/structure.py",
        "omega = 2j * np.pi * frequency_hz",
        "omega = 2 * np.pi * frequency_hz",
        ("area/apparent-mass",),
    ),
    Fault(
        "moving mass: square forgotten",
        "analysis/static.py",
        "/ coil**2",
        "/ coil",
        ("static/free-mass", "static/on-springs"),
    ),
    Fault(
        "modal area: divided by the square",
        "analysis/modes.py",
        "@ vectors / coil",
        "@ vectors / coil**2",
        ("area/modal",),
    ),
    Fault(
        "hand-over: another threshold",
        "analysis/zone_figures.py",
        "QUIET_SHARE = 0.3",
        "QUIET_SHARE = 0.4",
        ("lumped/decoupling",),
    ),
    Fault(
        "decoupling: read where the share rises",
        "analysis/zone_figures.py",
        "(share[:-1] > 0) & (share[1:] <= 0)",
        "(share[:-1] <= 0) & (share[1:] > 0)",
        ("lumped/decoupling",),
    ),
    Fault(
        "large stroke: sign of the director's turn",
        "model/large_stroke/bent_meridian.py",
        "at.t_r * turned_cos + at.t_z * turned_sin",
        "at.t_r * turned_cos - at.t_z * turned_sin",
        ("stroke/washers",),
    ),
    Fault(
        "large stroke: slope of the wall left as drawn",
        "model/large_stroke/bent_meridian.py",
        "slope_r * cos + slope_z * sin, slope_z * cos - slope_r * sin",
        "slope_r * cos + slope_z * sin, slope_z * cos - at.t_r * sin",
        ("stroke/pressed-plate", "stroke/washers"),
    ),
    Fault(
        "large stroke: hoop bending by the drawn angle",
        "model/large_stroke/strain_about.py",
        "(cos * x.b + m * x.q) / r,",
        "(state.drawn.t_r * x.b + m * x.q) / r,",
        ("stroke/washers", "stroke/cap-dead"),
    ),
    Fault(
        "initial stress: meridian force on the turn b left out",
        "model/large_stroke/strain_about.py",
        "(b, across, -n_s),",
        "(b, across, 0 * n_s),",
        ("stroke/tension-m0",),
    ),
    Fault(
        "joints: shares of either sign",
        "model/joint_shares.py",
        "positive = (axes * np.maximum(level, 0.0)[..., None, :])",
        "positive = (axes * level[..., None, :])",
        tests=(JOINT_SHARES, POSITIVE),
    ),
    Fault(
        "joints: springs that know nothing of the ends they hold",
        "model/joint_springs.py",
        "np.eye(free * count) + soft @ square)",
        "np.eye(free * count) + 0 * soft @ square)",
        tests=(JOINT_SPRINGS,),
    ),
    Fault(
        "joints: section counted twice is left in",
        "model/joint_sections.py",
        "middle = np.maximum(middle, -MOST_TAKEN)",
        "middle = np.maximum(middle, 0.0)",
        tests=("model/test_joints.py::test_a_part_weighs_what_its_section_does",),
    ),
    Fault(
        "initial stress: hoop force on the turn q left out",
        "model/large_stroke/strain_about.py",
        "(q, y_n, -n_th),",
        "(q, y_n, 0 * n_th),",
        ("stroke/tension-m1", "stroke/tension-m2"),
    ),
    Fault(
        "follower pressure: sign of the radial part",
        "model/large_stroke/swept.py",
        "np.stack((-state.radius * state.slope_z",
        "np.stack((state.radius * state.slope_z",
        ("stroke/cap-follower",),
    ),
    Fault(
        "error of a curve: told as none",
        "analysis/area.py",
        "return float(np.max(np.abs(exact - curve.total) / scale))",
        "return 0.0",
        tests=(ERROR_OF_A_CURVE,),
    ),
    Fault(
        "error of a curve: 170 times too small",
        "analysis/area.py",
        "return float(np.max(np.abs(exact - curve.total) / scale))",
        "return float(np.max(np.abs(exact - curve.total) / scale)) / 170",
        tests=(ERROR_OF_A_CURVE,),
    ),
    Fault(
        "residual of a basis: 170 times too small",
        "analysis/reduced.py",
        "error = beyond + basis @ within",
        "error = (beyond + basis @ within) / 170",
        tests=(RESIDUAL,),
    ),
    Fault(
        "residual of a basis: what resonates left out",
        "analysis/reduced.py",
        "error = beyond + basis @ within",
        "error = beyond",
        tests=(RESIDUAL,),
    ),
    Fault(
        "mesh estimates: 170 times too small",
        "answer/convergence.py",
        "SAFETY = 2.0",
        "SAFETY = 2.0 / 170",
        tests=(MESH_ESTIMATES,),
    ),
    Fault(
        "mesh estimates: a tenth",
        "answer/convergence.py",
        "SAFETY = 2.0",
        "SAFETY = 0.2",
        tests=(MESH_ESTIMATES,),
    ),
    Fault(
        "mesh estimates: area told as exact",
        "answer/convergence.py",
        "whole = None if curve is None else change + area_error",
        "whole = None if curve is None else area_error",
        tests=(MESH_ESTIMATES,),
    ),
    Fault(
        "family of walls: always held to be good",
        "study/run/shared_meridian.py",
        "difference(name, found[name], value) <= TOLERANCE for",
        "True for",
        tests=("study/test_family_refused.py",),
    ),
    Fault(
        "modes: one counted less",
        "analysis/eigen.py",
        "return int((factors.U.diagonal() < 0).sum())",
        "return int((factors.U.diagonal() < 0).sum()) - 1",
        tests=(NO_MODE_MISSING,),
    ),
    Fault(
        "scan: no look between points",
        "analysis/sampling.py",
        "ROUNDS = 4\n",
        "ROUNDS = 0\n",
        tests=(AGAINST_DIRECT,),
    ),
    Fault(
        "scan: extremes not settled",
        "analysis/sampling.py",
        "TOP_ROUNDS = 6",
        "TOP_ROUNDS = 0",
        tests=(AGAINST_DIRECT,),
    ),
    Fault(
        "windows: of eight knots",
        "analysis/windows.py",
        "WIDTH = 16",
        "WIDTH = 8",
        tests=(AGAINST_DIRECT,),
    ),
    Fault(
        "curve: coil force off by 0.1 %",
        "analysis/reduced.py",
        "return Curve(frequency_hz, zone / coil, 1 / coil,",
        "return Curve(frequency_hz, zone / coil, 1.001 / coil,",
        tests=(AGAINST_DIRECT,),
    ),
)


def run_on_copy(folder: Path, program: str, arguments: Iterable[str], fault: Fault | None) -> dict[str, Any]:
    """What a program says last, run on a copy of the package with the fault in it."""
    copy = folder / "diaphragm_fem"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    if fault is not None:
        file = copy / fault.file
        source = file.read_text(encoding="utf-8")
        assert source.count(fault.right) == 1, f"{fault.file} no longer says '{fault.right}' once: mend this fault"
        file.write_text(source.replace(fault.right, fault.wrong), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=folder,
        env={"PYTHONPATH": str(folder), "PATH": "", "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    outcome = json.loads(done.stdout.splitlines()[-1])
    assert Path(outcome["file"]).is_relative_to(copy)
    return outcome


def failed_checks(folder: Path, checks: Iterable[str], fault: Fault | None) -> list[str]:
    outcome = run_on_copy(folder, RUN, checks, fault)
    assert outcome["ran"] >= 1
    return outcome["failed"]


def outcome_of_tests(folder: Path, tests: Iterable[str], fault: Fault | None) -> int:
    return run_on_copy(folder, RUN_TESTS, (str(TESTS / test) for test in tests), fault)["code"]


def test_every_fault_still_fits_the_source_and_is_listed():
    guide = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    for fault in FAULTS:
        assert (PACKAGE / fault.file).read_text(encoding="utf-8").count(fault.right) == 1, fault
        assert fault.name in guide, f"list '{fault.name}' in DEVELOPERS.md"
        assert bool(fault.checks) != bool(fault.tests), fault
        for test in fault.tests:
            file, _, name = test.partition("::")
            assert f"def {name}" in (TESTS / file).read_text(encoding="utf-8"), fault


@pytest.mark.long
@pytest.mark.parametrize("fault", [fault for fault in FAULTS if fault.checks], ids=lambda fault: fault.name)
def test_fault_in_the_equations_is_caught(fault, tmp_path):
    assert failed_checks(tmp_path, fault.checks, fault), f"no check of {fault.checks} noticed: {fault.name}"


@pytest.mark.long
@pytest.mark.parametrize("fault", [fault for fault in FAULTS if fault.tests], ids=lambda fault: fault.name)
def test_fault_in_an_estimate_is_caught(fault, tmp_path):
    assert outcome_of_tests(tmp_path, fault.tests, fault) == SOME_FAILED, f"{fault.tests} did not notice: {fault.name}"


@pytest.mark.long
def test_the_copy_without_a_fault_passes(tmp_path):
    checks = dict.fromkeys(pattern for fault in FAULTS for pattern in fault.checks)
    assert failed_checks(tmp_path / "checks", checks, None) == []
    tests = dict.fromkeys(test for fault in FAULTS for test in fault.tests)
    assert outcome_of_tests(tmp_path / "tests", tests, None) == ALL_PASSED
