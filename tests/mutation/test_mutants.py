"""The count of small faults: one seed draws the same, in code that runs, counted without favour."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

WHY = "only what counts the faults needs cosmic-ray and coverage"
drawing = pytest.importorskip("drawing", reason=WHY, exc_type=ImportError)
covering = pytest.importorskip("covering", reason=WHY, exc_type=ImportError)
mutants = pytest.importorskip("mutants", reason=WHY, exc_type=ImportError)
operators = pytest.importorskip("operators", reason=WHY, exc_type=ImportError)
trying = pytest.importorskip("trying", reason=WHY, exc_type=ImportError)

SOURCE = '''\
"""What is the sum, 1 + 1?"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    LIMIT = 7

MOST_DEG = 30.0
"""Beyond 30 it is another."""

Pairs = dict[str, int | None]


def total(first: int | None, second: "int" = 2) -> int | None:
    """Return first + second."""
    if first is None:
        raise ValueError("no first")
    return first + second if first < MOST_DEG else 0
'''


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A tree with one module whose faults hurt."""
    (tmp_path / "daq" / "wire").mkdir(parents=True)
    (tmp_path / "daq" / "wire" / "framing.py").write_text(SOURCE)
    return tmp_path


def test_every_place_is_in_code_that_runs(folder: Path) -> None:
    drawn = drawing.draw(folder, 1000, seed=1)
    assert {each.line for each in drawn} == {10, 16, 18, 19, 20}
    dropped = next(each for each in drawn if each.operator == "DropStep")
    assert (dropped.before, dropped.after) == ('raise ValueError("no first")', "pass")
    assert all("int |" not in each.before or "XX" not in each.after for each in drawn)


def test_one_seed_draws_the_same_and_another_draws_others(folder: Path) -> None:
    assert drawing.draw(folder, 5, seed=3) == drawing.draw(folder, 5, seed=3)
    assert any(
        drawing.draw(folder, 5, seed=3) != drawing.draw(folder, 5, seed=n) for n in range(4, 8)
    )


@pytest.mark.parametrize("operator", [operators.ChangeText, operators.DropStep])
def test_our_own_faults_are_as_their_examples(operator: type) -> None:
    for example in operator.examples():
        made = drawing.mutated(example.pre_mutation_code, operator.__name__, 0)
        assert made == example.post_mutation_code


def test_a_constant_shows_where_a_function_names_it(folder: Path) -> None:
    where = covering.Where(folder, ["daq/wire/framing.py"])
    assert where.lines("daq/wire/framing.py", 10) == {"daq/wire/framing.py": {20}}
    assert where.lines("daq/wire/framing.py", 19) == {"daq/wire/framing.py": {19}}
    mutant = drawing.Mutant("daq/wire/framing.py", 10, "NumberReplacer", 0, "a", "b")
    known = covering.Covering(
        {"tests/test_b.py::slow": 3.0, "tests/test_b.py::fast": 0.1, "tests/test_a.py::other": 9.0},
        {
            "tests/test_b.py::slow": {"daq/wire/framing.py": [18, 20]},
            "tests/test_b.py::fast": {"daq/wire/framing.py": [20]},
            "tests/test_a.py::other": {"daq/wire/framing.py": [18, 19]},
        },
    )
    chosen = trying.chosen_tests(mutant, where, known, most_s=60.0)
    assert chosen == ["tests/test_b.py::fast", "tests/test_b.py::slow"]
    assert trying.chosen_tests(mutant, where, known, most_s=1.0) == ["tests/test_b.py::fast"]


def test_a_line_in_the_middle_of_a_statement_shows_when_the_statement_runs(tmp_path: Path) -> None:
    lines = ["def said(x):", " if (", "  x", " ):", "  return (", "   'a'", "   'b'", "  )", ""]
    text = "\n".join(lines)
    (tmp_path / "words.py").write_text(text)
    where = covering.Where(tmp_path, ["words.py"])
    assert where.lines("words.py", 7) == {"words.py": {5, 6, 7, 8}}
    assert where.lines("words.py", 3) == {"words.py": {2, 3, 4}}


def test_equivalents_are_counted_apart_and_only_where_nothing_noticed() -> None:
    def tried(outcome: str, before: str) -> Any:
        mutant = drawing.Mutant("daq/wire/framing.py", 1, "NumberReplacer", 0, before, "x")
        return trying.Tried(mutant, outcome, 0.0, 1)

    same = {("daq/wire/framing.py", "a", "x"): "no answer differs", ("*", "b", "x"): "nor here"}
    rows = [
        tried(trying.NOTICED, "a"),
        tried(trying.NOT_NOTICED, "a"),
        tried(trying.NO_TEST, "b"),
        tried(trying.NO_TEST, "c"),
    ]
    said = mutants.table(rows, same).splitlines()
    assert said[-1] == "| all | 4 | 2 | 1 of 2 | 50.0% | 2.5% |"


def test_an_equivalent_may_speak_of_a_part_of_a_line() -> None:
    same = {("*", "…strict=True…", "…strict=False…"): "the two are as long"}

    def counted(before: str, after: str) -> bool:
        mutant = drawing.Mutant("daq/wire/framing.py", 1, "NumberReplacer", 0, before, after)
        row = trying.Tried(mutant, trying.NOT_NOTICED, 0.0, 1)
        return "| 1 | 1 | 0 of 0 |" in mutants.table([row], same)

    assert counted("zip(a, b, strict=True)", "zip(a, b, strict=False)")
    assert not counted("zip(a, b, strict=True)", "zip(b, b, strict=False)")
    assert not counted("zip(a, b, strict=True)", "zip(a, b, strict= not True)")


def test_what_was_kept_is_followed_to_where_it_stands_now() -> None:
    """A file of tests that moved, and lines of the product under two that were put in."""
    kept = {
        "tests/test_a.py": {
            "hash": "h",
            "seconds": {"tests/test_a.py::one": 0.5},
            "lines": {"tests/test_a.py::one": {"daq/x.py": [1, 2, 3], "daq/gone.py": [1]}},
        },
        "tests/test_b.py": {"hash": "old", "seconds": {}, "lines": {}},
    }
    before = {"daq/x.py": "a\nb\nc\n", "daq/gone.py": "a\n"}
    now = {"tests/more/test_a.py": "h", "tests/test_b.py": "new"}
    found = covering._followed(kept, now, before, {"daq/x.py": "a\nx\ny\nb\nz\n"})
    assert found.keys() == {"tests/more/test_a.py"}
    lines = found["tests/more/test_a.py"]["lines"]
    assert lines == {"tests/more/test_a.py::one": {"daq/x.py": [1, 4, 5]}}


def test_the_least_share_is_that_of_clopper_and_pearson() -> None:
    """All of n noticed: at least 0.05^(1/n), by their formula."""
    assert mutants.least_share(59, 59) == pytest.approx(0.05 ** (1 / 59))
    assert mutants.least_share(0, 10) == 0.0


def test_every_equivalent_is_of_a_line_that_is_there() -> None:
    """An entry whose line has changed has to be looked at anew."""
    root = Path(__file__).resolve().parents[2]
    lines = {
        each.strip()
        for pattern in drawing.MODULES
        for file in root.glob(pattern)
        for each in file.read_text(encoding="utf-8").splitlines()
    }
    for file, line, _ in mutants.known_equivalents():
        part = line.strip(mutants.PART)
        there = line in lines or (part != line and any(part in each for each in lines))
        assert there, f"{file}: {line}"
