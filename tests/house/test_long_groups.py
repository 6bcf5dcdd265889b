"""Every long test stands in one group of .ci/long_groups, so that none is forgotten; benchmarks but for those that are
named there are run by hand.
"""

import re
from pathlib import Path

from sampled_designs import GROUPS
from test_readme import tool_blocks

ROOT = Path(__file__).parents[2]
LINES = (ROOT / ".ci" / "long_groups").read_text(encoding="utf-8").splitlines()
PARTS = sorted(f"from-{k}" for k in range(0, 40, 5))  # of the random parts with joints
COMMANDS = sorted(str(block.id) for block in tool_blocks() if block.marks)  # of README.md
MUTANTS = sorted(str(k) for k in range(20))  # of a thousand each
PLACES = [place for line in LINES if not line.startswith("#") for place in line.split()[1:]]


def test_every_long_test_is_in_one_group():
    met = set()
    for file in sorted((ROOT / "tests").rglob("test_*.py")):
        source, name = file.read_text(encoding="utf-8"), file.relative_to(ROOT).as_posix()
        benchmark = name.startswith("tests/benchmarks") and name not in PLACES
        if file == Path(__file__) or "mark.long" not in source or benchmark:
            continue
        functions = re.findall(r"@pytest\.mark\.long\n(?:@[^\n]*\n(?:[ )\]][^\n]*\n)*)*def (test_\w+)", source)
        for one in functions or [""]:
            whole = f"{name}::{one}" if one else name
            inside = [
                place
                for place in PLACES
                if whole == place.partition("[")[0]
                or whole.startswith((f"{place}::", f"{place}/"))
                or (not one and place.startswith(f"{name}::"))
            ]
            met.update(inside)
            split = sorted(place.partition("[")[2].rstrip("]") for place in inside)
            told = f"{whole} is in {inside or 'no group'}: mend .ci/long_groups"
            assert split in ([""], sorted(GROUPS), PARTS, MUTANTS, COMMANDS), told
    assert set(PLACES) <= met, f"nothing long in {set(PLACES) - met}"


def test_a_group_has_a_name_of_its_own():
    names = [line.split()[0] for line in LINES if not line.startswith("#")]
    assert len(names) == len(set(names)) > 5
