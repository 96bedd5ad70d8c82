"""The steps follow a run: asked when something has changed, no more often, and never in its way."""

import time
from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.profile import Mark, Valves, ValveTiming
from strokewise.analysis.remark import Notice
from strokewise.analysis.samples import Events, Press
from strokewise.gui.models.run.follower import Follower
from strokewise.gui.models.run.snapshot import Link
from strokewise.gui.models.steps import step_book, step_words
from strokewise.gui.models.steps.asking import Asking, Unanswered
from strokewise.gui.models.steps.found_now import found_now
from strokewise.gui.models.steps.step_book import StepBook
from strokewise.gui.models.steps.step_fields import fields_of, trouble_with, typed_of
from strokewise.gui.pages import sign as step_sign
from strokewise.gui.pages.page import Facts
from strokewise.gui.registry import STEPS, window_steps
from strokewise.gui.sayings import as_said, say
from strokewise.gui.steps import step_named

TIMING = ValveTiming(12, 48, 46, 14)


@pytest.fixture
def run(toy):
    """A follower that has been turned so far, and its moment."""

    def make(angles=(-300, 1700), judged=True, marks=(), events=None, presses=()):
        profile = toy.profile(valve_timing=TIMING, marks=marks)
        follower = Follower(profile, toy.Tracker)
        segment = toy.segment(np.linspace(*angles, 8_000))
        s = segment.samples
        at = np.array([] if events is None else events, np.int64)
        met = Events(s.time_us[at], s.count[at], np.ones(len(at), np.int64))
        pressed = tuple(Press("dot", int(s.time_us[k])) for k in presses)
        first, *blocks = toy.blocks(segment, 100)
        follower.feed(replace(first, events=met, presses=pressed))
        for block in blocks:
            follower.feed(replace(block, events=Events.empty(), presses=()))
        if judged:
            follower.judge()
        return follower

    return make


def moment(follower):
    return follower.snapshot(1, Link("toy", "running"))


def settled(book, snapshot, timeout_s=30.0):
    """Look until there is an answer and nothing is left to ask."""
    end = time.monotonic() + timeout_s
    while time.monotonic() < end:
        book.look(snapshot)
        view = book.view(snapshot)
        if view.headline and not book.behind and not book.busy:
            return view
        time.sleep(0.01)
    raise AssertionError("no answer")


def test_every_step_of_the_commands_has_a_place(run):
    assert [step.name for step in STEPS if step.in_window] == [step.name for step in window_steps()]
    assert {step.name for step in STEPS if not step.in_window} == {"find", "check", "response"}
    book, names = StepBook(), []
    for _ in window_steps():
        names.append(book.chosen)
        book.turn(1)
    assert names == [step.name for step in window_steps()]
    assert book.chosen == names[0]


def test_nothing_known_yet_says_what_to_do(toy, run):
    book = StepBook()
    empty = Follower(toy.profile(valve_timing=TIMING), toy.Tracker)
    view = settled(book, moment(empty))
    assert view.sign == step_sign.NOT_SURE
    assert "connect the board" in view.headline
    assert any("manual" in caution.text for caution in view.cautions)
    turned = settled(book, moment(run(angles=(-300, -200), judged=False)))
    assert "turn the engine through one" in turned.headline


def test_marks_are_listed_as_they_are_met_and_placed_once_tdc_is_found(run):
    marks = (Mark("notch", 1, stated_atdc_deg=0.0), Mark("dot"))
    first = moment(run(judged=False, marks=marks, events=[1_000], presses=[4_000]))
    book = StepBook()
    table = settled(book, first).table
    assert [row[:2] for row in table.rows] == [("notch · input 1", "1"), ("dot · key M", "1")]
    assert table.rows[0][2:] == ("–", "–", "–")
    # -300° to 1700° in 8,000 samples: the notch meets its pointer 10° after each TDC of 1.
    met = [round((angle + 300) * 4) for angle in (110, 470, 830, 1190, 1550)]
    later = moment(run(marks=marks, events=met, presses=[4_000]))
    view = settled(book, later)
    name, seen, at, sure, turn = view.table.rows[0]
    assert (name, seen, turn) == ("notch · input 1", "5", "both")
    assert float(at.split("°")[0]) == pytest.approx(10.0, abs=0.2)
    assert at.endswith("after")
    low, high = (float(part.strip("°")) for part in sure.split(" to "))
    assert low <= 10.0 <= high  # to a tenth
    assert "Causes, part by part, the most probable first" in view.words


def test_valves_are_asked_again_when_the_crank_has_moved(run, monkeypatch):
    asked = []
    before = step_book._ask
    monkeypatch.setattr(step_book, "_ask", lambda *args: asked.append(args[1]) or before(*args))
    book = StepBook()
    book.turn(2)
    here = moment(run())
    view = settled(book, here)
    assert view.sign == step_sign.SURE
    assert view.headline.startswith("SET NOW")
    for _ in range(50):  # nothing has changed: nothing is asked
        book.look(here)
    assert len(asked) == 1
    further = moment(run(angles=(-300, 1900)))
    assert "catching up" in (book.look(further) or book.view(further).working)
    assert settled(book, further).headline != view.headline
    assert len(asked) == 2


def test_what_is_said_to_a_step_is_asked_with_its_options(run):
    book = StepBook()
    book.turn(2)
    here = moment(run())
    first = settled(book, here).headline.removeprefix("SET NOW: ").split(",")[0].strip(".")
    assert book.say("done", first) == ""
    view = settled(book, here)
    assert "Done" in view.words
    assert first not in view.headline
    assert book.say("gap", "1E=thin").startswith("Gap found, set, nipped up:")
    assert book.say("gap", "9E=0.3 mm") == ""
    # What the step would refuse is said in its words, its fields called as here.
    refused = settled(book, here)
    assert refused.sign == step_sign.NONE
    assert "--" not in refused.headline


def test_a_valve_whose_gap_was_good_stays_done_when_it_is_turned_on(run, toy, monkeypatch):
    clearances = Valves(order="EIIEEIIE", clearance_inlet_mm=0.3, clearance_exhaust_mm=0.3)
    book = StepBook()
    book.turn(2)
    here, further = (
        replace(each, profile=replace(each.profile, valves=clearances))
        for each in (moment(run()), moment(run(angles=(-300, 1900))))
    )
    first = settled(book, here).headline.removeprefix("SET NOW: ").split(",")[0].strip(".")
    assert book.say("gap", f"{first}=0.3 mm") == ""
    assert f"Gap {first}" in settled(book, here).words
    view = settled(book, further)
    assert "NOT JUDGED" not in view.words
    assert f"Done                 {first}" in view.words
    # Measured again and found wrong it is done no more.
    assert book.say("gap", f"{first}=0.6 mm") == ""
    settled(book, further)
    assert "Done  " not in settled(book, further).words


def test_fields_are_read_as_the_question_has_them():
    marks, cam, static = (step_named(name) for name in ("marks", "cam", "static"))
    assert typed_of(marks, {"stated": "a=1; b=2", "cam_shift": " "}) == {"stated": ["a=1", "b=2"]}
    assert typed_of(cam, {"clearances_set": "yes"}) == {"clearances_set": ["yes"]}
    assert typed_of(static, {"mark_late": "-2,-3,-1"}) == {"mark_late": ["-2,-3,-1"]}
    whole = next(field for field in fields_of(cam) if field.takes.kind == "whole")
    assert trouble_with(whole, "2") == ""
    assert "whole number" in trouble_with(whole, "two")
    compare = step_named("compare")
    speed = next(field for field in fields_of(compare) if field.takes.kind == "positive")
    for nonsense in ("0", "-3", "inf", "fast"):
        assert trouble_with(speed, nonsense)


def test_a_new_start_of_the_board_is_said(run):
    here = moment(run())
    earlier = replace(here, verdict=replace(here.verdict, segment=5))
    found = found_now(earlier)
    assert found.tdc_1 is None
    assert "started again" in say(found.verdict.reason)


NOTICE = Notice(
    "counts-contradiction", as_said("2401 counts against 2400: 2401 is used; count by hand")
)


def test_what_is_to_be_known_of_the_profile_is_said_once_short_and_first(run):
    book = StepBook()
    book.turn(2)
    here = replace(moment(run()), notices=(NOTICE,))
    view = settled(book, here)
    assert view.warnings[0] == (step_words.PROFILE, "2401 counts against 2400: 2401 is used.")
    shown = [text for _, text in view.warnings]
    shown += [r.text for part in view.parts if isinstance(part, Facts) for r in part.rows]
    assert sum("2401" in text for text in shown) == 1
    assert "count by hand" in view.words  # what is copied is the command's whole answer
    book.turn(1)  # the drive gear is missing: what is to be known is said all the same
    view = settled(book, here)
    assert view.sign == step_sign.NONE
    assert view.warnings[0][0] == step_words.PROFILE


def test_another_engine_is_not_answered_with_the_last_ones_figures(run, toy):
    book = StepBook()
    book.turn(2)
    settled(book, moment(run()))
    other = Follower(toy.profile(6, (1, 5, 3, 6, 2, 4)), toy.Tracker)
    book.look(moment(other))
    assert book.view(moment(other)).words == ""
    book.close()


def test_the_next_question_rests_after_a_long_answer():
    now = [0.0]
    asking = Asking("step", lambda: now[0])
    assert asking.ask(lambda: Unanswered("x"))
    assert not asking.ask(lambda: Unanswered("y"), at_once=True)
    asking.close()
    now[0] = 3.0
    assert asking.answer().words == "x"
    assert asking.took_s == 3.0
    assert not asking.ask(lambda: Unanswered("y"))
    now[0] = 9.1
    assert asking.ask(lambda: Unanswered("y"))
    asking.close()


def test_a_fault_of_ours_is_said():
    def fault():
        raise ZeroDivisionError("of ours")

    asking = Asking("step")
    asking.ask(fault)
    asking.close()
    said = asking.answer()
    assert isinstance(said, Unanswered)
    assert "please report" in said.words
    assert asking.answer() is None


def test_compare_waits_for_recordings(run, tmp_path):
    book = StepBook()
    book.turn(-1)
    here = moment(run())
    view = settled(book, here)
    assert "Choose the recordings" in view.headline
    book.files = (tmp_path / "none.swr", tmp_path / "neither.swr")
    view = settled(book, here)
    assert "no such file" in view.headline
