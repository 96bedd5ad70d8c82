"""A class of ten questions and two groups in a real window: by keys alone, and by mouse alone."""

import csv
import json
import re

import pytest

from strokewise.gui.cli import main
from strokewise.gui.models.classroom.causes import WELL
from strokewise.gui.models.classroom.questions import WHAT_IS_WRONG

COUNT = 10
QUESTION, SEED = "[[questions]]", 1876
"""A question's seed is stated: without it every session draws its own."""
BESIDE_PX = 1366
"""Where the trainer's window stands: right of the class's."""
FIRST_ANSWER = {"who fires": "Question > *", "what is wrong": "Answers > *"}
"""Of what a mouse can press in the bar, or in the column beside the picture."""


@pytest.fixture
def lesson(tmp_path, capsys):
    """The file of a class of ten questions for two groups, each with a trace of its own."""
    path = tmp_path / "friday.toml"
    assert main(["class", "new", str(path), "--groups", "Anna, Ben"]) == 0
    head, *questions = path.read_text().split(QUESTION)
    seeded = (f"{QUESTION}\nseed = {SEED + i}{each}" for i, each in enumerate(questions))
    path.write_text(head + "".join(seeded))
    return path


def events(path):
    """Return what the session has on the disk."""
    session = path.with_suffix(".session")
    lines = session.read_text().splitlines() if session.exists() else []
    return [json.loads(line) for line in lines]


def given(path):
    return [event["given"] for event in events(path) if "given" in event]


def until_asked(hands):
    """Wait until a question stands and its answers have the keyboard."""
    hands.until_title("YOUR ANSWER?", "held")
    hands.focus()
    hands.wait(lambda: hands.keyboard() & {"Question", "Answers"}, "the keyboard at the answers")


def are_kept(lesson, count):
    return lambda: len(given(lesson)) == count


def worksheet_is_whole(hands, traces):
    """See that two pages of each trace were made for the class, and one for the trainer."""
    page = hands.saved("worksheet-2*.pdf").read_bytes()
    answers = hands.saved("worksheet-answers-*.pdf").read_bytes()
    assert len(re.findall(rb"/Type /Page\b", page)) == 2 * traces
    assert len(re.findall(rb"/Type /Page\b", answers)) == traces


def put_beside(hands):
    """Put the trainer's window beside the class's, as on a screen of its own."""
    look = ("search", "--onlyvisible", "--name", "^trainer ·")
    trainer = hands.wait(lambda: hands._do(*look).stdout.split(), "the trainer's window")[0]
    hands._do("windowmove", trainer, BESIDE_PX, 0)
    hands.wait(lambda: hands.place("Save the table")[0] > BESIDE_PX, "it to stand there")


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
        for count in (2 * number - 1, 2 * number):
            hands.strike(*["Down"] * (number % 2), "Return")
            hands.wait(are_kept(lesson, count), "the answer on the disk")
        hands.until_title("HELD")

    for number in range(1, 5):
        answer(hands, number)
        hands.strike("F6")
    until_asked(hands)
    hands.process.kill()  # the power goes
    hands.process.wait()
    hands = open_window("class", lesson, "--windows", "2")
    for number in range(5, COUNT + 1):
        answer(hands, number)
        if number == COUNT - 1:
            hands.strike("w")  # this trace onto the worksheet
        if number < COUNT:
            hands.strike("F6")
    hands.strike("w", "shift+p", "p")
    worksheet_is_whole(hands, traces=2)
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


def answer_there(hands, lesson, kinds, number, unsaid=0):
    """Let both groups answer on the class's own screen."""
    until_asked(hands)
    for count in (2 * number - 1 - unsaid, 2 * number - unsaid):
        hands.click(FIRST_ANSWER[kinds[number - 1]])
        hands.wait(are_kept(lesson, count), "the answer on the disk")
    hands.until_title("HELD")


def test_a_class_by_the_mouse_alone_on_one_screen_and_resumed_in_two_windows(open_window, lesson):
    lines = lesson.read_text().splitlines()
    kinds = [line.split('"')[1] for line in lines if line.startswith("ask")]
    assert len(kinds) == COUNT
    hands = open_window("class", lesson)
    for number in range(1, 4):
        answer_there(hands, lesson, kinds, number)
        hands.click("The next question")
    until_asked(hands)
    hands.click(FIRST_ANSWER[kinds[3]])
    hands.wait(are_kept(lesson, 7), "Anna's answer on the disk")
    hands.click("Show the answer*")  # Ben has no answer to this one
    hands.until_title("HELD")
    hands.click("Questions, answers, scores")
    hands.click("Next question")
    until_asked(hands)
    hands.process.kill()  # the power goes
    hands.process.wait()

    hands = open_window("class", lesson, "--windows", "2")
    put_beside(hands)
    for number in range(5, COUNT + 1):
        if kinds[number - 1] == "what is wrong":
            until_asked(hands)
            for count, group in ((2 * number - 2, "Anna"), (2 * number - 1, "Ben")):
                hands.choose(f"Answer of {group}", f"Answer of {group} > {WELL.words}")
                hands.wait(are_kept(lesson, count), f"{group}'s answer on the disk")
            hands.until_title("HELD")
        else:
            answer_there(hands, lesson, kinds, number, unsaid=1)
        if number < COUNT:
            hands.click("Next question")
    hands.click("Worksheet")
    hands.click("This trace onto the worksheet")
    hands.click("Worksheet, answers: PDF")
    worksheet_is_whole(hands, traces=1)
    hands.click("Save the table")
    rows = table_of(hands)
    assert {"revealed": 4} in events(lesson)
    assert len(rows) == 2 * COUNT - 1
    assert [row["group"] for row in rows if row["question"] == "4"] == ["Anna"]
    assert {row["answer"] for row in rows if row["words"] == WHAT_IS_WRONG} >= {WELL.words}
    hands.click("All actions and their keys")
    hands.click("Close the window")
    assert hands.process.wait(60) == 0
