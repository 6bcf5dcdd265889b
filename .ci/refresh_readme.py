"""Writes anew what README.md (verdict, figure) and DEVELOPERS.md (accuracy table) show of the tool's own results."""

import re
import shutil
import subprocess
import sys
import tempfile
import textwrap
from pathlib import Path

from diaphragm_fem.answer.evaluate import evaluate
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.report.words.verdict import points
from diaphragm_fem.verify.ladder import percent, run_ladder, summarise

ROOT = Path(__file__).parents[1]
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"
DESIGN = ROOT / "studies" / "stepped_v.toml"
FIGURE = ROOT / "studies" / "figures" / "stepped_v_area.png"


def put(text: str, pattern: str, fresh: str) -> str:
    """`text` with what matches between the two groups of the pattern replaced; refuses a text without the place."""
    changed, count = re.subn(pattern, lambda found: found[1] + fresh + found[2], text, flags=re.DOTALL)
    if count != 1:
        sys.exit(f"there must be one place that matches {pattern}, found {count}")
    return changed


file = read_design_file(DESIGN)
answer = evaluate(file.design, file=file)
wrapped = textwrap.TextWrapper(150, initial_indent="- ", subsequent_indent="  ", break_on_hyphens=False)
shown = "\n".join(wrapped.fill(point) for point in points(answer))
results = run_ladder()
accuracy = "| What | Held against | Values | Worst difference |\n|---|---|---:|---:|\n"
for row in summarise(results):
    accuracy += f"| {row.rung} | {row.against} | {row.values} | {percent(row.worst)} |\n"
failed = [result.check.id for result in results if not result.passed]
if failed:
    sys.exit(f"no table while checks fail: {', '.join(failed)}")

with tempfile.TemporaryDirectory() as folder:
    tool = Path(sys.executable).with_name("diaphragm-fem")
    subprocess.run([tool, "examine", DESIGN, "--out", f"{folder}/out", "--quiet"], check=True)
    FIGURE.parent.mkdir(exist_ok=True)
    shutil.copy(f"{folder}/out/area.png", FIGURE)

for document, pattern, fresh in (
    (README, r"(```text\n).*?(\n```)", shown),
    (DEVELOPERS, r"(<!-- accuracy table -->\n).*?(<!-- /accuracy table -->)", accuracy),
):
    document.write_text(put(document.read_text(encoding="utf-8"), pattern, fresh), encoding="utf-8")
