"""Every remark that the program can make has one sentence, with the facts that it is made of."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.gui.sayings import Told, as_said, say, told
from strokewise.gui.sayings.spoken import SAYINGS, SUBJECTS

ROOT = Path(__file__).parents[2]

FILES = [file for room in ("analysis", "daq", "gui") for file in (ROOT / room).rglob("*.py")]


def constants() -> dict[str, str]:
    """Return every module's name for a string, as codes have them: ``BURNS = "charge-burns"``."""
    found = {}
    for file in FILES:
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            target = node.target if isinstance(node, ast.AnnAssign) else None
            if isinstance(node, ast.Assign) and len(node.targets) == 1:
                target = node.targets[0]
            value = getattr(node, "value", None)
            if isinstance(target, ast.Name) and isinstance(value, ast.Constant):
                found[target.id] = value.value
    return {name: value for name, value in found.items() if isinstance(value, str)}


def made() -> Iterator[tuple[str, frozenset[str], str]]:
    """Yield the code, the names of the facts and the place of every remark in the source."""
    known = constants()
    for file in FILES:
        if file.name == "remark.py":  # where the two functions stand
            continue
        text = file.read_text(encoding="utf-8")
        if "remark(" not in text and "notice(" not in text:  # nothing to look for, node by node
            continue
        for node in ast.walk(ast.parse(text)):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
                continue
            if node.func.id not in {"remark", "notice"} or not node.args:
                continue
            code = node.args[0]
            named = known[code.id] if isinstance(code, ast.Name) else ast.literal_eval(code)
            facts = frozenset(str(keyword.arg) for keyword in node.keywords)
            yield named, facts, f"{file.relative_to(ROOT)}:{node.lineno}"


MADE = list(made())


def taken_by(code: str) -> frozenset[str]:
    """Return the names of the facts that a sentence takes."""
    saying = SAYINGS[code]
    if not isinstance(saying, str):
        return frozenset(inspect.signature(saying).parameters)
    names = (name for _, name, _, _ in Formatter().parse(saying) if name is not None)
    return frozenset(names)


def test_every_remark_has_a_sentence_and_every_sentence_a_remark() -> None:
    assert {code for code, _, _ in MADE} == set(SAYINGS)
    assert len(SAYINGS) == sum(len(subject) for subject in SUBJECTS)  # none stands twice


@pytest.mark.parametrize(("code", "facts", "where"), MADE, ids=[where for _, _, where in MADE])
def test_a_remark_has_the_facts_that_its_sentence_takes(
    code: str, facts: frozenset[str], where: str
) -> None:
    assert facts == taken_by(code)


def test_what_has_no_facts_is_no_pattern() -> None:
    """A brace left over from a typed text would be printed."""
    for saying in SAYINGS.values():
        if isinstance(saying, str):
            assert "{}" not in saying


def test_a_remark_within_a_remark_is_said_in_its_place() -> None:
    both = remark("neither-known", tdc=remark("tdc-too-rough", half_width_deg=41.6))
    assert say(both).startswith(
        "neither stroke nor TDC is known: TDC is known no better than ± 42°"
    )


def test_words_from_elsewhere_stay_as_they_are() -> None:
    assert say(as_said("a {brace} and 50 %")) == "a {brace} and 50 %"


def test_a_notice_is_told_with_its_code() -> None:
    one, other = notice("cut", bytes=3), Notice("withdrawn", remark("answer-moved", by_deg=-360.0))
    assert told((one, other)) == (
        Told("cut", "3 bytes of the recording are cut off or damaged; the answer is from what is"
             " there"),
        Told("withdrawn", "the answer has moved by −360°: do not use what it was before"),
    )  # fmt: skip


def test_a_remark_prints_its_code_and_facts() -> None:
    flat = remark("withdrawn", why=Remark("pressure-flat"))
    assert str(flat) == "withdrawn(why=pressure-flat)"
    assert flat["why"] == Remark("pressure-flat")
