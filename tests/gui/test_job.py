"""A job's folder: what goes in comes out, nothing is written over, a crash does no harm."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
import tomllib
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from strokewise.analysis.errors import InputError, ProfileError
from strokewise.analysis.samples import Board
from strokewise.analysis.valves.clearances import Gap
from strokewise.daq.recording.container import Chunk, encode_header, encode_item
from strokewise.daq.wire.encoder import FrameEncoder
from strokewise.daq.wire.frames import Hello
from strokewise.gui.job import store as job_store
from strokewise.gui.job.add import (
    add_answer,
    add_gaps,
    add_note,
    add_profile,
    add_recording,
    create_job,
    tick_task,
)
from strokewise.gui.job.job import Job, changed_recordings, read_job
from strokewise.gui.job.kept import Tick
from strokewise.gui.job.tasks import TASKS

NOW = datetime(2025, 3, 4, 10, 30, tzinfo=UTC)
TODAY = date(2025, 3, 4)
PROFILE = '# an invented engine\ncylinders = 4\nfiring_order = [1, 3, 4, 2]\nbore = "3.2 in"\n'
ANSWER = {"decided": True, "reason": "seen", "warnings": [], "version": "0.1.0", "tdc": None}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    create_job(tmp_path / "job", "Bench four", now=NOW, version="0.1.0", made_for="a club")
    return tmp_path / "job"


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in names(folder)}


def test_a_new_job_has_everything_to_do(folder: Path):
    job = read_job(folder)
    assert (job.name, job.made, job.version, job.made_for) == (
        "Bench four",
        NOW,
        "0.1.0",
        "a club",
    )
    assert job.to_do == TASKS
    assert job.profile_path is None
    assert not job.engine().stated


def test_the_list_holds_what_must_not_be_forgotten():
    said = {task.code: task for task in TASKS}
    assert set(said) >= {
        "oil-rockers",
        "two-turns-by-hand",
        "drive-gear-seated",
        "torque-and-sealant",
        "clearances-again",
        "seal-cover",
    }
    assert all(task.why for task in TASKS)
    assert said["seal-cover"].after == "clearances-again"
    codes = [task.code for task in TASKS]
    assert all(codes.index(t.after) < codes.index(t.code) for t in TASKS if t.after)


def test_everything_that_goes_in_comes_out(folder: Path, tmp_path: Path):
    profile = tmp_path / "bench.toml"
    profile.write_text(PROFILE)
    swr = tmp_path / "Bänk No 1.swr"
    swr.write_bytes(b"the recording's bytes")
    kept_profile = add_profile(folder, profile)
    recording = add_recording(folder, swr)
    add_answer(
        folder,
        ["find", recording.name, "--json"],
        ANSWER,
        recordings=[recording],
        profile=kept_profile,
        now=NOW,
    )
    add_gaps(folder, [Gap("1E", 0.35, 0.4064)])
    add_gaps(folder, [Gap("1E", 0.35, after_mm=0.36), Gap("2I", 0.3, 0.3)])
    add_gaps(folder, [Gap("1E", 0.35, 0.34)], stage="after first running")
    add_note(folder, "throttle  held\nopen", now=NOW)
    tick_task(folder, "oil-rockers", initials="AB", on=TODAY, note="by can")
    assert names(folder) == [
        "001-profile-bench.toml",
        "002-recording-b-nk-no-1.swr",
        "003-answer-find.json",
        "004-gaps.toml",
        "005-gaps.toml",
        "006-gaps-after-first-running.toml",
        "007-note.toml",
        "008-tick-oil-rockers.toml",
        "job.toml",
    ]
    job = read_job(folder)
    assert job.unreadable == ()
    assert (folder / kept_profile).read_text() == PROFILE, "as it was written, comments and all"
    assert job.engine().profile.bore_mm == pytest.approx(81.28)
    assert job.recordings == (recording,)
    (kept,) = job.answers
    assert (kept.command, kept.asked, kept.made, kept.version) == (
        "find",
        ("find", recording.name, "--json"),
        NOW,
        "0.1.0",
    )
    assert kept.recordings == (recording,)
    assert kept.profile == kept_profile
    assert kept.answer == ANSWER
    assert job.gaps() == (Gap("1E", 0.35, 0.4064, 0.36), Gap("2I", 0.3, 0.3))
    assert job.stages == ("", "after first running")
    assert job.gaps("after first running") == (Gap("1E", 0.35, 0.34),)
    assert job.notes[0].text == "throttle held open"
    assert job.tick_of("oil-rockers") == Tick(8, "oil-rockers", "AB", TODAY, True, "by can")
    assert [task.code for task in job.to_do] == [t.code for t in TASKS if t.code != "oil-rockers"]


def test_nothing_is_binary_but_the_recordings(folder: Path, tmp_path: Path):
    test_everything_that_goes_in_comes_out(folder, tmp_path)
    for name, content in bytes_of(folder).items():
        if name.endswith(".json"):
            json.loads(content)
        elif name.endswith(".toml"):
            tomllib.loads(content.decode())
        else:
            assert name.endswith(".swr")


def test_adding_changes_no_earlier_file(folder: Path, tmp_path: Path):
    test_everything_that_goes_in_comes_out(folder, tmp_path)
    before = bytes_of(folder)
    tick_task(folder, "two-turns-by-hand", initials="AB", on=TODAY)
    tick_task(folder, "two-turns-by-hand", initials="CD", on=TODAY, done=False, note="mistake")
    add_note(folder, "more", now=NOW)
    after = bytes_of(folder)
    assert {name: after[name] for name in before} == before
    assert len(after) == len(before) + 3


def test_the_same_recording_and_profile_are_kept_once(folder: Path, tmp_path: Path):
    (tmp_path / "a.swr").write_bytes(b"same")
    (tmp_path / "b.swr").write_bytes(b"same")
    (tmp_path / "a.toml").write_text(PROFILE)
    assert add_recording(folder, tmp_path / "a.swr") == add_recording(folder, tmp_path / "b.swr")
    assert add_profile(folder, tmp_path / "a.toml") == add_profile(folder, tmp_path / "a.toml")
    assert names(folder) == ["001-recording-a.swr", "002-profile-a.toml", "job.toml"]


def test_a_wrong_profile_does_not_get_in(folder: Path, tmp_path: Path):
    (tmp_path / "a.toml").write_text("cylinders = 4\nfiring_order = [1, 3, 3, 2]\n")
    with pytest.raises(ProfileError, match="cylinder 3 comes twice"):
        add_profile(folder, tmp_path / "a.toml")
    assert names(folder) == ["job.toml"]


def test_a_tick_can_be_taken_back_and_given_again(folder: Path):
    tick_task(folder, "oil-rockers", initials="AB", on=TODAY)
    assert tick_task(folder, "oil-rockers", initials="AB", on=TODAY, done=False).to_do == TASKS
    job = tick_task(folder, "oil-rockers", initials="CD", on=TODAY)
    tick = job.tick_of("oil-rockers")
    assert tick is not None
    assert tick.initials == "CD"


@pytest.mark.parametrize(
    ("code", "initials", "message"),
    [
        ("oil", "AB", 'there is no task "oil"; there are oil-rockers'),
        ("seal-cover", "AB", "seal-cover comes after clearances-again, which is not ticked"),
        ("oil-rockers", " ", "the initials must be one line"),
        ("oil-rockers", "A" * 13, "the initials must be one line of 1 to 12"),
        ("oil-rockers", "A\a", "printable"),
    ],
)
def test_a_wrong_tick_is_refused(folder: Path, code: str, initials: str, message: str):
    with pytest.raises(InputError, match=message):
        tick_task(folder, code, initials=initials, on=TODAY)
    assert read_job(folder).ticks == ()


def test_ticking_twice_says_who_ticked(folder: Path):
    tick_task(folder, "oil-rockers", initials="AB", on=TODAY)
    with pytest.raises(InputError, match="is ticked already, 2025-03-04 AB"):
        tick_task(folder, "oil-rockers", initials="CD", on=TODAY)
    with pytest.raises(InputError, match="is not ticked, so there is nothing to take back"):
        tick_task(folder, "rig-off", initials="CD", on=TODAY, done=False)


def test_a_taken_folder_is_refused(folder: Path, tmp_path: Path):
    with pytest.raises(InputError, match="something in this folder already"):
        create_job(folder, "again", now=NOW, version="0.1.0")
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="file"):
        create_job(tmp_path / "file", "again", now=NOW, version="0.1.0")
    (tmp_path / "empty").mkdir()
    assert create_job(tmp_path / "empty", "new", now=NOW, version="0.1.0").name == "new"


def test_a_folder_without_a_job_is_refused(tmp_path: Path):
    for act in (read_job, lambda place: add_note(place, "x", now=NOW)):
        with pytest.raises(InputError, match=r"no job in this folder \(job\.toml is missing\)"):
            act(tmp_path)


@pytest.mark.parametrize(
    ("head", "message"),
    [
        ("format = 2\n", "format 2, this version reads format 1"),
        ("format = 1\n", "cannot be used"),
        ("format =\n", "cannot be used"),
        ('format = 1\nmade = "x"\n', "cannot be used"),
    ],
)
def test_a_damaged_head_is_one_line(folder: Path, head: str, message: str):
    (folder / "job.toml").write_text(head)
    with pytest.raises(InputError, match=message) as caught:
        read_job(folder)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("001-answer-find.json", '{"asked": ["find"]'),
        ("001-answer-find.json", "[]"),
        ("001-answer-find.json", '{"asked": []}'),
        ("001-tick-oil-rockers.toml", 'task = "oil-rockers"\ninitials = "AB"\non = 4\ndone = true'),
        ("001-gaps.toml", '[[gap]]\nvalve = "1E"\ntarget = "9 mm"'),
        ("001-gaps.toml", "gap = 4"),
        ("001-note.toml", 'made = "yesterday"\ntext = "x"'),
        ("001-note.toml", "\udcff"),
    ],
)
def test_a_damaged_file_is_named_and_the_rest_still_holds(folder: Path, name: str, content: str):
    (folder / name).write_text(content, errors="surrogateescape")
    add_note(folder, "later", now=NOW)
    job = read_job(folder)
    assert [line.split(":")[0] for line in job.unreadable] == [name]
    assert [note.text for note in job.notes] == ["later"]
    assert (folder / "002-note.toml").exists(), "a damaged file's number is not given out again"


def test_what_else_lies_in_the_folder_is_left_alone(folder: Path):
    (folder / "photo.jpg").write_bytes(b"x")
    (folder / "003-Note.toml").write_text("not ours")
    (folder / ".004-note.toml.part").write_text("half")
    (folder / "005-photo.png").mkdir()
    assert read_job(folder).unreadable == ()
    assert add_note(folder, "x", now=NOW) == "001-note.toml"


def test_a_changed_recording_is_noticed(folder: Path, tmp_path: Path):
    (tmp_path / "a.swr").write_bytes(b"bytes")
    recording = add_recording(folder, tmp_path / "a.swr")
    add_answer(folder, ["find"], ANSWER, recordings=[recording], profile=None, now=NOW)
    assert changed_recordings(read_job(folder)) == ()
    (folder / recording.name).write_bytes(b"bytez")
    assert changed_recordings(read_job(folder)) == (recording.name,)
    (folder / recording.name).unlink()
    assert changed_recordings(read_job(folder)) == (recording.name,)


def test_what_is_no_answer_is_refused(folder: Path):
    with pytest.raises(InputError, match="not an answer"):
        add_answer(folder, ["find"], {"decided": True}, recordings=[], profile=None, now=NOW)


ADDER = """
import sys
from datetime import datetime, UTC
from strokewise.gui.job.add import add_note
for number in range(int(sys.argv[2])):
    add_note(sys.argv[1], f"{sys.argv[3]} {number}", now=datetime.now(UTC))
"""


def adder(folder: Path, count: int, who: str) -> subprocess.Popen:
    return subprocess.Popen([sys.executable, "-c", ADDER, str(folder), str(count), who])


def texts(job: Job) -> list[str]:
    return [note.text for note in job.notes]


def test_two_programs_at_once_lose_nothing(folder: Path):
    programs = [adder(folder, 30, who) for who in ("one", "two")]
    assert [program.wait(60) for program in programs] == [0, 0]
    job = read_job(folder)
    assert job.unreadable == ()
    assert [note.number for note in job.notes] == list(range(1, 61))
    for who in ("one", "two"):
        assert [t for t in texts(job) if t.startswith(who)] == [f"{who} {n}" for n in range(30)]


def test_a_killed_program_leaves_only_whole_files(folder: Path):
    program = adder(folder, 10_000, "one")
    deadline = time.monotonic() + 60
    while not read_job(folder).notes and time.monotonic() < deadline:
        time.sleep(0.01)
    program.send_signal(signal.SIGKILL)
    program.wait(60)
    job = read_job(folder)
    assert job.unreadable == ()
    count = len(job.notes)
    assert texts(job) == [f"one {n}" for n in range(count)]
    add_note(folder, "after", now=NOW)
    assert texts(read_job(folder))[count:] == ["after"], "the dead program's lock is gone"


def test_a_held_job_is_refused_after_a_while(folder: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(job_store, "LOCK_WAIT_S", 0.05)
    with (
        job_store.locked(folder),
        pytest.raises(InputError, match="another program has held this job"),
    ):
        add_note(folder, "x", now=NOW)


def test_a_file_that_appears_without_the_lock_is_not_written_over(
    folder: Path, monkeypatch: pytest.MonkeyPatch
):
    """As on a shared folder whose locks do not hold."""
    monkeypatch.setattr(job_store, "kept_files", lambda folder: ())
    add_note(folder, "first", now=NOW)
    with pytest.raises(InputError, match=r"001-note\.toml: cannot be written: File exists"):
        add_note(folder, "second", now=NOW)
    assert "first" in (folder / "001-note.toml").read_text()


def test_a_job_knows_what_the_board_in_its_last_recording_said(folder: Path, tmp_path: Path):
    hello = FrameEncoder().encode(Hello(Board("bench board", 1440)))
    heard = tmp_path / "heard.swr"
    heard.write_bytes(encode_header({"format": 1}) + encode_item(Chunk(20_000, hello)))
    add_recording(folder, heard)
    assert read_job(folder).engine().profile.encoder.counts_per_rev == 1440


def test_a_recording_that_cannot_be_read_leaves_the_profile_as_it_is(folder: Path, tmp_path: Path):
    bad = tmp_path / "bad.swr"
    bad.write_bytes(b"no recording")
    add_recording(folder, bad)
    assert not read_job(folder).engine().stated
