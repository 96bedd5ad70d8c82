"""Does the page of outside checks list every check, and only what there is?"""

from __future__ import annotations

import ast
import re
from importlib import import_module
from pathlib import Path

import pytest

HERE = Path(__file__).parent
PAGE = (HERE / "README.md").read_text(encoding="utf-8")
SECTIONS = dict(re.findall(r"^## (\S+\.py)\n(.*?)(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL))
KINDS = {"published", "reference library", "common practice", "from memory"}
FILES = {
    path.relative_to(HERE).as_posix(): path
    for path in sorted(HERE.rglob("test_*.py"))
    if path != Path(__file__)
}


def rows(section: str) -> list[list[str]]:
    """Return the cells of a section's table, without its head."""
    lines = [line for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def beside(section: str) -> list[str]:
    """Return the tests that a section names as no outside checks."""
    found = re.search(r"Beside them, no outside check: (.*?)\.$", section, re.MULTILINE | re.DOTALL)
    return re.findall(r"`(\w+)`", found.group(1)) if found else []


def exercised(section: str) -> list[str]:
    """Return the modules that a section says it exercises."""
    said = section.strip().split("\n\n")[0]
    assert said.startswith("Exercises ")
    return re.findall(r"`([\w.]+)`", said)


def test_every_file_has_its_section_and_none_is_missing() -> None:
    assert set(SECTIONS) == set(FILES)


@pytest.mark.parametrize("name", FILES)
def test_every_check_of_a_file_is_listed_once(name: str) -> None:
    written = [
        node.name
        for node in ast.walk(ast.parse(FILES[name].read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    ]
    section = SECTIONS[name]
    listed = [row[0].strip("`") for row in rows(section)] + beside(section)
    assert sorted(listed) == sorted(written)


@pytest.mark.parametrize("name", FILES)
def test_every_check_says_source_kind_and_tolerance(name: str) -> None:
    table = rows(SECTIONS[name])
    assert table
    for check, source, kind, tolerance in table:
        assert source, check
        assert kind in KINDS, check
        assert tolerance, check


@pytest.mark.parametrize("name", FILES)
def test_what_a_file_exercises_is_ours_and_loaded_by_it(name: str) -> None:
    texts = FILES[name].read_text("utf-8") + "".join(
        (folder / "conftest.py").read_text("utf-8")
        for folder in FILES[name].parents
        if folder.is_relative_to(HERE) and (folder / "conftest.py").exists()
    )
    for module in exercised(SECTIONS[name]):
        import_module(f"strokewise.{module}")
        room, _, last = module.rpartition(".")
        whole = rf"from strokewise\.{re.escape(module)} import"
        by_name = rf"from strokewise\.{re.escape(room)} import .*\b{last}\b"
        assert re.search(f"{whole}|{by_name}", texts), module


@pytest.mark.parametrize("name", FILES)
def test_a_source_from_memory_is_labelled_in_the_file_too(name: str) -> None:
    """And a fact of the trade: whoever reads the assertion must not have to look here."""
    text = " ".join(FILES[name].read_text("utf-8").split()).lower()
    conftest = FILES[name].parent / "conftest.py"
    text += " ".join(conftest.read_text("utf-8").split()).lower() if conftest.exists() else ""
    kinds = {row[2] for row in rows(SECTIONS[name])}
    if "from memory" in kinds:
        assert "from memory" in text
    if "common practice" in kinds:
        assert "common practice" in text or "arithmetic" in text


def test_what_fails_today_is_said() -> None:
    """And nothing else is: who takes the mark off takes the line off."""
    found = re.search(r"^## Fails today\n(.*?)(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL)
    said = re.findall(r"^- `(\S+\.py)`", found.group(1), re.MULTILINE) if found else []
    marked = [name for name, path in FILES.items() if "xfail" in path.read_text("utf-8")]
    assert sorted(said) == sorted(marked)


def test_a_check_that_is_not_listed_would_be_noticed() -> None:
    """The reading of the page itself: one name taken out of a section is missed."""
    section = SECTIONS["test_orifice.py"]
    shorter = "\n".join(line for line in section.splitlines() if "`test_choked_flow`" not in line)
    assert [row[0] for row in rows(section)] != [row[0] for row in rows(shorter)]
    assert beside(section) == [
        "test_flow_runs_smoothly_through_equal_pressures",
        "test_flow_carries_the_enthalpy_of_the_side_it_comes_from",
    ]
