"""What is passed on cannot be changed by whoever gets it, and what a module offers is there."""

from __future__ import annotations

import ast
import re
from collections import Counter
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
    "daq/wire/growing.py": {"Growing"},
}
"""What somebody keeps for himself while samples come in; everything else is frozen."""

PRODUCT = sorted(
    str(file.relative_to(ROOT))
    for room in ("analysis", "daq", "gui")
    for file in (ROOT / room).glob("**/*.py")
)

ROLES = {"AFTER", "EXAMPLE", "LABELS", "STEP"}
"""What every command or page has one of, under the same name everywhere."""


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
    module = import_module(
        "strokewise." + file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    )
    for name in module.__all__:
        assert hasattr(module, name)


def constants_in(file: str) -> set[str]:
    """Return the constants that a module defines, private ones without their underscore."""
    found = set()
    for node in ast.parse(read(file)).body:
        match node:
            case ast.Assign(targets=targets):
                pass
            case ast.AnnAssign(target=target):
                targets = [target]
            case _:
                continue
        for target in targets:
            for each in ast.walk(target):
                if isinstance(each, ast.Name) and each.id.isupper():
                    found.add(each.id.lstrip("_"))
    return found


def test_a_constant_has_one_meaning() -> None:
    """Two of one name are one fact that can come to differ, or two facts that look like one."""
    told = Counter(name for file in PRODUCT for name in constants_in(file))
    assert {name for name, times in told.items() if times > 1} == ROLES


def test_a_class_has_one_meaning() -> None:
    told = Counter(
        node.name
        for file in PRODUCT
        for node in ast.walk(ast.parse(read(file)))
        if isinstance(node, ast.ClassDef)
    )
    assert not [name for name, times in told.items() if times > 1]


WORD = re.compile(r"[^\W\d_][\w'-]+")
WORDS_MOST = 4
"""A string of more words is a sentence, and sentences are made in ``gui/``."""

NAMES = {
    "another mark on the rim",
    "dot, pointer or sprocket for another engine",
    "encoder clamp slipped and held since",
    "mark at another cylinder's TDC",
    "mark set at the overlap TDC",
    "mark stands for another angle",
    "outer ring of the pulley slipped",
    "pointer or flywheel for another engine",
    "pointer or pulley for another engine",
    "rotor, mark or pointer for another engine",
    "sensor in the cylinder stated",
    "firing order other than stated",
}
"""Codes of that length, of causes and of what to look at: programs read them."""


def sentences_in(file: str) -> list[str]:
    """Return the sentences of a file beside its docstrings and the texts of errors."""
    tree = ast.parse(read(file))
    parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}

    def is_told(node: ast.AST) -> bool:
        while node in parents:
            node = parents[node]
            if isinstance(node, ast.Raise | ast.Assert):
                return True
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("Error"):
                return True
        return False

    return [
        f"{file}:{node.lineno}: {node.value}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and len(WORD.findall(node.value)) > WORDS_MOST
        and node.value not in NAMES
        and not isinstance(parents[node], ast.Expr)
        and not is_told(node)
    ]


def test_no_sentence_stands_in_the_analysis() -> None:
    """It gives codes and facts; what is said of them stands in ``gui/sayings`` and the pages."""
    files = [file for file in MODULES if file.startswith("analysis/")]
    assert [found for file in files for found in sentences_in(file)] == []
