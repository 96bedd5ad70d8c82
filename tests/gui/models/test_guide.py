import pytest
from hypothesis import given
from hypothesis import strategies as st

from strokewise.gui.models.turn.guide import (
    BY_HAND_DEG_S,
    ON_TARGET_DEG,
    PAST_THE_PLAY_DEG,
    TurnGuide,
)
from strokewise.gui.models.turn.target import Position

AT_100 = Position(100.0, 720.0)


def walk(angles, turning_back="allowed", position=AT_100):
    guide = TurnGuide(turning_back)
    said = []
    for angle in angles:
        guide, guidance = guide.follow(position, angle)
        said.append(guidance)
    return said


def test_counts_down_in_the_direction_of_turning():
    said = walk([0, 40, 90, 100])
    assert [g.remaining_deg for g in said] == [100, 60, 10, 0]
    assert [g.phase for g in said] == ["turn on", "turn on", "slowly", "there"]
    assert said[0].words == "Turn on 100°"
    assert said[-1].arrow == 0


def test_past_the_target_is_nearly_a_whole_cycle_short_of_it():
    assert walk([110])[0].remaining_deg == pytest.approx(710)


def test_overshoot_goes_back_past_the_play_and_comes_up_again():
    over, back, clear, there = walk([99, 104, 90, 70, 100])[1:]
    assert over.phase == "go back"
    assert over.arrow == -1
    assert over.back_deg == pytest.approx(4 + PAST_THE_PLAY_DEG)
    assert over.words == "Too far by 4°: turn back 34°, then come up again"
    assert back.phase == "go back"
    assert back.back_deg == pytest.approx(20)
    assert clear.phase == "turn on"
    assert there.phase == "there"


def test_coming_back_onto_the_target_from_above_is_not_being_there():
    assert walk([104, 100.0])[0].phase == "turn on"  # started past it: a cycle to go
    assert walk([99, 104, 100.0])[-1].phase == "go back"


def test_where_turning_back_is_not_allowed_it_goes_round_again():
    said = walk([99, 104, 300, 819, 820], "never")
    assert said[1].phase == "go round"
    assert said[1].remaining_deg == pytest.approx(716)
    assert "Do not turn back" in said[1].words
    assert said[3].phase == "slowly"
    assert said[4].phase == "there"


def test_where_nobody_said_it_says_so_and_names_both_ways():
    past = walk([99, 104], None)[-1]
    assert past.phase == "past"
    assert past.arrow == 0
    assert past.remaining_deg == pytest.approx(-4)
    assert past.back_deg == pytest.approx(34)
    assert past.round_deg == pytest.approx(716)
    assert "Nobody said whether this engine may be turned back" in past.words
    assert "where its manual allows it, back 34° and up again" in past.words
    assert "else on round, 716°" in past.words


def test_where_nobody_said_it_follows_either_choice():
    back = walk([99, 104, 98, 69, 100], None)
    assert [g.phase for g in back[2:]] == ["go back", "turn on", "there"]
    assert back[2].words.startswith("Nobody said")
    on = walk([99, 104, 140, 819, 820], None)
    assert [g.phase for g in on[1:]] == ["past", "go round", "slowly", "there"]


def test_where_nobody_said_a_give_of_the_spanner_is_no_choice():
    assert walk([99, 104, 102.5], None)[-1].phase == "past"


@given(st.lists(st.floats(-60, 60), min_size=1, max_size=60))
def test_never_asks_to_turn_back_where_it_is_forbidden(steps):
    guide, angle = TurnGuide("never"), 0.0
    for step in steps:
        angle += step
        guide, guidance = guide.follow(AT_100, angle)
        assert guidance.phase not in ("go back", "past")
        assert guidance.arrow != -1
        assert "turn back 3" not in guidance.words


@given(st.lists(st.floats(-60, 60), min_size=1, max_size=60))
def test_turning_back_is_never_named_without_saying_that_nobody_allowed_it(steps):
    guide, angle = TurnGuide(None), 0.0
    for step in steps:
        angle += step
        guide, guidance = guide.follow(AT_100, angle)
        if guidance.phase in ("go back", "past") or guidance.arrow == -1:
            assert "Nobody said" in guidance.words


@given(st.lists(st.floats(-60, 60), min_size=1, max_size=60))
def test_there_is_said_only_on_the_target(steps):
    guide, angle = TurnGuide("allowed"), 0.0
    for step in steps:
        angle += step
        guide, guidance = guide.follow(AT_100, angle)
        on_it = abs((angle - 100 + 360) % 720 - 360) <= ON_TARGET_DEG + 1e-9
        assert on_it or guidance.phase != "there"


def test_far_past_it_is_quicker_to_go_on():
    said = walk([99, 100, 195])
    assert said[-1].phase == "go round"


def test_turning_backwards_is_said_and_stopped_where_forbidden():
    assert "must not be turned back" in walk([50, 40], "never")[-1].warning
    assert walk([50, 40], "allowed")[-1].warning == "That is backwards"
    assert walk([50, 48.5], "never")[-1].warning == ""


def test_with_the_starter_nobody_is_guided():
    _, guidance = TurnGuide("allowed").follow(AT_100, 0.0, BY_HAND_DEG_S * 5)
    assert guidance.phase == "too fast"


def test_a_target_that_moves_a_little_keeps_its_turn():
    guide = TurnGuide("allowed")
    guide, _ = guide.follow(AT_100, 50.0)
    guide, guidance = guide.follow(Position(100.3, 720.0), 99.9)
    assert guidance.remaining_deg == pytest.approx(0.4)
    guide, guidance = guide.follow(Position(99.7, 720.0), 99.9)
    assert guidance.phase == "there"


def test_without_a_target_it_says_so():
    _, guidance = TurnGuide("allowed").follow(None, 0.0)
    assert guidance.phase == "no target"


def test_far_past_it_goes_on_round_even_where_turning_back_is_allowed():
    guide = TurnGuide("allowed")
    for angle in (90.0, 189.0):
        guide, said = guide.follow(AT_100, angle)
    assert said.phase in ("go round", "turn on")
    assert said.arrow == 1
    assert said.back_deg is None
