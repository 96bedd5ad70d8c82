"""Nothing that a recording, a profile or a job says can control the screen that shows it."""

import csv
import json
import re
from pathlib import Path

import pytest

from strokewise.daq.recording.container import Chunk, Jotting
from strokewise.daq.recording.read import open_recording
from strokewise.daq.recording.writer import RecordingWriter
from strokewise.gui import cli
from strokewise.gui.safe_text import safe_cell, safe_line, safe_text

ROOT = Path(__file__).parents[2]
EVIL = "\x1b[2J\x9b31m\u202e12.4\u2066\r\x07"
CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@pytest.fixture
def evil(tmp_path: Path) -> Path:
    """Return a recording whose every text is hostile, of the one whose marks lie."""
    contents = open_recording(ROOT / "recordings" / "marks-that-lie.swr")
    engine = json.loads(json.dumps(contents.header["engine"]))
    for mark in engine["marks"]:
        mark["name"] = f"={mark['name']}"
    header = {"started": EVIL, "software": f"={EVIL}\nsegment,1", "engine": engine}
    path = tmp_path / "evil.swr"
    with RecordingWriter(path, header) as writer:
        writer.append(Jotting(0, note=f"{EVIL}\n# health: nothing lost"))
        for item in contents.items:
            if isinstance(item, Chunk):
                writer.append(item)
        writer.append(Jotting(10**7, mark=f"@{EVIL}"))
    return path


@pytest.mark.parametrize("command", ["check", "marks"])
def test_a_recording_controls_no_terminal(
    command: str, evil: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main([command, str(evil)]) in (0, 2, 3)
    out, err = capsys.readouterr()
    assert command != "check" or "u202e" in out, "the hostile text was not shown at all"
    assert not CONTROLS.search(out + err)


def test_json_says_the_same_without_controls(
    evil: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cli.main(["check", str(evil), "--json"])
    out, _ = capsys.readouterr()
    assert not CONTROLS.search(out)
    assert json.loads(out)["started"] == EVIL


def test_error_lines_control_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    for argv in (["find", f"{EVIL}.swr"], ["find", "x", "--set", f"bore=3 {EVIL}"], [EVIL]):
        try:
            code = cli.main(argv)
        except SystemExit as left:
            code = left.code
        assert code == 2
        _, err = capsys.readouterr()
        assert not CONTROLS.search(err), err


def test_a_profile_and_a_job_control_neither_terminal_nor_sheet(
    evil: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job"
    cli.main(["job", "new", str(job), "--name", "bench four"])
    cli.main(["job", "add", str(job), str(evil), "--note", "the note"])
    quoted = EVIL.encode("unicode_escape").decode().replace("\\x", "\\u00")
    for file in job.glob("*.toml"):  # what no command of ours would have written
        text = file.read_text().replace("bench four", f"bench four {quoted}")
        file.write_text(text.replace("the note", f"the note {quoted}"))
    cli.main(["job", "show", str(job)])
    cli.main(["sheet", str(job), "--html-only"])
    out, err = capsys.readouterr()
    assert not CONTROLS.search(out + err)
    assert "u202e" in out
    html = (tmp_path / "job-sheet.html").read_text(encoding="utf-8")
    assert "u202e" in html
    assert not CONTROLS.search(html)


def test_a_table_keeps_its_comments_and_its_cells(evil: Path, tmp_path: Path) -> None:
    out = tmp_path / "table.csv"
    assert cli.main(["export", str(evil), "--csv", str(out)]) == 0
    for path in (out, tmp_path / "table.events.csv"):
        text = path.read_text(encoding="utf-8")
        assert not CONTROLS.search(text)
        lines = text.splitlines()
        body = [line for line in lines if not line.startswith("#")]
        assert body[0].startswith("segment,time_s"), "a header's line broke out of its comment"
        for row in list(csv.reader(body))[1:]:
            assert not any(cell.startswith(("=", "@")) for cell in row)


def test_what_is_safe_stays_as_it_is() -> None:
    for text in ("TDC 123.4° ± 0.1°", "Ölmaß\tµ\nzwei", "日本語", "سلام", ""):
        assert safe_text(text) == text
    assert safe_line("a\nb\u2028c") == "a b c"
    assert [safe_cell(t) for t in ("=1+1", "+1", "-1", "@x", "\t=1", "x=1")] == [
        "'=1+1", "'+1", "'-1", "'@x", "'=1", "x=1",
    ]  # fmt: skip
