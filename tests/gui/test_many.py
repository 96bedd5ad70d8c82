"""Many recordings on many cores: the same answers in the same order, stoppable and resumable."""

import argparse
import json
import os
import shutil
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from suite_imports import ROOT

from strokewise.analysis.errors import InputError
from strokewise.gui import cli, many
from strokewise.gui.many import AHEAD, PrintedApart, in_order
from strokewise.gui.progress import MINUTES_FROM_S, time_left


def test_what_comes_of_it_is_in_the_order_of_the_items() -> None:
    first = threading.Event()

    def late(item: int) -> int:
        if item == 0:
            assert first.wait(10)
        elif item == 5:
            first.set()
        return item * item

    with ThreadPoolExecutor(4) as executor:
        assert list(in_order(late, range(200), executor)) == [n * n for n in range(200)]


def test_who_stops_early_lets_the_rest_be_forgotten() -> None:
    begun: list[int] = []
    with ThreadPoolExecutor(1) as executor:
        coming = in_order(begun.append, range(100_000), executor)
        next(coming)
        coming.close()
    assert len(begun) <= AHEAD + 2


def test_an_error_comes_out_where_it_belongs() -> None:
    with ThreadPoolExecutor(2) as executor, pytest.raises(ZeroDivisionError):
        list(in_order(lambda n: 1 // n, [1, 0, 1], executor))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("a", "c", "d", "e"):
        shutil.copy(ROOT / "recordings" / "manifold.swr", tmp_path / f"{name}.swr")
    (tmp_path / "b.swr").write_bytes(b"no recording")
    return tmp_path


def test_a_folder_on_all_cores_says_what_it_says_on_one(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(many, "cores_here", lambda: 2)
    assert cli.main(["find", str(folder), "--json"]) == 2
    apart = capsys.readouterr()
    monkeypatch.setattr(many, "cores_here", lambda: 1)
    assert cli.main(["find", str(folder), "--json"]) == 2
    alone = capsys.readouterr()
    assert apart == alone
    answers = [json.loads(line) for line in apart.out.splitlines()]
    assert [Path(each["file"]).stem for each in answers] == ["a", "c", "d", "e"]
    assert f"2 of 5: {folder / 'b.swr'}" in apart.err.splitlines()


def test_what_was_answered_is_not_answered_again(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = folder / "answers.jsonl"
    lines = [json.dumps({"file": str(folder / f"{name}.swr")}) for name in "acd"]
    done.write_text("\n".join([*lines, '{"file": "' + str(folder / "e.s")]))
    (folder / "b.swr").unlink()
    assert cli.main(["find", str(folder), "--json", "--resume", str(done)]) == 3
    (line,) = capsys.readouterr().out.splitlines()
    assert json.loads(line)["file"] == str(folder / "e.swr")


def test_the_answers_of_a_folder_are_one_table(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Also of what an earlier run answered, and of what could not be read."""
    (folder / "c.swr").unlink()
    assert cli.main(["find", str(folder), "--json"]) == 2
    lines = capsys.readouterr().out.splitlines()
    earlier, out = folder / "answers.jsonl", folder / "answers.parquet"
    earlier.write_text(lines[0] + "\n")
    said = ["--resume", str(earlier), "--parquet", str(out)]
    assert cli.main(["find", str(folder), *said]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "a.swr" not in shown.err
    rows = {Path(row["file"]).stem: row for row in pq.read_table(out).to_pylist()}
    assert list(rows) == ["a", "b", "d", "e"]
    assert "is not a recording" in rows["b"]["error"]
    for line in lines:
        answer = json.loads(line)
        row = rows[Path(answer["file"]).stem]
        assert row["error"] is None
        assert row["decided"] == answer["decided"]
        assert row["health.samples"] == answer["health"]["samples"]
        assert row["phase.probability"] == answer["phase"]["probability"]
        assert json.loads(row["phase.candidates"]) == answer["phase"]["candidates"]
        assert json.loads(row["warnings"]) == answer["warnings"]


def test_one_recording_has_its_table_too(tmp_path: Path) -> None:
    out, file = tmp_path / "one.parquet", str(ROOT / "recordings" / "manifold.swr")
    assert cli.main(["find", file, "--parquet", str(out)]) == 3
    (row,) = pq.read_table(out).to_pylist()
    assert row["file"] == file


def test_no_table_without_its_library_and_not_a_minute_later(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert cli.main(["find", str(folder), "--parquet", str(folder / "a.parquet")]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "pip install pyarrow" in line


def test_a_folder_that_a_worker_does_not_see_is_said(tmp_path: Path) -> None:
    work = PrintedApart(lambda file, args: 0, argparse.Namespace(), tmp_path / "elsewhere")
    with pytest.raises(InputError, match="not to be had on every worker"):
        work(tmp_path)


def test_time_left_is_told_where_it_is_long() -> None:
    assert time_left(20.0, 0.5, MINUTES_FROM_S) == ""
    assert time_left(600.0, 0.5, MINUTES_FROM_S) == ", some 10 min left"


@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="no cores can be taken away here")
def test_cores_that_are_not_to_be_had_are_not_counted():
    mine = os.sched_getaffinity(0)
    assert many.cores_here() == len(mine)
    try:
        os.sched_setaffinity(0, {min(mine)})
        assert many.cores_here() == 1
        with many.all_cores(100) as executor:
            assert executor is None
    finally:
        os.sched_setaffinity(0, mine)
