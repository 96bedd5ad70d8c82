"""``strokewise sheet``: two files beside the job, nothing written over, one line without Qt."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from strokewise.gui import cli


@pytest.fixture
def job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    assert cli.main(["job", "new", str(tmp_path / "job"), "--name", "Bench four"]) == 0
    capsys.readouterr()
    return tmp_path / "job"


def test_the_page_is_written_beside_the_job(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = sorted(path.name for path in job.iterdir())
    assert cli.main(["sheet", str(job), "--html-only"]) == 0
    page = job.with_name("job-sheet.html")
    assert capsys.readouterr().out == f"{page}\n"
    assert "Job sheet: Bench four" in page.read_text(encoding="utf-8")
    assert sorted(path.name for path in job.iterdir()) == before, "the job itself is not touched"


def test_an_existing_sheet_is_not_written_over(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = job.with_name("job-sheet.html")
    page.write_text("mine")
    assert cli.main(["sheet", str(job), "--html-only"]) == 2
    assert "is there already: choose another --out, or say --force" in capsys.readouterr().err
    assert page.read_text() == "mine"
    assert cli.main(["sheet", str(job), "--html-only", "--force"]) == 0
    assert page.read_text(encoding="utf-8") != "mine"


def test_without_qt_the_page_is_still_made(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "PySide6.QtCore", None)
    assert cli.main(["sheet", str(job), "--out", str(tmp_path / "handover")]) == 2
    said = capsys.readouterr()
    assert (tmp_path / "handover.html").exists()
    assert not (tmp_path / "handover.pdf").exists()
    assert said.err.count("\n") == 1
    assert "no PDF without Qt; install strokewise[window], or print the HTML" in said.err


def test_what_is_no_job_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["sheet", str(tmp_path)]) == 2
    assert "no job in this folder" in capsys.readouterr().err
