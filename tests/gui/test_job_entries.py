"""Tasks of a job's own and torques: put down, shown, on the sheet, and taken back."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from strokewise.analysis.errors import InputError
from strokewise.gui.cli import main
from strokewise.gui.job.add import (
    add_answer,
    add_note,
    add_recording,
    add_task,
    add_torque,
    create_job,
    take_back,
    tick_task,
)
from strokewise.gui.job.job import read_job
from strokewise.gui.job.torque import tightness, tightness_words
from strokewise.gui.sheet.html import sheet_html
from strokewise.gui.sheet.sheet import sheet_of
from strokewise.gui.sheet.unchecked import NEVER

NOW = datetime(2025, 3, 4, 10, 30, tzinfo=UTC)
TODAY = date(2025, 3, 4)
RECORDINGS = Path(__file__).resolve().parents[2] / "recordings"
HAND_TURNED, ROCKED = RECORDINGS / "hand-turned.swr", RECORDINGS / "rocked.swr"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    create_job(tmp_path / "job", "Bench four", now=NOW, version="0.1.0")
    return tmp_path / "job"


@pytest.mark.parametrize(
    ("text", "words", "newton_metres"),
    [
        ("90 N m", "90 N·m", 90.0),
        ("90Nm", "90 N·m", 90.0),
        # 1 lbf·ft = 1.355818 N·m, 1 kgf·m = 9.80665 N·m: NIST SP 811, appendix B.9
        ("65 lb ft", "65 lbf·ft", 65 * 1.355818),
        ("65 ft-lbs", "65 lbf·ft", 65 * 1.355818),
        ("120 in.lb", "120 lbf·in", 120 * 0.1129848),
        ("9 mkg", "9 kgf·m", 9 * 9.80665),
        ("90 deg", "90°", None),
        ("40 N m + 90 deg", "40 N·m + 90°", 40.0),
        ("20 Nm, then 40 Nm then 90°", "20 N·m + 40 N·m + 90°", 40.0),
    ],
)
def test_a_torque_is_read_as_it_is_written_in_the_trade(text, words, newton_metres):
    read = tightness(text)
    assert read.words == words
    assert read.newton_metres == (
        None if newton_metres is None else pytest.approx(newton_metres, rel=1e-6)
    )
    assert tightness(read.words) == read  # what is kept is read again as the same


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("90", "needs a unit"),
        ("", "is neither torque nor angle"),
        ("tight", "is neither torque nor angle"),
        ("90 furlong", "is no unit of torque"),
        ("90 mm", "is no unit of torque"),
        ("90000 Nm", "check the unit"),
        ("0 Nm", "check the unit"),
        ("-5 Nm", "is neither torque nor angle"),
        ("900 deg", "more than a turn"),
        ("1 Nm" + " + 1 Nm" * 9, "too many stages"),
    ],
)
def test_what_is_no_torque_is_refused(text: str, why: str):
    with pytest.raises(InputError, match=why):
        tightness(text)


def test_newton_metres_stand_beside_other_units():
    assert tightness_words("65 lbf·ft") == "65 lbf·ft (88.1 N·m)"
    assert tightness_words("40 N·m + 90°") == "40 N·m + 90°"
    assert tightness_words("as of another version") == "as of another version"


def put_down(folder: Path, **more) -> str:
    said = {"tool": "wrench 7", "initials": "AB", "on": TODAY} | more
    return add_torque(folder, "Head bolts", "40 Nm + 90 deg", **said)


def test_a_torque_stands_in_words_json_and_sheet_until_it_is_taken_back(folder: Path, capsys):
    assert put_down(folder, note="oiled") == "001-torque-head-bolts.toml"
    main(["job", "show", str(folder)])
    said = "Torque 1             Head bolts, 40 N·m + 90°, wrench 7, 2025-03-04 AB: oiled"
    assert said in capsys.readouterr().out
    main(["job", "show", str(folder), "--json"])
    assert json.loads(capsys.readouterr().out)["torques"] == [
        {
            "number": 1,
            "what": "Head bolts",
            "value": "40 N·m + 90°",
            "tool": "wrench 7",
            "on": "2025-03-04",
            "initials": "AB",
            "note": "oiled",
        }
    ]
    sheet = sheet_of(read_job(folder), now=NOW, version="0.1.0")
    assert sheet.torques is not None
    assert sheet.torques.rows[0][:3] == ("Head bolts", "40 N·m + 90°", "wrench 7")
    assert NEVER not in sheet.unchecked
    assert any("held them against the engine maker's figures" in line for line in sheet.unchecked)
    assert "Torques as put down" in sheet_html(sheet)
    assert take_back(folder, 1, initials="AB", on=TODAY) == "torque"
    assert read_job(folder).torques == ()
    assert (folder / "001-torque-head-bolts.toml").exists()
    sheet = sheet_of(read_job(folder), now=NOW, version="0.1.0")
    assert sheet.torques is None
    assert NEVER in sheet.unchecked


@pytest.mark.parametrize("more", [{"tool": " "}, {"initials": ""}, {"initials": "A" * 13}])
def test_a_torque_without_tool_or_name_is_refused(folder: Path, more):
    with pytest.raises(InputError, match="must be one line"):
        put_down(folder, **more)
    assert read_job(folder).torques == ()


def test_an_own_task_is_done_like_any_other(folder: Path):
    task = add_task(folder, "Bleed the cooling system", why="It was drained.")
    assert task.code == "bleed-the-cooling-system"
    job = tick_task(folder, task.code, initials="AB", on=TODAY)
    assert job.tasks[-1] == task
    assert len(job.to_do) == 7
    html = sheet_html(sheet_of(job, now=NOW, version="0.1.0"))
    assert "☑ Bleed the cooling system" in html
    with pytest.raises(InputError, match="on the list already"):
        add_task(folder, "bleed the cooling system")
    with pytest.raises(InputError, match="on the list already"):
        add_task(folder, "Oil them", code="oil-rockers")
    with pytest.raises(InputError, match="no short name"):
        add_task(folder, "Bleed", code="Bleed it!")
    take_back(folder, 1, initials="AB", on=TODAY)
    assert read_job(folder).tasks == job.tasks[:-1]


def test_only_what_can_be_is_taken_back_and_once(folder: Path):
    add_note(folder, "x", now=NOW)
    tick_task(folder, "oil-rockers", initials="AB", on=TODAY)
    with pytest.raises(InputError, match="2 cannot be taken back; there is 1"):
        take_back(folder, 2, initials="AB", on=TODAY)
    assert take_back(folder, 1, initials="AB", on=TODAY) == "note"
    assert read_job(folder).notes == ()
    with pytest.raises(InputError, match="1 cannot be taken back; there is nothing"):
        take_back(folder, 1, initials="AB", on=TODAY)


def test_a_recording_put_in_by_mistake_is_taken_back_and_can_come_again(folder: Path):
    kept = add_recording(folder, HAND_TURNED)
    assert take_back(folder, kept.number, initials="AB", on=TODAY) == "recording"
    job = read_job(folder)
    assert job.recordings == ()
    assert (folder / kept.name).exists()
    sheet = sheet_of(job, now=NOW, version="0.1.0")
    assert sheet.recordings.rows == ()
    assert (
        f"Recording {kept.name}: it was taken back, 2025-03-04 AB; the job's folder still holds it"
        in sheet.unchecked
    )
    again = add_recording(folder, HAND_TURNED)
    assert (again.number, again.sha256) == (3, kept.sha256)
    assert read_job(folder).recordings == (again,)


def test_no_recording_is_taken_from_under_an_answer(folder: Path):
    dry, oiled, answer = (
        add_recording(folder, HAND_TURNED),
        add_recording(folder, ROCKED),
        {"version": "0.1.0", "decided": True, "reason": "x"},
    )
    asked = ["compare", dry.name, "--wet", oiled.name]
    for _ in range(2):
        add_answer(folder, asked, answer, recordings=[dry], profile=None, now=NOW)
    for name, number in ((dry.name, 1), (oiled.name, 2)):
        with pytest.raises(InputError, match=f"{name} is what answers 3 and 4 came from: take"):
            take_back(folder, number, initials="AB", on=TODAY)
    for number in (3, 4, 2, 1):
        take_back(folder, number, initials="AB", on=TODAY)
    job = read_job(folder)
    assert (job.recordings, job.answers) == ((), ())


def test_the_commands_put_down_and_take_back(folder: Path, capsys):
    say = [str(folder)]
    assert main(["job", "task", *say, "Bleed the cooling system"]) == 0
    assert "to do: Bleed the cooling system (bleed-the-cooling-system)" in capsys.readouterr().out
    torque = ["Crank nut", "65 lb ft", "--tool", "wrench 7", "--initials", "AB"]
    assert main(["job", "torque", *say, *torque, "--date", "2025-03-04"]) == 0
    assert capsys.readouterr().out == "kept 002-torque-crank-nut.toml\n"
    assert main(["job", "torque", *say, "Crank nut", "65", *torque[2:]]) == 2
    assert '"65" needs a unit' in capsys.readouterr().err
    for number, what in (("2", "torque"), ("1", "task")):
        assert main(["job", "undo", *say, number, "--initials", "AB"]) == 0
        assert capsys.readouterr().out == f"{number} taken back: {what}\n"
    assert main(["job", "undo", *say, "2", "--initials", "AB"]) == 2
    job = read_job(folder)
    assert (job.torques, len(job.tasks)) == ((), 7)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("001-torque-x.toml", 'what = "x"'),
        ("001-task-x.toml", 'text = "x"'),
        ("001-undone.toml", 'which = "x"\ninitials = "AB"\non = 2025-03-04'),
        ("001-caption-x.toml", 'photo = "x"\ntext = "x"\nmade = "never"'),
    ],
)
def test_a_damaged_entry_is_named_and_the_rest_holds(folder: Path, name: str, text: str):
    (folder / name).write_text(text)
    add_note(folder, "still here", now=NOW)
    job = read_job(folder)
    assert [line.partition(":")[0] for line in job.unreadable] == [name]
    assert job.notes[0].text == "still here"
