"""Does an installed strokewise hold all that the tree holds?

``packages`` in pyproject.toml lists every package by hand: one left out is silently missing from
the wheel, though an editable install shows nothing of it.
"""

import os
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("analysis", "daq", "gui")
SOURCE_SUFFIXES = {".py", ".typed", ".toml", ".json", ".html", ".css", ".svg"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel the way pip does, from a copy so that the tree stays clean."""
    copy = tmp_path_factory.mktemp("tree")
    out = tmp_path_factory.mktemp("wheel")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        (copy / name).write_bytes((ROOT / name).read_bytes())
    for source in tree_files():
        target = copy / source
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes((ROOT / source).read_bytes())
    done = run("-m", "pip", "wheel", "--quiet", "--no-deps", "-w", str(out), str(copy))
    assert done.returncode == 0, done.stderr
    [built] = out.glob("*.whl")
    return built


def tree_files() -> list[Path]:
    """Every file of the three rooms that belongs in the wheel, relative to the root."""
    return sorted(
        path.relative_to(ROOT)
        for room in ROOMS
        for path in (ROOT / room).rglob("*")
        if path.is_file() and path.suffix in SOURCE_SUFFIXES and "__pycache__" not in path.parts
    )


def test_the_wheel_holds_every_file_of_the_tree(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        packed = set(archive.namelist())
    missing = [str(path) for path in tree_files() if f"strokewise/{path.as_posix()}" not in packed]
    assert not missing, f"list their packages or package-data in pyproject.toml: {missing}"


def test_the_wheel_marks_every_room_as_typed(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        packed = set(archive.namelist())
    assert {f"strokewise/{room}/py.typed" for room in ROOMS} <= packed


def test_the_wheel_brings_nothing_else_to_the_top(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        tops = {name.split("/")[0] for name in archive.namelist()}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"strokewise"}


def test_a_plain_install_runs_from_its_own_files(wheel: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    install = ["install", "--quiet", "--no-deps", "--no-index", "--target", str(site), str(wheel)]
    assert run("-m", "pip", *install).returncode == 0
    # The folder goes before whatever strokewise the test environment itself has installed.
    environment = {**os.environ, "PYTHONPATH": str(site)}
    found = run("-c", "import strokewise.gui as g; print(g.__file__)", env=environment)
    assert found.stdout.strip() == str(site / "strokewise" / "gui" / "__init__.py")
    command = run(str(site / "bin" / "strokewise"), "--version", env=environment)
    assert (command.returncode, command.stderr) == (0, "")


def test_the_module_runs_like_the_command(tmp_path: Path) -> None:
    done = run("-m", "strokewise.gui", "--version", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("strokewise ")


def run(*args: str, **options: Any) -> "subprocess.CompletedProcess[str]":
    """Run this Python with arguments and return what it printed."""
    return subprocess.run(
        [sys.executable, *args], capture_output=True, text=True, check=False, **options
    )
