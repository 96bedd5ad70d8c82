"""Which tests are worth the next minute: the near ones first, then the most for the time."""

from __future__ import annotations

from pathlib import Path

from suite_kept import error_of, turns_at
from suite_quick import worth
from suite_seconds import Spent, read, renewed, rounded, write

SPENT = {
    "slow": Spent(40, 60.0),
    "fast": Spent(200, 2.0),
    "near and slow": Spent(3, 90.0),
    "near": Spent(5, 1.0),
    "middling": Spent(20, 10.0),
}


def test_near_files_come_first_and_then_those_with_the_most_tests_a_second() -> None:
    taken = worth(SPENT, {"near", "near and slow"}, within_s=80.0, jobs=2)
    assert taken == ["near", "near and slow", "fast", "middling"]


def test_what_does_not_fit_is_left_to_the_whole_suite() -> None:
    assert worth(SPENT, set(), within_s=12.0, jobs=2) == ["fast", "near", "middling"]
    assert worth(SPENT, set(), within_s=5.0, jobs=1) == []


def test_a_line_of_the_table_stays_until_it_is_wrong_by_half() -> None:
    def kept(seconds: float) -> bool:
        took = {"a": Spent(10, seconds), "b": Spent(10, 200.0 - seconds)}
        return renewed({"a": Spent(10, 10.0), "b": Spent(10, 190.0)}, took)["a"].seconds == 10.0

    assert 14.5 < turns_at(kept, 10.0, 30.0) < 15.5


def test_a_slower_machine_changes_nothing() -> None:
    table = {"a": Spent(10, 10.0), "b": Spent(7, 30.0)}
    assert renewed(table, {f: Spent(e.tests, 4.0 * e.seconds) for f, e in table.items()}) == table


def test_figures_are_rounded_by_ratio() -> None:
    assert [rounded(each) for each in (0.0, 0.013, 1.2, 4.4, 8.7, 120.0)] == [
        0.0, 0.015, 1.0, 5.0, 10.0, 100.0,
    ]  # fmt: skip


def test_a_table_is_read_as_it_was_written(tmp_path: Path) -> None:
    (tmp_path / "test_a.py").touch()
    table = tmp_path / "seconds.txt"
    write({"test_a.py": Spent(10, 0.15), "test_gone.py": Spent(1, 1.0)}, table, tmp_path)
    assert read(table) == {"test_a.py": Spent(10, 0.15)}


def test_an_error_is_told_with_its_kind() -> None:
    assert error_of(lambda: int("x")).startswith("ValueError: ")
