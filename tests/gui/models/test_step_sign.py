"""The sign beside a step's headline says no more than its words do."""

from dataclasses import replace
from pathlib import Path

import pytest

from strokewise.analysis.remark import Notice
from strokewise.gui.found import found_in
from strokewise.gui.models.steps.step_book import sign_of
from strokewise.gui.models.steps.step_words import look_first, named_as_here
from strokewise.gui.options import SaidOfEngine
from strokewise.gui.pages.headline import allowed_sign
from strokewise.gui.pages.page import Text
from strokewise.gui.pages.sign import (
    CAUSE_OPEN,
    HIDDEN,
    NONE,
    NOT_SURE,
    SHAPES,
    SURE,
    TO_CONFIRM,
    Certainty,
)
from strokewise.gui.sayings import as_said
from strokewise.gui.steps import ask, step_named

RECORDINGS = Path(__file__).parents[3] / "recordings"


@pytest.fixture(scope="module")
def lying():
    return ask("marks", found_in(RECORDINGS / "marks-that-lie.swr", SaidOfEngine()))


def test_marks_measured_whose_cause_is_open_have_no_tick(lying):
    assert lying.decided
    assert "the cause is open" in lying.page.headline
    assert lying.page.sign == CAUSE_OPEN
    assert CAUSE_OPEN.certainty is not Certainty.SURE
    assert SHAPES[CAUSE_OPEN.certainty] != SHAPES[Certainty.SURE]


def test_one_cause_that_stands_out_is_no_more_than_probable():
    known = ask("marks", found_in(RECORDINGS / "cranked.swr", SaidOfEngine()))
    assert "Most probable" in known.page.headline
    sign = known.page.sign
    assert sign.word == "MOST PROBABLE"
    assert sign.certainty is Certainty.NOT_YET
    # What is said of all parts together is no surer than what is said of the least sure of them.
    best: dict[str, float] = {}
    for finding in known.json["findings"]:
        part = finding["part"]
        best[part] = max(best.get(part, 0.0), finding["probability"])
    assert sign.share == pytest.approx(min(best.values()), abs=1e-6)
    assert sign.share > 0.9


def test_before_any_answer_and_before_the_class(lying):
    assert sign_of(None) == NONE
    undecided = replace(lying.page, decided=False, sign=NOT_SURE)
    assert sign_of(undecided, hidden=True) == HIDDEN
    assert sign_of(undecided) == NOT_SURE
    assert sign_of(lying.page, hidden=True) == CAUSE_OPEN


@pytest.mark.parametrize("code", ["board-silent", "clamp-unchecked"])
def test_nothing_is_sure_that_a_warning_of_the_page_denies(code):
    warned = (Notice("clipped", as_said("x")), Notice(code, as_said("y")))
    assert allowed_sign(SURE, warned) == NOT_SURE
    assert allowed_sign(SURE, warned[:1]) == SURE
    assert allowed_sign(TO_CONFIRM, warned) == TO_CONFIRM


def test_the_next_look_stands_below_a_short_headline(lying):
    headline, parts = look_first(lying.page)
    look = lying.json["next_look"]
    assert look[:20] not in headline
    assert headline.endswith("the cause is open.")
    assert parts[0] == Text(look, "What would tell")
    assert sum(look[:20] in part.text for part in parts if isinstance(part, Text)) == 1


def test_what_is_missing_is_called_as_the_field_beside_it_is():
    words = 'no static timing known: give --advance "6 deg BTDC"'
    static, valves = step_named("static"), step_named("valves")
    assert named_as_here(words, static).startswith("no static timing known: give “Advance”")
    for option in valves.options.values():
        assert "--" not in named_as_here(f"{option}: no such valve", valves)
