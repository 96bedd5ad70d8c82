"""The class as a file, its bank of questions, and the session that outlives an interruption."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from strokewise.analysis.crank.angle import short_way
from strokewise.analysis.errors import InputError
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.bench.truth import peaks_bar
from strokewise.gui.models.classroom.causes import CAUSES
from strokewise.gui.models.classroom.classroom import Classroom, bench_name
from strokewise.gui.models.classroom.questions import held, with_earlier
from strokewise.gui.models.figures.views import pressure_over_angle
from strokewise.gui.models.lesson.bank import BANK, new_lesson
from strokewise.gui.models.lesson.lesson import (
    Lesson,
    LessonItem,
    check_item,
    class_text,
    lesson_of,
    lesson_text,
)
from strokewise.gui.models.lesson.posing import pose
from strokewise.gui.models.lesson.session import begin, resume
from strokewise.gui.models.run.player import Deck
from strokewise.gui.models.run.sources import profile_maker

RECORDINGS = Path(__file__).resolve().parents[3] / "recordings"
NOW = datetime(2026, 1, 2, 9, 30, tzinfo=UTC)
CLASS = """
title = "Strokes"
groups = ["Anna", "Ben"]
seconds = 90

[[questions]]
scenario = "cranked"

[[questions]]
scenario = "worn-rings"
ask = "what is wrong"
seed = 7
notes = "speed"

[[questions]]
recording = "cranked.swr"
at = 3.2
"""


def lesson(text=CLASS):
    return lesson_of(text, RECORDINGS / "class.toml")


def test_a_class_is_read_as_it_was_written():
    read = lesson()
    assert read.title == "Strokes"
    assert read.groups == ("Anna", "Ben")
    assert read.limit_s == 90
    assert [item.kind for item in read.items] == ["firing", "fault", "firing"]
    assert read.items[1].seed == 7
    assert read.items[2].at_s == 3.2
    assert lesson_of(lesson_text(read), RECORDINGS / "class.toml") == read
    one = Lesson("t", (LessonItem("firing", "cranked", settings={"cylinder": "3"}),))
    assert lesson_of(lesson_text(one), Path("t.toml")).items == one.items


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('title = "Strokes"', "title = 3", 'title must be a text, like title = "..."'),
        ("seconds", "secnds", "there is nothing called secnds; did you mean seconds?"),
        ('"Anna", "Ben"', '"Anna", "Anna"', "two groups have one name"),
        ('"worn-rings"', '"worn-ring"', "question 2: there is no scenario 'worn-ring'; did you"),
        ("what is wrong", "what", 'question 2: ask = "what" must be "who fires" or'),
        ("seed = 7", "seed = -7", "question 2: seed must be a whole number from 0"),
        ("cranked.swr", "none.swr", "question 3: there is no recording"),
        ('"cranked"', '"clamp-slipped"', "question 1: clamp-slipped: who fires cannot be asked"),
        ('"worn-rings"', '"burning-petrol"', "question 2: burning-petrol: what this scenario"),
        ("at = 3.2", 'at = "soon"', "question 3: at must be a number of seconds"),
        ("at = 3.2", 'ask = "what is wrong"\nanswer = "ring"', "did you mean rings? one of well"),
        ("at = 3.2", "seed = 3", "question 3: settings and seed are for a scenario"),
        ("seed = 7", 'answer = "rings"', "question 2: answer is for a recording"),
        ("seed = 7", "settings = { cylinder = 9 ", "question"),
        ('scenario = "cranked"', "", "question 1: name either a scenario or a recording"),
        ("[[questions]]", "[[question]]", "there is nothing called question; did you mean q"),
    ],
)
def test_an_error_is_one_line_that_says_where(old, new, said):
    with pytest.raises(InputError) as error:
        lesson(CLASS.replace(old, new))
    words = str(error.value)
    assert "\n" not in words
    assert words.startswith(str(RECORDINGS / "class.toml"))
    assert said in words or (said == "question" and "line" in words)


def test_a_file_that_is_none_is_one_line_too(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        class_text(tmp_path / "none.toml")
    (tmp_path / "x.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="is no text"):
        class_text(tmp_path / "x.toml")
    with pytest.raises(InputError, match="no question in it"):
        lesson_of('title = "empty"', tmp_path / "x.toml")


def test_the_bank_has_enough_and_every_question_can_be_asked():
    assert len(BANK) >= 24
    assert len({(item.kind, item.scenario) for item in BANK}) == len(BANK)
    for item in BANK:
        check_item(item, Path())
    kinds = [item.kind for item in BANK]
    assert min(kinds.count("firing"), kinds.count("fault")) >= 8
    with pytest.raises(InputError, match="the bank has"):
        new_lesson(len(BANK) + 1)


def trace_of(item, seed):
    taken = take(scenario(item.scenario).build(item.settings, seed=seed))
    return b"".join(chunk.data for chunk in taken.items if hasattr(chunk, "data"))


def test_no_trace_comes_twice_in_two_sessions():
    one, other = (begin(new_lesson(len(BANK)), "", None, seed=seed) for seed in (1, 2))
    seeds = [session.seed_of(i) for session in (one, other) for i in range(len(BANK))]
    assert len(set(seeds)) == 2 * len(BANK)
    cranked = [i for i, item in enumerate(BANK) if item.scenario == "cranked"]
    traces = {trace_of(BANK[i], session.seed_of(i)) for session in (one, other) for i in cranked}
    assert len(traces) == 2 * len(cranked)


@pytest.mark.parametrize("number", range(len(BANK)))
def test_every_question_of_the_bank_is_posed_with_its_truth(number):
    item = BANK[number]
    session = begin(new_lesson(len(BANK)), "", None, seed=20260102)
    posed = pose(item, number + 1, session.seed_of(number), Path())
    question, moment = posed.question, posed.question.moment
    assert set(question.truths) <= set(question.choices)
    assert question.why
    assert posed.run.name == f"question {number + 1}"
    assert moment.link.name == posed.run.name
    if item.kind == "fault":
        assert 6 <= len(question.choices) <= 8
        return
    # Known from the engine itself, and never against what the tool is sure of.
    verdict = posed.run.snapshot.verdict
    if verdict is not None and verdict.decided:
        for cylinder, angle in moment.verdict.firing_deg.items():
            apart = short_way(angle - verdict.firing_deg[cylinder], moment.profile.cycle_deg)
            assert abs(float(apart)) < 5.0


def test_a_recording_is_asked_by_its_truth_and_the_trainer_may_not_contradict_it():
    item = lesson().items[2]
    posed = pose(item, 3, 1, RECORDINGS)
    assert posed.question.truths == ("3",)
    assert posed.question.scenario == "cranked.swr"
    wrong = LessonItem("firing", recording="cranked.swr", at_s=3.2, answer="2")
    with pytest.raises(InputError, match="says for certain 3"):
        pose(wrong, 3, 1, RECORDINGS)
    nobody = LessonItem("firing", recording="cranked.swr", at_s=3.2, answer="7")
    with pytest.raises(InputError, match="none of 1, 2, 3, 4"):
        pose(nobody, 3, 1, RECORDINGS)
    worn = LessonItem("fault", recording="cranked.swr", answer="rings", why="I wore them")
    question = pose(worn, 1, 1, RECORDINGS).question
    assert question.truths == (CAUSES["rings"].words,)
    assert question.why.startswith("I wore them. ")


def test_the_same_seed_poses_the_same_question():
    item = BANK[0]
    one, two = (pose(item, 1, 42, Path()).question for _ in range(2))
    assert one.truths == two.truths
    assert one.moment.angle_deg == two.moment.angle_deg
    other = pose(item, 1, 43, Path()).question
    assert other.moment.angle_deg != one.moment.angle_deg


@pytest.fixture(scope="module")
def question():
    return pose(BANK[0], 1, 42, Path()).question


def wrong_of(question):
    return next(each for each in question.choices if each not in question.truths)


def test_groups_answer_in_turn_and_are_scored_when_it_is_shown(question):
    session = begin(lesson(), CLASS, None, seed=1, now=lambda: NOW)
    assert session.waiting() == ("Anna", "Ben")
    session.give("Anna", question.truths[0], question, 12.34)
    assert session.scores() == {"Anna": (0, 0), "Ben": (0, 0)}  # not before it is shown
    with pytest.raises(InputError, match="Anna has no answer"):
        session.give("Anna", "1", question, 1.0)
    assert session.take_back().group == "Anna"
    session.give("Anna", question.truths[0], question, 12.34)
    session.give("Ben", wrong_of(question), question, 20.0)
    assert session.is_done(0)
    assert session.scores() == {"Anna": (1, 1), "Ben": (0, 1)}
    session.go_to(1)
    session.reveal()
    assert session.scores()["Anna"] == (1, 2)
    assert not session.ended
    head, first, second = session.csv().splitlines()
    assert head.startswith("when,question,asked of,seed,words,group")
    assert first.endswith(",yes,12.3")
    assert ",Ben," in second
    assert second.endswith(",no,20")


def test_a_session_is_resumed_where_a_power_cut_tore_it(question, tmp_path):
    path = tmp_path / "class.session"
    session = begin(lesson(), CLASS.replace("cranked.swr", str(RECORDINGS / "cranked.swr")), path)
    session.give("Anna", question.truths[0], question, 5.0)
    session.give("Ben", wrong_of(question), question, 6.0)
    session.go_to(1)
    session.give("Ben", "all well", question, 7.0)
    whole = path.read_bytes()
    for cut in range(len(whole) - 40, len(whole) + 1):
        path.write_bytes(whole[:cut])
        back = resume(path)
        assert back.seed == session.seed
        assert back.scores() == session.scores()
        assert back.at == 1
        assert back.given == session.given[: len(back.given)]
        assert len(back.given) == (3 if cut == len(whole) else 2)
        back.reveal()
        again = resume(path)
        assert again.revealed == {1}
        assert again.given == back.given


def test_a_file_that_is_no_session_is_said_in_one_line(tmp_path):
    path = tmp_path / "x.session"
    for text in ("", "{}\n", "nonsense\n", '{"class": 3, "groups": [], "seed": 1}\n'):
        path.write_text(text)
        with pytest.raises(InputError) as error:
            resume(path)
        assert "\n" not in str(error.value)
    with pytest.raises(InputError, match="cannot be read"):
        resume(tmp_path / "none.session")


def test_every_event_is_on_the_disk_before_the_window_goes_on(question, tmp_path):
    path = tmp_path / "class.session"
    session = begin(lesson(), CLASS, path, seed=3)
    for i, do in enumerate((session.reveal, lambda: session.go_to(2), session.reveal), start=2):
        do()
        lines = path.read_text().splitlines()
        assert len(lines) == i
        assert all(json.loads(line) for line in lines)
    assert np.isfinite(session.seed_of(0))


def peak_bar(name):
    """The median peak of cylinder 1, as the engine itself had it."""
    taken = take(scenario(name).build(seed=31))
    return float(np.median(peaks_bar(taken.run, 1)))


def test_what_the_reasons_say_of_peaks_is_so():
    well = peak_bar("cranked")
    for name in ("worn-rings", "burnt-valve", "valve-without-clearance", "throttle-shut",
                 "tired-battery", "cam-tooth-late"):  # fmt: skip
        assert peak_bar(name) < 0.97 * well, name
    assert peak_bar("dead-cylinder") < 0.5 * well
    assert peak_bar("liquid-in-cylinder") > 1.5 * peak_bar("hand-turned")


def tops_deg(question):
    """Return where each compression's top stands on the picture of pressure over angle."""
    figure = pressure_over_angle(held(question.moment).subject())
    return np.array([each.x[np.argmax(each.y)] for each in figure.curves]), figure


def test_a_class_sees_the_compressions_before_a_clamp_slipped_beside_those_after():
    question = pose(LessonItem("fault", "clamp-slipped"), 1, 42, Path()).question
    tops, _ = tops_deg(question)
    late = tops > 0.5 * (tops.min() + tops.max())
    assert 1 < late.sum() < len(tops) - 1
    apart = np.median(tops[late]) - np.median(tops[~late])
    assert apart == pytest.approx(12.0, abs=1.5)  # the scenario's slip
    assert max(np.ptp(tops[late]), np.ptp(tops[~late])) < 0.5 * apart


def test_a_live_engine_whose_clamp_slipped_is_shown_like_a_prepared_one():
    bench = scenario("clamp-slipped").build(seed=3)
    profile = profile_maker(header={"engine": stated_profile(bench)})
    deck = Deck(take(bench).items, profile, Tracker, name=bench_name("clamp-slipped"))
    room = Classroom()
    room.choose("clamp-slipped")
    for at_s in np.arange(0.5, 6.1, 0.5):  # judged again and again, as live
        deck.advance_to(float(at_s))
        deck.follower.judge()
    live = deck.snapshot()
    shown, before = (tops_deg(SimpleNamespace(moment=moment))[0] for moment in (
        room.ask("fault", live).moment, live))  # fmt: skip
    assert len(shown) > len(before) + 1
    early = shown[: -len(before)]
    assert np.median(early) - np.median(before) == pytest.approx(12.0, abs=1.5)
    assert not with_earlier(replace(live, passes=()), live.passes_before).passes


def test_a_class_sees_lost_counts_although_there_is_no_tdc():
    question = pose(LessonItem("fault", "counts-lost"), 1, 42, Path()).question
    tops, figure = tops_deg(question)
    assert figure.x_axis.label == "crank angle after the first peak"
    assert abs(tops[-1] - tops[0]) > 5.0
    steps = np.diff(tops)
    assert np.mean(np.sign(steps) == np.sign(tops[-1] - tops[0])) > 0.8


@pytest.mark.parametrize(
    ("name", "mark", "other"),
    [
        ("cam-tooth-late", "cam dot", "pulley notch"),
        ("pulley-mark-wrong", "pulley notch", "cam dot"),
    ],
)
def test_a_class_sees_which_mark_stands_away_from_tdc(name, mark, other):
    question = pose(LessonItem("fault", name), 1, 42, Path()).question
    assert question.view == "angle"
    lines = {line.label: line.x for line in tops_deg(question)[1].lines}
    assert set(lines) == {"TDC", mark, other}
    assert abs(lines[other]) < 1.0 < 5.0 < abs(lines[mark])
    (given,) = re.findall(rf"{mark} (\d+)°", question.given)
    assert abs(lines[mark]) == pytest.approx(float(given), abs=1.5)
