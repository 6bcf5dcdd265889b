"""Deliberate faults in the equations must be caught by the ladder: a sign, a factor 2, a missing m.

Each fault is written into a copy of the package, and a small part of the ladder is run on that copy in a process of its
own. A fault that every check survives fails the test. Run with `-m long`; the table in DEVELOPERS.md lists them.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

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


@dataclass(frozen=True)
class Fault:
    """What is done to which file, and the part of the ladder that must notice."""

    name: str
    file: str
    right: str
    wrong: str
    checks: tuple[str, ...]


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
        "model/shell.py",
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
        "model/ring_parts.py",
        "np.array([1.0, terms.m, 0.0]) / r",
        "np.array([1.0, 0.0, 0.0]) / r",
        ("wall/hoop",),
    ),
    Fault(
        "ring: mass counted twice",
        "model/ring_parts.py",
        "mass = ring.mass * terms.around",
        "mass = 2 * ring.mass * terms.around",
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
        "analysis/reduced.py",
        "matrices.imag = self.constant_loss",
        "matrices.imag = -self.constant_loss",
        ("area/rim-free-0.05",),
    ),
    Fault(
        "coil force: sign of the inertia",
        "analysis/reduced.py",
        "force - (2 * np.pi * frequency_hz) ** 2",
        "force + (2 * np.pi * frequency_hz) ** 2",
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
        "analysis/merit.py",
        "QUIET_SHARE = 0.3",
        "QUIET_SHARE = 0.4",
        ("lumped/decoupling",),
    ),
    Fault(
        "decoupling: read where the share rises",
        "analysis/merit.py",
        "(share.real[:-1] > 0) & (share.real[1:] <= 0)",
        "(share.real[:-1] <= 0) & (share.real[1:] > 0)",
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
)


def run_on_copy(folder: Path, checks: tuple[str, ...], fault: Fault | None) -> dict:
    """Outcome of a part of the ladder on a copy of the package with the fault in it."""
    copy = folder / "diaphragm_fem"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    if fault is not None:
        file = copy / fault.file
        source = file.read_text(encoding="utf-8")
        assert source.count(fault.right) == 1, f"{fault.file} no longer says '{fault.right}' once: mend this fault"
        file.write_text(source.replace(fault.right, fault.wrong), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", RUN, *checks],
        cwd=folder,
        env={"PYTHONPATH": str(folder), "PATH": "", "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    outcome = json.loads(done.stdout.splitlines()[-1])
    assert Path(outcome["file"]).is_relative_to(copy)
    assert outcome["ran"] >= 1
    return outcome


def test_every_fault_still_fits_the_source_and_is_listed():
    guide = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    for fault in FAULTS:
        assert (PACKAGE / fault.file).read_text(encoding="utf-8").count(fault.right) == 1, fault
        assert fault.name in guide, f"list '{fault.name}' in DEVELOPERS.md"


@pytest.mark.long
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_fault_is_caught(fault, tmp_path):
    outcome = run_on_copy(tmp_path, fault.checks, fault)
    assert outcome["failed"], f"no check of {fault.checks} noticed: {fault.name}"


@pytest.mark.long
def test_the_copy_without_a_fault_passes(tmp_path):
    checks = tuple(dict.fromkeys(pattern for fault in FAULTS for pattern in fault.checks))
    assert run_on_copy(tmp_path, checks, None)["failed"] == []
