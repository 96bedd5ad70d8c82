"""The sign beside a step's headline says no more than its words do."""

from dataclasses import replace
from pathlib import Path

import pytest

from strokewise.gui.pages.sign import SHAPES, Certainty
from strokewise.gui.models.steps.sections import sections_of
from strokewise.gui.models.steps.step_book import look_first, named_as_here
from strokewise.gui.models.steps.step_fields import about
from strokewise.gui.models.steps.step_sign import (
    CAUSE_OPEN,
    HIDDEN,
    MOST_PROBABLE,
    NONE,
    NOT_SURE,
    SURE,
    TO_CONFIRM,
    sign_of,
)
from strokewise.gui.steps import Step, seen_in, step

RECORDINGS = Path(__file__).parents[3] / "recordings"


@pytest.fixture(scope="module")
def lying():
    return step("marks", seen_in(RECORDINGS / "marks-that-lie.swr"))


def test_marks_measured_whose_cause_is_open_have_no_tick(lying):
    assert lying.decided
    assert "the cause is open" in lying.words
    assert sign_of(lying) == CAUSE_OPEN
    assert CAUSE_OPEN.certainty is not Certainty.SURE
    assert SHAPES[CAUSE_OPEN.certainty] != SHAPES[Certainty.SURE]


def test_one_cause_that_stands_out_is_no_more_than_probable():
    known = step("marks", seen_in(RECORDINGS / "cranked.swr"))
    assert "Most probable" in " ".join(known.words.split())
    sign = sign_of(known)
    assert sign.word == MOST_PROBABLE
    assert sign.certainty is Certainty.NOT_YET
    assert sign.share == known.answer["findings"][0]["probability"] > 0.9


def test_marks_that_state_nothing_are_sure_once_measured(lying):
    assert sign_of(replace(lying, answer={**lying.answer, "findings": []})) == SURE


@pytest.mark.parametrize(
    ("name", "answer", "sign"),
    [
        ("cam", None, NONE),
        ("cam", {"decided": False}, NOT_SURE),
        ("cam", {"decided": True}, SURE),
        ("valves", {"decided": True}, SURE),
        ("drive", {"decided": True, "found": None}, SURE),
        ("drive", {"decided": True, "found": {"half_turn": False}}, SURE),
        ("drive", {"decided": True, "found": {"half_turn": True}}, CAUSE_OPEN),
        ("static", {"decided": True, "strobe": None}, SURE),
        ("static", {"decided": True, "strobe": {"culprits": ["mark", "advance"]}}, SURE),
        ("static", {"decided": True, "strobe": {"culprits": ["unknown"]}}, CAUSE_OPEN),
        ("compare", {"decided": True, "findings": []}, SURE),
        ("compare", {"decided": True, "findings": [{}]}, TO_CONFIRM),
    ],
)
def test_every_kind_of_answer_has_its_sign(name, answer, sign):
    assert sign_of(Step(name, "", answer)) == sign


def test_before_any_answer_and_before_the_class():
    assert sign_of(None) == NONE
    undecided = {"decided": False}
    assert sign_of(Step("valves", "", undecided), hidden=True) == HIDDEN
    assert sign_of(Step("compare", "", undecided), hidden=True) == NOT_SURE


def test_the_next_look_stands_below_a_short_headline(lying):
    first, *sections = sections_of(lying.words)
    headline, shown = look_first(first.rows[0][1], tuple(sections), lying.answer)
    look = lying.answer["next_look"]
    assert look[:20] not in headline
    assert headline.endswith("the cause is open.")
    assert look in shown[0].rows[0][1]
    assert sum(look[:20] in text for section in shown for _, text in section.rows) == 1


def test_what_is_missing_is_called_as_the_field_beside_it_is():
    words = 'no static timing known: give --advance "6 deg BTDC"'
    assert named_as_here(words, about("static")).startswith(
        "no static timing known: give “Advance”"
    )
    for option in (field.option for field in about("valves").fields):
        assert "--" not in named_as_here(f"{option}: no such valve", about("valves"))
