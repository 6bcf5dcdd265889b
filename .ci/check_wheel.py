"""Builds the wheel and refuses one that lacks a tracked file of the package: code, material data, schema."""

import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

with tempfile.TemporaryDirectory() as folder:
    pip = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", folder, "."]
    subprocess.run(pip, check=True)
    (wheel,) = Path(folder).glob("*.whl")
    packed = set(zipfile.ZipFile(wheel).namelist())

listing = subprocess.run(["git", "ls-files", "diaphragm_fem"], check=True, capture_output=True, text=True)
tracked = set(listing.stdout.split())
missing = sorted(tracked - packed)
print(f"{wheel.name}: {len(tracked)} tracked files, {len(missing)} missing {missing or ''}")
sys.exit(bool(missing) or not tracked)
