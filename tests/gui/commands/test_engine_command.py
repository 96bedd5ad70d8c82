"""A profile made by a few questions, shown, and checked, on the command line."""

import io
import json
import sys

import pytest

from strokewise.daq.profile.known import known_engine
from strokewise.gui import cli


@pytest.fixture
def asked(monkeypatch, tmp_path):
    """Runs ``engine new`` with answers typed in; returns its exit code and the file."""

    def run(*lines):
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        path = tmp_path / "bench.toml"
        return cli.main(["engine", "new", str(path)]), path

    return run


def test_a_few_answers_make_a_profile(asked, capsys):
    code, path = asked("Bench four", "4", "1-3-4-2", "", "3")
    said = capsys.readouterr().out
    assert code == 0
    profile = known_engine(engine=path).profile
    assert (profile.name, profile.cylinders, profile.firing_order) == (
        "Bench four",
        4,
        (1, 3, 4, 2),
    )
    assert profile.sensors[0].cylinder == 3
    assert said.count("?") == 0
    assert f"strokewise live --engine {path}" in said
    assert "compression_ratio" in said
    assert "# compression_ratio = 8.6" in path.read_text()


def test_an_answer_that_cannot_be_is_asked_again(asked, capsys):
    code, path = asked("", "four", "4", "1-3-4", "1-3-4-2", "4", "1")
    assert code == 0
    said = capsys.readouterr().out
    assert "“four” is not a number of cylinders from 1 to 12" in said
    assert "such as 1-3-4-2" in said
    assert known_engine(engine=path).profile.name == ""


def test_too_many_wrong_answers_or_none_end_in_one_line(asked, capsys):
    code, path = asked("", "x", "y", "z")
    assert code == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert asked("", "4")[0] == 2
    assert "input has ended" in capsys.readouterr().err
    assert not path.exists()


def test_a_file_that_is_there_stays(asked, capsys):
    _, path = asked("", "4", "1-3-4-2", "", "")
    before = path.read_text()
    assert cli.main(["engine", "new", str(path)]) == 2
    assert "stays as it is" in capsys.readouterr().err
    assert path.read_text() == before


def test_a_profile_is_shown(asked, capsys):
    _, path = asked("Bench four", "4", "1-3-4-2", "", "3")
    capsys.readouterr()
    assert cli.main(["engine", "show", str(path)]) == 0
    said = capsys.readouterr().out
    for heading in ("Known", "Assumed, as nobody said otherwise", "Missing, and what it would"):
        assert heading in said
    assert "1-3-4-2" in said
    assert cli.main(["engine", "show", str(path), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["decided"] is True
    assert answer["known"]["firing_order"] == "1-3-4-2"
    assert {"key", "sharpens"} == set(answer["missing"][0])
    assert {"key", "value", "why"} == set(answer["assumed"][0])


def test_a_sound_profile_is_sound_and_another_says_what_is_wrong(asked, capsys):
    _, path = asked("", "4", "1-3-4-2", "", "")
    capsys.readouterr()
    assert cli.main(["engine", "check", str(path)]) == 0
    assert "sound: four-stroke, 4 cylinders, 1-3-4-2" in capsys.readouterr().out
    assert cli.main(["engine", "check", str(path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["decided"] is True
    path.write_text(path.read_text().replace("cylinders = 4", 'cylinders = 4\nbore = "82"'))
    assert cli.main(["engine", "check", str(path)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "bore" in said.err
    assert len(said.err.splitlines()) == 1
    assert cli.main(["engine", "check", str(path.parent / "none.toml")]) == 2
