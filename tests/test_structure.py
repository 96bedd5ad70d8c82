"""What is passed on cannot be changed by whoever gets it, and what a module offers is there."""

from __future__ import annotations

import ast
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

FROZEN = "frozen=True"

MODULES = sorted(
    str(file.relative_to(ROOT))
    for room in ("analysis", "daq", "gui/pages")
    for file in (ROOT / room).glob("**/*.py")
)

CHANGED_AS_THEY_GO = {
    "analysis/verdict/judge.py": {"Memory"},
    "daq/bench/engine/turning.py": {"_Path"},
    "daq/bench/rig/board.py": {"Boot"},
    "daq/wire/assemble.py": {"_Growing"},
}
"""What somebody keeps for himself while samples come in; everything else is frozen."""


def read(file: str) -> str:
    return (ROOT / file).read_text(encoding="utf-8")


def dataclasses_in(file: str) -> dict[str, str]:
    """Return the classes of a file that are dataclasses, with how."""
    found = {}
    for node in ast.walk(ast.parse(read(file))):
        if isinstance(node, ast.ClassDef):
            for decorator in map(ast.unparse, node.decorator_list):
                if decorator.startswith("dataclass"):
                    found[node.name] = decorator
    return found


def test_what_passes_between_modules_is_frozen() -> None:
    """An answer that somebody changes on its way is an answer nobody found."""
    loose = {
        file: found
        for file in MODULES
        if (found := {name for name, how in dataclasses_in(file).items() if FROZEN not in how})
    }
    assert loose == CHANGED_AS_THEY_GO


@pytest.mark.parametrize("file", [file for file in MODULES if "__all__" in read(file)])
def test_a_module_offers_what_it_says(file: str) -> None:
    module = import_module("strokewise." + file.removesuffix(".py").replace("/", "."))
    for name in module.__all__:
        assert hasattr(module, name)
