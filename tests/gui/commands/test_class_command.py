"""``strokewise class``: a file to begin with, errors in one line, a session that goes on."""

import csv
import io

import pytest

from strokewise.gui.cli import main
from strokewise.gui.commands.class_room import CHANGED, open_session, session_file
from strokewise.gui.models.lesson.lesson import class_text, lesson_of
from strokewise.gui.models.lesson.posing import pose


def test_a_new_class_is_written_and_never_over_another(tmp_path, capsys):
    path = tmp_path / "friday.toml"
    assert main(["class", "new", str(path), "--questions", "12", "--groups", "Anna, Ben, Cem"]) == 0
    assert "12 questions for Anna, Ben, Cem" in capsys.readouterr().out
    lesson = lesson_of(class_text(path), path)
    assert len(lesson.items) == 12
    assert lesson.groups == ("Anna", "Ben", "Cem")
    assert main(["class", "new", str(path)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert lesson_of(class_text(path), path) == lesson


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["none.toml"], "cannot be read"),
        (["new"], "name one file"),
        (["a", "b", "c"], "name one file"),
        (["new", "x.toml", "--questions", "99"], "the bank has"),
        (["new", "x.toml", "--groups", "A,A"], "two groups have one name"),
        (["none.toml", "--table", "x.csv"], "cannot be read"),
    ],
)
def test_what_is_wrong_is_one_line(args, said, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["class", *args]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert said in err


def test_a_session_goes_on_and_its_table_is_written(tmp_path, capsys):
    path = tmp_path / "friday.toml"
    main(["class", "new", str(path), "--questions", "2"])
    assert main(["class", str(path), "--table", str(tmp_path / "x.csv")]) == 2
    assert "no class has been held with it yet" in capsys.readouterr().err
    session, news = open_session(path)
    assert news == ""
    question = pose(session.item, 1, session.seed_of(0), tmp_path).question
    session.give("Group A", question.truths[0], question, 3.0)
    session.give("Group B", question.choices[0], question, 4.0)
    session.go_to(1)
    again, news = open_session(path)
    assert "Going on at question 2 of 2. Group A 1 of 1" in news
    assert CHANGED not in news
    assert again.given == session.given
    assert again.seed == session.seed
    path.write_text(path.read_text() + "# changed\n")
    assert CHANGED in open_session(path)[1]
    out = tmp_path / "friday.csv"
    capsys.readouterr()
    assert main(["class", str(path), "--table", str(out)]) == 0
    assert "2 answers. Group A 1 of 1" in capsys.readouterr().out
    rows = list(csv.DictReader(io.StringIO(out.read_text())))
    assert [row["group"] for row in rows] == ["Group A", "Group B"]
    assert main(["class", str(path), "--table", str(out)]) == 2  # never over another
    assert f"{out}: is there already" in capsys.readouterr().err
    anew, _ = open_session(path, anew=True)
    assert anew.seed != session.seed
    assert not anew.given
    aside = session_file(path).with_name("friday-1.session")
    assert aside.exists()


def test_a_class_that_has_ended_begins_anew(tmp_path):
    path = tmp_path / "one.toml"
    main(["class", "new", str(path), "--questions", "1"])
    session, _ = open_session(path)
    session.reveal()
    again, news = open_session(path)
    assert news == ""
    assert again.seed != session.seed
