"""A class held in the window: question after question, by keys and by the mouse, and resumed."""

import csv
import io
import threading
from types import SimpleNamespace

import pyqtgraph as pg
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGraphicsTextItem, QGraphicsView, QLabel, QPushButton

from strokewise.analysis.errors import InputError
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.scenarios.scenarios import SCENARIOS
from strokewise.gui.models.lesson.lesson import lesson_of
from strokewise.gui.models.lesson.session import begin, resume
from strokewise.gui.models.lesson.standing import left_words, said_words
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.sources import profile_maker
from strokewise.gui.pages.sign import Certainty
from strokewise.gui.window import ink
from strokewise.gui.window.lesson import lesson_play
from strokewise.gui.window.lesson.lesson_play import LessonPlay

CLASS = """
title = "Strokes"
groups = ["Anna", "Ben"]
seconds = 90

[[questions]]
scenario = "cranked"
seed = 5

[[questions]]
scenario = "worn-rings"
ask = "what is wrong"
seed = 6
notes = "look at the speed"

[[questions]]
scenario = "burnt-valve"
ask = "what is wrong"
seed = 7
"""


@pytest.fixture
def hold(window, tmp_path, wait):
    """Opens a window and holds a class in it."""

    def make(apart=False, session=None, **more):
        empty = ReplayRun(Deck([], profile_maker(), Tracker, name="Strokes"), playing=False)
        opened = window(run=empty, **more)  # as the command opens it
        path = tmp_path / "strokes.session"
        lesson = lesson_of(CLASS, tmp_path / "strokes.toml")
        session = session or begin(lesson, CLASS, path, seed=1)
        time = SimpleNamespace(s=0.0)
        play = opened.lesson = LessonPlay(opened, session, apart=apart, clock=lambda: time.s)
        opened.session_file, opened.time = path, time
        if apart:
            play.desk.show()
        play.start()
        wait(lambda: play.question is not None)
        return opened, play

    yield make
    for thread in threading.enumerate():  # what is being prepared the window does not wait for
        if thread.name == "loader":
            thread.join(60.0)


def wrong_of(question):
    return next(each for each in question.choices if each not in question.truths)


def test_answers_of_many_words_stand_beside_the_picture_alone(hold, wait):
    opened, play = hold(size=(1280, 800))
    play.next()
    wait(lambda: play.question is not None and play.session.at == 1)
    assert opened.answers.isVisible()
    play.show_desk()
    assert not opened.answers.isVisible()  # the desk has its own lists
    list_ = play.desk.list
    assert all(
        list_.visualItemRect(list_.item(i)).height() < 2 * list_.fontMetrics().height()
        for i in range(1, list_.count())  # a line each, not broken
    )
    play.show_desk()
    assert opened.answers.isVisible()


def test_what_is_shown_is_not_offered_again(hold, wait):
    opened, play = hold()
    play.reveal()
    assert [each.text() for each in opened.question_bar._buttons] == ["Next question"]
    play.show_question(1)
    wait(lambda: play.question is not None and play.session.at == 1)
    play.give("Anna", play.question.truths[0])
    play.give("Ben", wrong_of(play.question))
    said = opened.question_bar.words
    assert "Ben ✗" in said
    opened.question_bar._buttons[-1].click()  # Show it
    assert opened.question_bar.words == said


def test_a_message_lies_over_no_word_of_the_question_bar(hold, wait):
    opened, play = hold()
    play.reveal()
    opened.show_page("class")
    opened.say("On the worksheet: 1 trace")
    bar, note = opened.question_bar.geometry(), opened.note.geometry()
    assert opened.question_bar.isVisible()
    assert not bar.intersects(note)
    assert not opened.row.geometry().intersects(note)


def test_every_group_answers_in_turn_and_then_it_is_shown(hold, qtbot, wait):
    opened, play = hold()
    bar, question = opened.question_bar, play.question
    assert "Question 1 of 3. Anna says (1:30 left):" in bar.words
    assert opened.band.sentence.certainty is Certainty.HIDDEN
    buttons = {button.text(): button for button in bar._buttons}
    opened.time.s = 12.0
    buttons[question.truths[0]].click()
    assert "Ben says (1:18 left):" in bar.words
    assert opened.band.sentence.certainty is Certainty.HIDDEN  # the first answer tells nothing
    buttons = {button.text(): button for button in bar._buttons}
    buttons[wrong_of(question)].click()
    assert opened.band.sentence.text == f"Cylinder {question.truth} was firing: Anna was right"
    assert opened.band.sentence.word == "HELD"
    assert "Anna ✓" in bar.words
    assert "Ben ✗" in bar.words
    assert play.session.scores() == {"Anna": (1, 1), "Ben": (0, 1)}
    assert play.session.given[0].took_s == 12.0
    bar._buttons[0].click()  # the next question
    wait(lambda: play.question is not None and play.session.at == 1)
    assert 6 <= len(opened.answers.buttons) <= 8
    assert opened.answers.isVisible()
    assert not opened.chart_page.guide.isVisible()
    opened.show_view("speed")
    assert opened.answers.isVisible()


def test_a_class_by_keys_alone(hold, qtbot, wait):
    opened, play = hold()
    for _ in play.session.groups:
        qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_Return)  # the first answer, right or wrong
    assert opened.band.sentence.word == "HELD"
    qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_F6)
    wait(lambda: play.question is not None and play.session.at == 1)
    qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_Down)
    qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_Return)
    assert play.session.answers()[0].answer == play.question.choices[1]
    qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_F7)  # Ben says nothing
    assert opened.band.sentence.word == "HELD"
    qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_F5)
    assert opened.view == "lesson"
    assert "Rings worn" in play.desk.answer.text()
    qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_F5)
    assert opened.view == "chart"


def test_the_desk_on_the_class_s_own_screen_tells_nothing_before_it_is_shown(hold, wait):
    _, play = hold()
    play.next()
    wait(lambda: play.question is not None and play.session.at == 1)
    play.show_desk()
    desk = play.desk
    said = [desk.head, desk.answer, desk.why, desk.notes]
    texts = [label.text() for label in said]
    texts += [desk.list.item(i).text() for i in range(desk.list.count())]
    for text in texts:
        assert "rings" not in text
        assert "worn" not in text
        assert "speed" not in text
        assert not any(name in text for name in SCENARIOS)
    play.give("Anna", play.question.truths[0])
    assert desk._choices["Anna"].currentText() == "choose …"  # Ben looks at the screen too
    assert not desk._choices["Anna"].isEnabled()
    play.reveal()
    assert "Rings worn" in desk.answer.text()
    assert "look at the speed" in desk.notes.text()
    assert desk._choices["Anna"].currentText() == play.question.truths[0]
    assert "✓ right" in desk._marks["Anna"].text()
    assert "worn-rings" in desk.list.item(1).text()


def test_what_the_class_sees_is_drawn_anew_only_when_it_is_painted(hold, wait, qtbot):
    _, play = hold(apart=True)
    desk = play.desk

    def drawn():
        desk.tick()
        return desk.seen.pixmap().cacheKey()

    def stands():
        before = drawn()
        qtbot.wait(300)  # a question stands: the time is not told anew, and nothing moves
        return drawn() == before

    wait(stands)  # once all that came with the question is drawn
    asked = drawn()
    play.reveal()
    qtbot.waitUntil(lambda: drawn() != asked)
    shown = drawn()
    desk.resize(desk.width() + 200, desk.height() + 100)
    qtbot.waitUntil(lambda: drawn() != shown)


def test_the_trainer_s_window_knows_what_the_class_does_not(hold, wait, qtbot):
    opened, play = hold(apart=True)
    desk = play.desk
    assert desk.isWindow()
    assert f"Cylinder {play.question.truth} was firing (cranked)" in desk.answer.text()
    assert opened.band.sentence.certainty is Certainty.HIDDEN
    desk.tick()
    assert not desk.seen.pixmap().isNull()
    choice = desk._choices["Ben"]  # in any order
    choice.setCurrentIndex(choice.findText(play.question.truths[0]))
    choice.activated.emit(choice.currentIndex())
    assert [each.group for each in play.session.given] == ["Ben"]
    assert "Anna says" in opened.question_bar.words
    play.take_back()
    assert not play.session.given
    play.give("Anna", wrong_of(play.question))
    play.give("Ben", play.question.truths[0])
    assert opened.band.sentence.second == "Ben was right"
    qtbot.keyClick(desk, Qt.Key.Key_F6)
    wait(lambda: play.question is not None and play.session.at == 1)
    desk.close()
    play.show_desk()
    assert desk.isVisible()
    opened.close()
    assert not desk.isVisible()


def test_an_interrupted_class_goes_on_where_it_was(hold, tmp_path, wait):
    opened, play = hold()
    play.give("Anna", play.question.truths[0])
    play.give("Ben", wrong_of(play.question))
    play.next()
    wait(lambda: play.question is not None and play.session.at == 1)
    first = play.question
    play.give("Ben", "all well")
    again = resume(opened.session_file)  # as after a power cut: nobody has closed anything
    other, back = hold(session=again)
    assert back.session.at == 1
    assert back.question.truths == first.truths
    assert back.question.moment.angle_deg == first.moment.angle_deg
    assert "Anna says" in other.question_bar.words  # Ben has answered
    assert back.session.scores() == {"Anna": (1, 1), "Ben": (0, 1)}


def test_the_table_is_kept_and_closing_keeps_it_too(hold, tmp_path):
    opened, play = hold()
    play.give("Anna", play.question.truths[0])
    path = play.save_table()
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    assert rows[0]["group"] == "Anna"
    assert rows[0]["asked of"] == "cranked"
    assert rows[0]["seed"] == "5"
    assert rows[0]["right"] == "yes"
    play.give("Ben", play.question.truths[0])
    opened.close()
    tables = sorted(path.parent.glob("class-answers*.csv"))
    assert len(tables) == 2
    assert len(list(csv.DictReader(io.StringIO(tables[-1].read_text())))) == 2


def test_a_worksheet_made_in_class_has_the_class_s_answers(hold, wait):
    opened, play = hold()
    room = opened.rooms.classroom
    play.reveal()
    opened.actions_.do("keep_trace")
    play.next()
    wait(lambda: play.question is not None and play.session.at == 1)
    opened.actions_.do("keep_trace")  # refused: it would answer
    assert len(room.traces) == 1
    play.reveal()
    opened.actions_.do("keep_trace")
    well, worn = room.traces
    assert well.wrong == SCENARIOS["cranked"].about
    assert worn.wrong.startswith("Rings worn")
    assert play.question.why in worn.wrong


def test_the_reason_is_shown_beside_a_healthy_trace_until_the_class_goes_on(hold, wait):
    opened, play = hold()
    play.show_question(1)
    wait(lambda: play.question is not None and play.session.at == 1)
    play.reveal()
    opened.question_bar._buttons[-1].click()  # Show it
    wait(lambda: opened.laid.healthy is not None)
    assert opened.view == "speed"
    assert "healthy" in opened.figure.figure.curves[0].name
    opened.rooms.questioning.go_on()
    assert opened.laid.healthy is None


def test_a_question_that_cannot_be_asked_says_so_and_the_next_can(hold, wait, monkeypatch):
    opened, play = hold()

    def refuses(item, number, seed, folder):
        raise InputError("nobody can tell")

    monkeypatch.setattr("strokewise.gui.window.lesson.lesson_play.pose", refuses)
    play._ready.clear()
    wait(lambda: not play._loaders)
    play._ready.clear()
    play.next()
    wait(lambda: "cannot be asked: nobody can tell" in opened.bar.words)
    monkeypatch.undo()
    play.next()
    wait(lambda: play.question is not None and play.session.at == 2)
    play.next()
    assert "last question" in opened.bar.words


@pytest.mark.parametrize("answered", [False, True])
def test_while_a_question_is_prepared_the_one_before_stands_as_it_did(
    hold, wait, monkeypatch, answered
):
    opened, play = hold()
    wait(lambda: not play._loaders)
    play._ready.clear()
    gate, pose = threading.Event(), lesson_play.pose
    monkeypatch.setattr(lesson_play, "pose", lambda *asked: gate.wait(60.0) and pose(*asked))
    if answered:
        play.reveal()
    before = opened.band.sentence
    play.next()
    opened.redraw()
    assert opened.question_bar.words == "Question 2 is being prepared …"
    assert not opened.question_bar._buttons
    assert opened.band.sentence == before
    assert before.word == ("HELD" if answered else "YOUR ANSWER?")
    assert opened.chart_page.chart.chart.decided is answered
    gate.set()
    wait(lambda: play.question is not None and play.session.at == 1)
    assert "Question 2 of 3. Anna says" in opened.question_bar.words


def test_time_runs_out_in_words():
    assert left_words(90, 0.0) == "1:30 left"
    assert left_words(90, 85.2) == "0:05 left"
    assert left_words(90, 90.0) == "time is up"
    assert left_words(0, 1e5) == ""


def test_who_was_right_is_a_sentence():
    def gave(*names):
        return [SimpleNamespace(group=name, right=name in names) for name in "ABC"]

    assert said_words(gave(), "ABC") == "nobody was right"
    assert said_words(gave("A"), "ABC") == "A was right"
    assert said_words(gave("A", "B"), "ABC") == "A and B were right"
    assert said_words(gave("A", "B", "C"), "ABC") == "all were right"
    assert said_words(gave("A")[:1], "A") == "A was right"


def test_without_a_class_its_keys_say_what_to_do(window):
    opened = window()
    opened.actions_.do("next_question")
    assert "strokewise class FILE" in opened.bar.words


def figures_of(part, kept):
    """Return what is said with a digit in it by a part of the window, and the height of its type.

    Parameters
    ----------
    kept : list
        Filled with words and type as they are painted.
    """
    kept.clear()
    part.grab()
    said = list(kept)
    for label in part.findChildren(QLabel):
        if label.isVisibleTo(part):
            said.append((label.text(), label.font().pixelSize()))
    for button in part.findChildren(QPushButton):
        if button.isVisibleTo(part):
            said.append((button.text(), button.font().pixelSize()))
    for view in part.findChildren(QGraphicsView):
        if not view.isVisibleTo(part):
            continue
        for item in view.scene().items():
            if isinstance(item, pg.AxisItem) and item.isVisible() and item.style["showValues"]:
                said.append(("axis 0", item.style["tickFont"].pixelSize()))
            elif isinstance(item, QGraphicsTextItem) and item.isVisible():
                said.append((item.toPlainText(), item.font().pixelSize()))
    return [(words, size) for words, size in said if any(sign.isdigit() for sign in words)]


@pytest.fixture
def painted_type(monkeypatch):
    """Every word that is painted, with the height of its type."""
    said = []
    for name in ("text", "large"):
        paint = getattr(ink, name)
        monkeypatch.setattr(
            ink,
            name,
            lambda *args, _paint=paint: (
                said.append((args[2], args[3].pixelSize())) or _paint(*args)
            ),
        )
    return said


@pytest.mark.parametrize("size", [(1280, 800), (1366, 768), (1920, 1080)])
def test_what_a_class_reads_is_a_fortieth_of_the_picture_high(hold, wait, size, painted_type):
    opened, play = hold(size=size)
    least, small, read = size[1] / 40, [], 0

    def look(where):
        nonlocal read
        opened.redraw()
        parts = [opened.band, opened.question_bar, opened.answers, opened.strip]
        parts.append(opened.chart_page if opened.view == "chart" else opened.figure)
        for part in parts:
            if part.isVisible():
                found = figures_of(part, painted_type)
                read += len(found)
                small.extend((where, *each) for each in found if each[1] < least)

    def look_at_views(where):
        for view in ("chart", "angle", "loglog", "speed"):
            opened.show_view(view)
            look(f"{where}, {view}")
        opened.show_view("chart")

    look_at_views("who fires")
    assert opened.question_bar._words.font().pixelSize() >= least
    assert not opened.strip.isVisible()  # nothing in it can be used while a question stands
    play.reveal()
    look_at_views("who fires, held")
    assert opened.strip.isVisible()
    play.next()
    wait(lambda: play.question is not None and play.session.at == 1)
    look_at_views("what is wrong")
    for button in opened.answers.buttons:
        words = button.layout().itemAt(0).widget()
        assert words.font().pixelSize() >= least
        assert words.width() >= 100
        assert words.heightForWidth(words.width()) <= button.height(), words.text()
    assert not opened.answers._scroll.verticalScrollBar().maximum()  # all are seen at once
    play.show_question(2)
    wait(lambda: play.question is not None and play.session.at == 2)
    play.reveal()
    opened.question_bar._buttons[-1].click()  # Show it
    wait(lambda: opened.laid.healthy is not None)
    look("the reason is shown")
    assert opened.view == "loglog"
    facts = opened.figure._facts
    assert "dots: healthy" in facts.text()
    assert facts.heightForWidth(facts.width()) <= facts.height()  # none is cut
    play.show_desk()
    opened.actions_.do("toggle_theme")
    opened.redraw()
    assert play.desk.font().pixelSize() >= least
    assert read > 100
    assert not small, "\n".join(map(str, small))
