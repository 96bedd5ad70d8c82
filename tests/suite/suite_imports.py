"""Which of the product's files does a Python file import, itself and through others?"""

from __future__ import annotations

import ast
from collections.abc import Iterable
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

ROOMS = ("analysis", "daq", "gui")


@cache
def imported(file: Path) -> frozenset[str]:
    """Return the product's files that a file imports itself, from the root of the tree."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module, *(f"{node.module}.{each.name}" for each in node.names)]
        elif isinstance(node, ast.Import):
            names = [each.name for each in node.names]
        for name in names:
            package, _, rest = name.partition(".")
            if package == "strokewise" and rest.startswith(ROOMS):
                found.add(rest.replace(".", "/") + ".py")
    return frozenset(each for each in found if (ROOT / each).is_file())


def reached(files: Iterable[str]) -> list[str]:
    """Return files and all that they import, directly or not, in order."""
    found: set[str] = set()
    todo = set(files)
    while todo:
        found |= todo
        todo = {each for file in todo for each in imported(ROOT / file)} - found
    return sorted(found)
