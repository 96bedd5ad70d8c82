"""``strokewise job``: a folder is made, filled, ticked and shown; answers come out the same."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest

from strokewise.daq.recording.atomic import write_atomically
from strokewise.gui import cli
from strokewise.gui.job.job import read_job
from strokewise.gui.job.tasks import TASKS

PROFILE = 'name = "Toy"\ncylinders = 4\nfiring_order = [1, 3, 4, 2]\ncompression_ratio = 9\n'


@pytest.fixture
def job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    profile = tmp_path / "toy.toml"
    profile.write_text(PROFILE + '[valves]\nclearance_exhaust = "0.35 mm"\n')
    assert cli.main(["job", "new", str(tmp_path / "job"), "--engine", str(profile)]) == 0
    assert "Next: strokewise job add" in capsys.readouterr().out
    return tmp_path / "job"


@pytest.fixture(scope="module")
def answered_once(tmp_path_factory: pytest.TempPathFactory, toy: SimpleNamespace) -> Path:
    """Make a job with one answer, once: a fit takes seconds on a busy machine."""
    place = tmp_path_factory.mktemp("answered")
    (place / "toy.toml").write_text(PROFILE)
    recording = toy.write(place / "toy.swr", toy.sent(toy.frames()))
    cli.main(["job", "new", str(place / "job"), "--engine", str(place / "toy.toml")])
    assert cli.main(["job", "add", str(place / "job"), str(recording)]) == 0
    return place


@pytest.fixture
def answered(answered_once: Path, tmp_path: Path) -> Path:
    """Return a copy of the job with one answer: a folder that was copied is the same job."""
    return shutil.copytree(answered_once / "job", tmp_path / "copied")


def test_a_recording_is_kept_with_its_answer(
    answered_once: Path, answered: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (kept,) = read_job(answered).answers
    assert kept.asked == (
        "find",
        "002-recording-toy.swr",
        "--engine",
        "001-profile-toy.toml",
        "--json",
    )
    assert kept.answer["decided"] is True
    recording = answered_once / "toy.swr"
    assert (answered / "002-recording-toy.swr").read_bytes() == recording.read_bytes()
    capsys.readouterr()
    assert (
        cli.main(["find", str(recording), "--engine", str(answered / kept.profile), "--json"]) == 0
    )
    assert json.loads(capsys.readouterr().out) == kept.answer


def test_answers_come_out_the_same(answered: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["job", "show", str(answered), "--check"]) == 3
    assert "All 1 answers come out the same" in capsys.readouterr().out


def test_an_altered_answer_or_recording_is_said(
    answered: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = answered / "003-answer-find.json"
    file.write_text(file.read_text().replace('"passes": ', '"passes": 1'))
    recording = answered / "002-recording-toy.swr"
    recording.write_bytes(recording.read_bytes()[:-1])
    cli.main(["job", "show", str(answered), "--check"])
    out = " ".join(capsys.readouterr().out.replace("!", "").split())
    assert "002-recording-toy.swr: gone or changed since it was added" in out
    assert "Answer 3 (find 002-recording-toy.swr" in out
    assert "tdc: was" in out


def test_a_foreign_job_cannot_have_other_commands_run(
    answered: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = answered / "003-answer-find.json"
    target = tmp_path / "written.csv"
    kept = json.loads(file.read_text())
    kept["asked"] = ["export", "002-recording-toy.swr", "--csv", str(target)]
    file.write_text(json.dumps(kept))
    assert cli.main(["job", "show", str(answered), "--check"]) == 2
    assert "gives no answer to keep" in capsys.readouterr().err
    assert not target.exists()


def test_settings_count_for_these_answers(job: Path, toy_file: Path) -> None:
    cli.main(["job", "add", str(job), str(toy_file), "--set", "sensor.cylinder=2"])
    (kept,) = read_job(job).answers
    assert kept.answer["tdc"]["cylinder"] == 2
    assert "sensor.cylinder=2" in kept.asked


def test_an_undecided_answer_is_kept_and_said_by_the_exit_code(
    job: Path, toy, tmp_path: Path
) -> None:
    short = toy.write(tmp_path / "short.swr", toy.sent(toy.frames(turns=0.4)))
    assert cli.main(["job", "add", str(job), str(short)]) == 3
    (kept,) = read_job(job).answers
    assert kept.answer["decided"] is False


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "nothing to add"),
        (["missing.swr"], "missing.swr"),
        (["--gap", "1E"], "is not VALVE=FOUND, SET, NIPPED"),
        (["--gap", "1E=0.4"], "needs a unit"),
        (["--gap", "1E=1 mm,1 mm,1 mm,1 mm"], "is not VALVE=FOUND"),
        (["--gap", "9E=0.4 mm"], 'there is no valve "9E"'),
        (["--gap", "1I=0.4 mm"], "the profile has no clearance; give --target"),
        (["--gap", "1E=12 mm"], "check the unit"),
        (["--note", " "], "the note must be one line"),
        (["--engine", "missing.toml"], "cannot read the engine profile"),
    ],
)
def test_what_cannot_be_added_is_one_line_and_nothing_is_kept(
    job: Path, words: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(path.name for path in job.iterdir())
    capsys.readouterr()
    assert cli.main(["job", "add", str(job), *words]) == 2
    said = capsys.readouterr()
    assert message in said.err
    assert said.err.count("\n") == 1
    assert sorted(path.name for path in job.iterdir()) == before


def test_no_other_command_can_be_asked(
    job: Path, toy_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["job", "add", str(job), str(toy_file), "--ask", "record"]) == 2
    assert '"record" gives no answer to keep; ask find' in capsys.readouterr().err


def test_what_is_no_recording_is_not_kept(job: Path, tmp_path: Path) -> None:
    (tmp_path / "no.swr").write_text("hello")
    assert cli.main(["job", "add", str(job), str(tmp_path / "no.swr")]) == 2
    assert read_job(job).recordings == ()


def test_gaps_are_taken_in_inches_and_millimetres(job: Path) -> None:
    args = ["--gap", "1e=0.016 in, -, 0.35 mm", "--gap", "1I=0.3 mm", "--target", "0.012 in"]
    assert cli.main(["job", "add", str(job), *args]) == 0
    one, two = read_job(job).gaps()
    assert (one.valve, one.before_mm, one.after_mm, one.nipped_mm) == ("1E", 0.4064, None, 0.35)
    assert (two.valve, two.target_mm) == ("1I", 0.3048)


def test_a_gap_judged_good_counts_as_done(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    engine = tmp_path / "four.toml"
    engine.write_text("cylinders = 4\nfiring_order = [1, 3, 4, 2]\n")
    gaps = ["--gap", "1E=0.5 mm, 0.31 mm, 0.3 mm", "--gap", "1I=0.2 mm", "--target", "0.3 mm"]
    assert cli.main(["job", "add", str(job), "--engine", str(engine), *gaps]) == 0
    assert read_job(job).valves_good == ("1E",)
    assert cli.main(["job", "add", str(job), "--ask", "valves"]) == 0
    (kept,) = read_job(job).answers
    assert kept.asked[-2:] == ("--done=1E", "--json")
    assert [valve["valve"] for valve in kept.answer["valves"] if valve["done"]] == ["1E"]
    capsys.readouterr()
    cli.main(["job", "show", str(job), "--check"])
    out = capsys.readouterr().out
    assert "2 valves measured, 1 right" in out
    assert "come out the same" in out


def test_the_job_shows_what_is_still_to_do(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for task in TASKS:
        assert cli.main(["job", "show", str(job)]) == 3
        out = capsys.readouterr().out
        assert f"[ ] {task.text}"[:60] in out
        tick = ["job", "tick", str(job), task.code, "--initials", "AB", "--date", "2025-03-04"]
        assert cli.main(tick) == 0
    assert cli.main(["job", "show", str(job)]) == 0
    out = capsys.readouterr().out
    assert "Nothing is left to do" in out
    assert out.count("2025-03-04 AB") == len(TASKS)


def test_the_job_is_one_json_object(answered: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cli.main(["job", "tick", str(answered), "oil-rockers", "--initials", "AB"])
    capsys.readouterr()
    assert cli.main(["job", "show", str(answered), "--json"]) == 3
    shown = json.loads(capsys.readouterr().out)
    assert shown["decided"] is False
    assert shown["reason"] == "6 of 7 still to do"
    assert shown["answers"][0]["answer"]["tdc"]["cylinder"] == 3
    assert shown["todo"][0]["done"]["initials"] == "AB"
    assert shown["todo"][1]["done"] is None


def test_a_wrong_profile_makes_no_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bad.toml").write_text("cylinders = 4\n")
    argv = ["job", "new", str(tmp_path / "job"), "--engine", str(tmp_path / "bad.toml")]
    assert cli.main(argv) == 2
    assert "firing_order must be given" in capsys.readouterr().err
    assert not (tmp_path / "job").exists()


def test_a_job_without_a_profile_uses_the_recordings_own(
    tmp_path: Path, toy_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cli.main(["job", "new", str(tmp_path / "job"), "--name", "no profile"])
    assert cli.main(["job", "add", str(tmp_path / "job"), str(toy_file)]) == 0
    (kept,) = read_job(tmp_path / "job").answers
    assert kept.profile is None
    assert kept.answer["tdc"]["cylinder"] == 3


def test_the_recordings_own_cylinder_goes_before_the_jobs_profile(
    tmp_path: Path, toy_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One profile serves the engine; the sensor moves from hole to hole."""
    profile = tmp_path / "toy.toml"
    profile.write_text(PROFILE + "[sensor]\ncylinder = 1\n")
    cli.main(["job", "new", str(tmp_path / "job"), "--engine", str(profile)])
    cli.main(["job", "add", str(tmp_path / "job"), str(toy_file)])
    (kept,) = read_job(tmp_path / "job").answers
    assert "sensor.cylinder=3" in kept.asked
    assert kept.answer["tdc"]["cylinder"] == 3


def test_what_needs_no_recording_is_answered_from_the_profile(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = 'static --advance "6 deg BTDC"'
    assert cli.main(["job", "add", str(job), "--ask", asked, "--ask", "valves"]) == 0
    static, valves = read_job(job).answers
    assert static.recordings == ()
    assert static.answer["advance"]["before_tdc"] == 6.0
    assert valves.answer["stops"]
    assert cli.main(["job", "show", str(job)]) == 3
    assert "static: decided" in capsys.readouterr().out


def test_everything_in_the_job_can_be_asked_about_again(answered: Path) -> None:
    cli.main(["job", "add", str(answered), "--ask", "check", "--ask", "find"])
    assert [kept.command for kept in read_job(answered).answers] == ["find", "check", "find"]


def test_a_recording_named_before_the_job_is_told_apart(
    answered_once: Path, answered: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["job", "add", str(answered_once / "toy.swr"), str(answered)]) == 2
    assert "is a file: name the job's folder first" in capsys.readouterr().err


def test_a_day_that_is_none_is_said_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tick = ["job", "tick", str(tmp_path), "oil-rockers", "--initials", "AB", "--date", "2026-11-31"]
    with pytest.raises(SystemExit) as ended:
        cli.main(tick)
    assert ended.value.code == 2
    assert "“2026-11-31” is no day of the calendar: YYYY-MM-DD" in capsys.readouterr().err


def test_a_file_that_cannot_be_written_goes_by_its_own_name(tmp_path: Path) -> None:
    path = tmp_path / "none" / "sheet.html"
    with pytest.raises(OSError, match="No such file") as refused:
        write_atomically(path, b"x")
    assert refused.value.filename == str(path)
