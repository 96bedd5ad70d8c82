"""A trainer holds a class: a replay stopped for a question, a fault to be found, a worksheet.

Through the models behind the window, which need no screen, with the shipped recordings and the
bench engine.
"""

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from strokewise.analysis.crank.strokes import phase_at
from strokewise.gui.drawings.worksheet_svg import answer_pages, worksheet_pages
from strokewise.gui.models.classroom.causes import ALL_WELL
from strokewise.gui.models.classroom.classroom import Classroom, bench_name
from strokewise.gui.models.classroom.questions import masked
from strokewise.gui.models.figures.units import BAR
from strokewise.gui.models.run.sources import open_deck

RECORDINGS = Path(__file__).resolve().parents[2] / "recordings"
NOW = datetime(2026, 1, 2, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def deck():
    """The shipped recording of a starter, looked through and played to its end."""
    made = open_deck(RECORDINGS / "cranked.swr")
    made.scan_all()
    made.advance_to(made.length_s)
    made.follower.judge()
    return made


@pytest.fixture
def room():
    return Classroom(now=lambda: NOW)


def test_the_class_names_the_firing_cylinder_before_the_verdict_is_shown(deck, room):
    truth = json.loads((RECORDINGS / "cranked.truth.json").read_text())["firing"]
    moment = deck.snapshot()
    question = room.ask("firing", moment)
    assert question is not None
    assert question.choices == ("1", "2", "3", "4")
    # The right answer is the truth's, not only the tool's own.
    phase = phase_at(moment.profile, truth["1"], moment.angle_deg)
    assert question.truth == str(phase.on_firing_stroke[0])
    hidden = masked(moment)
    assert hidden.verdict.firing_deg is None
    assert hidden.trail is moment.trail
    wrong = next(choice for choice in question.choices if choice != question.truth)
    assert not room.answer(wrong).right
    room.ask("firing", moment)
    assert room.answer(question.truth).right
    head, first, second = room.answers_csv().splitlines()
    assert head.startswith("when,scenario,question,answer")
    assert first.startswith("2026-01-02T09:30:00+00:00")
    assert (first[-2:], second[-3:]) == ("no", "yes")


def test_the_replay_goes_back_to_a_moment_and_shows_the_same(deck):
    deck.seek(1.0)
    before = deck.snapshot().angle_deg
    deck.seek(2.2)
    assert deck.snapshot().angle_deg > before
    deck.seek(1.0)
    assert deck.snapshot().angle_deg == before
    deck.step_degrees(90.0)
    assert deck.snapshot().angle_deg == pytest.approx(before + 90.0, abs=3.0)


@pytest.mark.parametrize("name", ["cam-tooth-late", "worn-rings", "burnt-valve"])
def test_a_fault_is_put_before_the_class_with_its_alternatives(deck, room, name):
    moment = deck.snapshot()

    def of(scenario):
        return replace(moment, link=replace(moment.link, name=bench_name(scenario)))

    room.choose("cranked")
    assert room.ask("fault", of("cranked")).truth == ALL_WELL
    assert room.answer(ALL_WELL).right
    room.choose(name)
    question = room.ask("fault", of(name))
    assert question.truth != ALL_WELL
    assert {question.truth, ALL_WELL} < set(question.choices)
    assert not room.answer(ALL_WELL).right
    assert [line.rsplit(",", 1)[1] for line in room.answers_csv().splitlines()[1:]] == ["yes", "no"]


def test_the_answers_of_the_worksheet_are_those_of_the_bench_and_stand_apart(deck, room):
    deck.seek(deck.length_s)
    deck.follower.judge()
    truth = json.loads((RECORDINGS / "cranked.truth.json").read_text())["firing"]["1"]
    (sheet,) = room.worksheet(deck.snapshot(), "cranked.swr", BAR)
    front, back = "".join(worksheet_pages([sheet])), "".join(answer_pages([sheet]))
    assert "A simulated engine." in front
    assert "Cylinder" not in front
    assert ">compression<" not in front
    assert ">compression<" in back
    # What a pupil reads from it: the stroke that holds the trace's highest point ends with TDC.
    at = float(sheet.angle_deg[sheet.top])
    ends = [end for start, end, words in sheet.strokes if words == "compression"]
    true = [(truth - sheet.zero_deg) % 720.0 + 720.0 * k for k in (0, 1)]
    near = min(true, key=lambda angle: abs(angle - at))
    assert min(abs(end - near) for end in ends) < 1.0
    assert 0 < near - at < 8.0
