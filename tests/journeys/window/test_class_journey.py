"""A class of ten questions and two groups in a real window: by keys alone, and by mouse alone."""

import csv
import json
import signal
import time

import pytest

from strokewise.gui.cli import main

COUNT = 10
FIRST_ANSWER = {"who fires": "Question > *", "what is wrong": "Answers > *"}
"""Of what a mouse can press in the bar, or in the column beside the picture."""


@pytest.fixture
def lesson(tmp_path, capsys):
    """The file of a class of ten questions for two groups."""
    path = tmp_path / "friday.toml"
    assert main(["class", "new", str(path), "--groups", "Anna, Ben"]) == 0
    return path


def events(path):
    """Return what the session has on the disk."""
    session = path.with_suffix(".session")
    lines = session.read_text().splitlines() if session.exists() else []
    return [json.loads(line) for line in lines]


def given(path):
    return [event["given"] for event in events(path) if "given" in event]


def until_asked(hands):
    """Wait until a question stands; its answers have the keyboard a moment after the title."""
    hands.until_title("YOUR ANSWER?", "held")
    time.sleep(1.0)


def table_of(hands):
    rows = csv.DictReader(hands.saved("class-answers-*.csv").read_text().splitlines())
    return list(rows)


def test_a_class_by_keys_alone_with_a_trainer_s_window_interrupted_and_resumed(
    open_window, lesson, tmp_path
):
    hands = open_window("class", lesson, "--windows", "2")
    assert hands.wait(
        lambda: hands._do("search", "--onlyvisible", "--name", "^trainer ·").stdout.split(),
        "the trainer's window",
    )

    def answer(hands, number):
        until_asked(hands)
        for said in range(2):
            hands.key(*["Down"] * (number % 2), "Return")
            hands.wait(
                lambda said=said: len(given(lesson)) >= 2 * number - 1 + said, "the answer on disk"
            )
        hands.until_title("HELD")

    for number in range(1, 5):
        answer(hands, number)
        hands.key("F6")
    until_asked(hands)
    hands.process.kill()  # the power goes
    hands.process.wait()
    hands = open_window("class", lesson, "--windows", "2")
    for number in range(5, COUNT + 1):
        answer(hands, number)
        if number == COUNT - 1:
            hands.key("w")  # this trace onto the worksheet
        if number < COUNT:
            hands.key("F6")
    hands.key("p")
    assert hands.saved("*-chart-1.png").stat().st_size > 10_000
    hands.close()
    rows = table_of(hands)
    assert len(rows) == 2 * COUNT
    assert [int(row["question"]) for row in rows] == [n for n in range(1, 11) for _ in range(2)]
    assert {row["group"] for row in rows} == {"Anna", "Ben"}
    assert len({row["seed"] for row in rows}) == COUNT
    assert all((row["answer"] == row["right answer"]) == (row["right"] == "yes") for row in rows)
    out = tmp_path / "all.csv"
    assert main(["class", str(lesson), "--table", str(out)]) == 0
    assert len(out.read_text().splitlines()) == 2 * COUNT + 1


def test_a_class_by_the_mouse_alone_on_one_screen(open_window, lesson):
    hands = open_window("class", lesson)
    text = lesson.read_text()
    kinds = [line.split('"')[1] for line in text.splitlines() if line.startswith("ask")]
    assert len(kinds) == COUNT
    for number, kind in enumerate(kinds, start=1):
        until_asked(hands)
        hands.click(FIRST_ANSWER[kind])
        hands.wait(lambda n=number: len(given(lesson)) == 2 * n - 1, "Anna's answer on the disk")
        if number == 4:
            hands.click("Show the answer*")  # Ben has no answer to this one
            hands.until_title("HELD")
            lesson_events = events(lesson)
            assert {"revealed": 4} in lesson_events
            break
        hands.click(FIRST_ANSWER[kind])
        hands.until_title("HELD")
        hands.click("The next question")
    hands.click("Questions, answers, scores")
    hands.click("Save the table")
    rows = table_of(hands)
    assert len(rows) == 7
    hands.process.send_signal(signal.SIGINT)
    assert hands.process.wait(60) == 0
