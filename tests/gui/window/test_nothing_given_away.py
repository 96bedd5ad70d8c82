"""While a question stands, no text and no picture of the window holds its answer.

A window on a moment of each scenario is asked, view by view and key by key, for all that it shows.
And the sharpest form of it: the picture must be the same, dot for dot, whatever the answer is.
"""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QComboBox,
    QGraphicsTextItem,
    QGraphicsView,
    QLabel,
    QLineEdit,
    QListWidget,
    QTableWidget,
    QTextEdit,
    QWidget,
)

from strokewise.analysis.crank.strokes import firing_offsets, phase_at
from strokewise.analysis.estimate import Interval
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Tdc, Verdict
from strokewise.daq.bench.scenarios.scenarios import SCENARIOS
from strokewise.gui.models.classroom.causes import causes_of, reference_of, why_no_fault
from strokewise.gui.models.classroom.classroom import bench_name
from strokewise.gui.models.classroom.questions import answered_sentence
from strokewise.gui.models.keys import VIEWS
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.silence import Heard
from strokewise.gui.models.run.snapshot import Link
from strokewise.gui.models.run.sources import profile_maker
from strokewise.gui.models.turn.first_turns import FirstTurns
from strokewise.gui.models.turn.tone import SILENCE
from strokewise.gui.pages.sign import Certainty
from strokewise.gui.window import ink

ANSWERED_BY = ("SURE", "turn on ", "bench: ", "fires in", "TAKEN BACK")


@pytest.fixture
def painted(monkeypatch):
    """Every word that is painted, as it is painted."""
    said = []
    for name in ("text", "large"):
        paint = getattr(ink, name)
        monkeypatch.setattr(
            ink, name, lambda *args, _paint=paint: said.append(args[2]) or _paint(*args)
        )
    return said


def texts_of(window):
    """Return what every visible widget says to eye, ear or mouse; the offered answers apart."""
    found, offered = [window.windowTitle()], []
    for each in (window, *window.findChildren(QWidget)):
        if not each.isVisibleTo(window):
            continue
        of_the_bar = window.question_bar.isAncestorOf(each) or window.answers.isAncestorOf(each)
        if not window.answers.isAncestorOf(each):
            found += [each.accessibleName(), each.accessibleDescription(), each.toolTip()]
        if isinstance(each, QComboBox):
            entries = [each.itemText(i) for i in range(each.count())]
            (offered if of_the_bar else found).extend(entries)
        elif isinstance(each, QAbstractButton):
            (offered if of_the_bar else found).append(each.text())
        elif isinstance(each, QLabel | QLineEdit):
            (offered if isinstance(each.parent(), QAbstractButton) else found).append(each.text())
        elif isinstance(each, QGraphicsView):  # axes, labels and legends of the figures
            items = each.scene().items()
            found += [item.toPlainText() for item in items if isinstance(item, QGraphicsTextItem)]
        elif isinstance(each, QTextEdit):
            found.append(each.toPlainText())
        elif isinstance(each, QListWidget):
            found += [each.item(i).text() for i in range(each.count())]
        elif isinstance(each, QTableWidget):
            cells = [(i, k) for i in range(each.rowCount()) for k in range(each.columnCount())]
            found += [each.item(*cell).text() for cell in cells if each.item(*cell)]
    return [text for text in found if text], offered


def moment_of(base, profile, name, turned_deg=40.0):
    """Return a decided moment of a scenario: its own profile and name, the toy's trace."""
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    first = (base.angle_deg - turned_deg) % profile.cycle_deg
    firing = {n: (first + offset) % profile.cycle_deg for n, offset in offsets.items()}
    verdict = Verdict(
        decided=True,
        reason=base.verdict.reason,
        warnings=base.verdict.warnings,
        tdc=Tdc(Interval(first % 360.0, first % 360.0 - 0.1, first % 360.0 + 0.1), 1, "fit", 3),
        firing_deg=firing,
        probability=0.99999,
    )
    link = Link(bench_name(name), "running", lost_frames=7, bad_frames=3, simulated=True)
    return replace(
        base,
        profile=profile,
        verdict=verdict,
        judgement=None,
        first_turns=FirstTurns(suspect=True),
        link=link,
        replay=None,
        heard=Heard(),
    )


@pytest.fixture(scope="module")
def kept_moments():
    """The toy engine's decided moment, once it has been played."""
    return []


@pytest.fixture
def room(window, deck, kept_moments):
    """A window whose class-room has been entered, and what puts a moment of a scenario into it."""
    if not kept_moments:
        kept_moments.append(ReplayRun(deck(), playing=False).snapshot)
    opened = window(run=ReplayRun(Deck([], profile_maker(), Tracker, name="toy"), playing=False))
    opened.base = kept_moments[0]
    classroom = opened.rooms.classroom

    def put(name, turned_deg=40.0):
        run = classroom.choose(name)
        moment = moment_of(opened.base, run.snapshot.profile, name, turned_deg)
        opened.change_run(run, begin=False)
        run.newest.put(moment)
        opened.redraw()
        return moment

    opened.put = put
    return opened


def all_shown(window, painted):
    """Return all that is said while the views and keys of the window are gone through."""
    found, offered = [], []
    places = [*(name for name, _ in VIEWS), "class", "setup", "steps"]
    for name in places:
        painted.clear()
        if name == "steps":
            window.actions_.do("show_steps")
        else:
            window.show_page(name) if name in ("class", "setup") else window.show_view(name)
        window.grab()
        texts, answers = texts_of(window)
        found += [*texts, *painted]
        offered = answers
        if name not in window.pages and window.figure.isVisible():
            window.actions_.do("sample_on")
            found.append(window.figure.reading)
    for action in ("show_keys", "show_cautions", "list_targets", "next_target", "back", "back"):
        painted.clear()
        window.actions_.do(action)
        window.grab()
        found += [*texts_of(window)[0], *painted]
        found.append(window.panel.words)
    found.append(window.run_name)
    return found, offered


@pytest.mark.parametrize("name", SCENARIOS)
def test_who_fires_is_nowhere_to_be_found(room, painted, name):
    moment = room.put(name)
    fires = phase_at(moment.profile, moment.verdict.firing_deg[1], moment.angle_deg)
    room.rooms.ask("firing")
    assert room.question_stands, room.bar.words
    shown, offered = all_shown(room, painted)
    about = SCENARIOS[name].about
    for text in shown:
        for giving in ANSWERED_BY:
            assert giving not in text.replace("SURE YET", ""), text
        assert bench_name(name) not in text
        assert about not in text, text
        assert "on its firing stroke" not in text.replace("Which cylinder is on its firing", "")
    names = {str(one.cylinder) for one in fires.cylinders}
    assert names <= set(offered)
    assert room.speaker._stream.tone == SILENCE


@pytest.mark.parametrize(
    "name", [each.name for each in SCENARIOS.values() if not why_no_fault(each)]
)
def test_what_is_wrong_is_nowhere_to_be_found(room, painted, name):
    room.put(name)
    scenario = SCENARIOS[name]
    bench = scenario.build()
    true = causes_of(bench, reference_of(scenario), scenario)
    room.rooms.ask("fault")
    assert room.question_stands, room.bar.words
    _, offered = texts_of(room)  # beside the picture
    shown, _ = all_shown(room, painted)
    for text in shown:
        assert bench_name(name) not in text
        assert scenario.about not in text, text
        for cause in true:
            assert cause.words not in text.lower(), text
            assert cause.why[:40] not in text, text
        assert "7 lost" not in text
    answers = [each for each in offered if each]
    assert 6 <= len(answers) <= 8
    assert {cause.words for cause in true} <= set(answers) or not true
    assert answers[0] == "all well"


@pytest.mark.parametrize("name", ["cranked", "eight", "six", "v-twin"])
def test_the_picture_is_the_same_whatever_the_answer_is(room, name):
    pictures = {}
    for turned in (
        220.0,
        40.0,
        445.0 if name == "v-twin" else 400.0,
    ):  # the first round lays everything out
        pictures = {} if len(pictures) == len(VIEWS) and turned == 40.0 else pictures
        room.put(name, turned)
        room.rooms.ask("firing")
        question = room.rooms.questioning.stands
        assert question is not None
        for view, _ in VIEWS:
            room.show_view(view)
            room.redraw()
            pictures[view, question.truth] = room.grab().toImage()
        room.rooms.questioning.go_on()
    truths = {truth for _, truth in pictures}
    assert len(truths) == 2
    one, other = truths
    for view, _ in VIEWS:
        assert pictures[view, one] == pictures[view, other], view


def test_esc_leaves_the_question_where_it_is(room, qtbot):
    room.put("cranked")
    room.rooms.ask("firing")
    for _ in range(3):
        qtbot.keyClick(room.focusWidget() or room, Qt.Key.Key_Escape)
        assert room.question_bar.asking
        assert room.band.sentence.certainty is Certainty.HIDDEN
    assert room.focusWidget() is room.question_bar._buttons[0]
    qtbot.keyClick(room, Qt.Key.Key_A)  # would ask for an advance in the question's place
    assert room.question_bar.asking
    assert "A question stands" in room.bar.words


def test_files_saved_meanwhile_are_named_after_no_scenario(room, tmp_path):
    room.put("cam-tooth-late")
    room.rooms.ask("fault")
    room.actions_.do("export_csv")
    room.actions_.do("export_png")
    names = [path.name for path in (tmp_path / "out").iterdir()]
    assert len(names) == 2
    assert all(name.startswith("question-chart") for name in names)


@pytest.mark.parametrize("name", ["cam-tooth-late", "cranked"])
def test_files_saved_meanwhile_hold_no_answer(room, tmp_path, name):
    room.put(name)
    room.rooms.ask("firing" if name == "cranked" else "fault")
    for view, _ in VIEWS:
        room.show_view(view)
        room.actions_.do("export_csv")
        room.actions_.do("export_svg")
    files = list((tmp_path / "out").iterdir())
    assert len(files) >= 2 * len(VIEWS)
    for path in files:
        text = path.read_text(encoding="utf-8")
        stated = (",firing,", ">firing<")  # a stroke for certain: "firing or intake?" may stand
        for giving in (*ANSWERED_BY, *stated, bench_name(name), SCENARIOS[name].about):
            assert giving not in text, (path.name, giving)


def test_an_answered_moment_is_held_and_says_what_was_so(room, painted):
    room.put("cranked")
    room.rooms.ask("firing")
    question = room.rooms.questioning.stands
    wrong = next(each for each in question.choices if each not in question.truths)
    room.rooms.questioning.answered(wrong)
    sentence = room.band.sentence
    assert sentence.text == f"Cylinder {question.truth} was firing: the class said {wrong}"
    assert sentence.word == "HELD"
    assert "firing TDC" in sentence.detail
    assert "held" in room.windowTitle()
    room.grab()
    assert not any("NOT SURE YET" in text for text in (*texts_of(room)[0], *painted))
    assert room.chart_page.guide._shown.guidance is None
    assert sentence == answered_sentence(question, f"the class said {wrong}")
    room.rooms.questioning.go_on()
    assert room.band.sentence.certainty is not Certainty.ANSWERED


def test_the_reason_is_shown_on_the_view_that_shows_it(room, wait):
    room.put("worn-rings")
    room.rooms.ask("fault")
    question = room.rooms.questioning.stands
    room.rooms.questioning.answered(question.truths[0])
    room.question_bar._buttons[1].click()
    assert room.view == question.view == "speed"
    assert "rings worn" in room.question_bar.words
    assert np.isfinite(room.base.angle_deg)
    wait(lambda: room.laid.healthy is not None)  # turned aside, and laid behind it


def test_at_the_edge_of_a_stroke_the_next_fair_moment_is_asked(room, wait):
    room.put("cranked", turned_deg=181.0)
    room.rooms.ask("firing")
    assert not room.question_stands
    moment = moment_of(room.base, room.run.snapshot.profile, "cranked", 200.0)
    room.run.newest.put(moment)  # the engine has turned on
    wait(lambda: room.question_stands)
