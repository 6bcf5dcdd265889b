"""What one structure frees serves the next."""

import os
import platform
import subprocess
import sys
from pathlib import Path

import pytest

DESIGN = Path(__file__).parents[2] / "studies" / "stepped_v.toml"
PAGES = 600  # of 4 kB for seven orders: 3 to 193 measured, 5,900 to 6,900 where freed memory goes back to the system
# (of three times the least: beside other programs the system took back 694 once)

CODE = """
import sys
from resource import RUSAGE_SELF, getrusage
import diaphragm_fem as dfem
from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.model.shell.shell import build_shell

design = dfem.load_design(sys.argv[1])
taken = []
for _ in range(4):
    before = getrusage(RUSAGE_SELF).ru_minflt
    shell = build_shell(design, corrected=True)
    for m in range(7):
        solve_modes(shell.structure(m), 20e3)
    taken.append(getrusage(RUSAGE_SELF).ru_minflt - before)
print(min(taken[1:]))
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="other C libraries keep memory in their own way")
def test_modes_of_a_shell_use_the_memory_of_those_before():
    kept = {name: value for name, value in os.environ.items() if not name.startswith("MALLOC_")}
    run = [sys.executable, "-c", CODE, str(DESIGN)]
    assert int(subprocess.run(run, capture_output=True, text=True, check=True, env=kept).stdout) < PAGES
