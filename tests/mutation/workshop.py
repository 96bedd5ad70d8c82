"""Where are mutants tried: on a copy of the tree, laid out so that every import finds the copy."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

ROOMS = ("analysis", "daq", "gui")

KEPT = ROOT / "build" / "mutants"
"""What is kept from run to run, outside the copy: which tests run which line, and bench runs."""

IMPORTS = "build/imports"
"""Folder of the copy whose `strokewise` leads to its rooms, for this process and any it starts."""

LEFT_OUT = ("--ignore-glob=tests/*/window", "--ignore=tests/test_packaging.py")
"""Tests of the window show what the others hold already; those of the wheel look at no answer."""

PYTEST = ("-p", "no:pytest-qt", "--no-qt", "-q", *LEFT_OUT)


def copy_tree(folder: Path) -> Path:
    """Copy what the version control knows, or would take in, and return where it is now."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.splitlines()
    for name in listed:
        if (ROOT / name).is_file():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, folder / name)
    package = folder / IMPORTS / "strokewise"
    package.mkdir(parents=True, exist_ok=True)
    for room in ROOMS:
        if not (package / room).exists():
            (package / room).symlink_to(folder / room, target_is_directory=True)
    return folder


def environment(folder: Path) -> dict[str, str]:
    """Return the environment in which `strokewise` is the copy; one thread for numpy."""
    return {
        **os.environ,
        "PYTHONPATH": str(folder / IMPORTS),
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
        "PYTHONDONTWRITEBYTECODE": "",
        "STROKEWISE_KEPT_RUNS": str(KEPT / "bench-runs"),
    }
