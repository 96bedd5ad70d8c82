"""Static timing in whatever a person can measure, and how to come up to it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strokewise.analysis.errors import InputError
from strokewise.analysis.ignition.static_timing import (
    BACKLASH_DEG,
    approach,
    btdc_from_arc,
    btdc_from_chord,
    btdc_from_teeth,
    btdc_from_travel,
    static_target,
    timing_point,
)
from strokewise.analysis.profile import Profile
from strokewise.gui.sayings import say

BENCH = Profile(
    4,
    (1, 3, 4, 2),
    (180.0,) * 4,
    stroke_mm=94,
    rod_length_mm=168,
    pin_offset_mm=1.2,
    pulley_radius_mm=80,
    flywheel_teeth=120,
    static_advance_btdc_deg=6,
)
BARE = Profile(1, (1,), (720.0,))


@given(st.floats(0.1, 179))
def test_there_and_back(btdc):
    point = timing_point(BENCH, btdc)
    assert btdc_from_arc(BENCH, point.rim_arc_mm) == pytest.approx(btdc)
    assert btdc_from_chord(BENCH, point.rim_chord_mm) == pytest.approx(btdc, abs=1e-6)
    assert btdc_from_teeth(BENCH, point.flywheel_teeth) == pytest.approx(btdc)
    assert btdc_from_travel(BENCH, point.piston_travel_mm) == pytest.approx(btdc, abs=1e-6)


def test_after_tdc_is_negative():
    point = timing_point(BENCH, -6)
    assert point.rim_arc_mm < 0
    assert point.flywheel_teeth == -2
    assert point.piston_travel_mm > 0


def test_pin_offset_makes_travel_differ_before_and_after():
    before, after = (timing_point(BENCH, side * 20).piston_travel_mm for side in (1, -1))
    assert before != pytest.approx(after, abs=1e-3)


def test_what_the_profile_lacks_is_none_or_said():
    point = timing_point(BARE, 6)
    assert (point.rim_arc_mm, point.rim_chord_mm) == (None, None)
    assert (point.flywheel_teeth, point.piston_travel_mm) == (None, None)
    for function, text in (
        (btdc_from_arc, "pulley.radius"),
        (btdc_from_chord, "pulley.radius"),
        (btdc_from_teeth, "flywheel.teeth"),
        (btdc_from_travel, "rod_length"),
    ):
        with pytest.raises(InputError, match=text):
            function(BARE, 1.0)


def test_impossible_measures_are_refused():
    with pytest.raises(InputError, match="within the stroke"):
        btdc_from_travel(BENCH, 95)
    with pytest.raises(InputError, match="longer than the pulley is wide"):
        btdc_from_chord(BENCH, 161)
    with pytest.raises(InputError, match="lies from -180 to 180"):
        timing_point(BENCH, 200)


def test_target_of_the_turn_guide():
    assert static_target(BENCH, 100) == 94
    assert static_target(BENCH, 100, cylinder=4) == 454
    assert static_target(BENCH, 3, advance_btdc_deg=10) == 713
    with pytest.raises(InputError, match="advance is missing"):
        static_target(BARE, 0)
    with pytest.raises(InputError, match="no cylinder 7"):
        static_target(BENCH, 0, cylinder=7)


def turned(moves):
    return [(move.way, move.degrees) for move in moves]


def test_ahead_it_just_turns_on():
    assert turned(approach(80, 100)) == [(1, 20)]


def test_gone_past_it_goes_back_past_the_play_and_comes_up_again():
    moves = approach(108, 100, turning_back="allowed")
    assert turned(moves) == [(-1, 8 + BACKLASH_DEG), (1, BACKLASH_DEG)]


@pytest.mark.parametrize("turning_back", ["never", None])
def test_never_turned_back_it_goes_round_again(turning_back):
    (move,) = approach(108, 100, turning_back=turning_back)
    assert (move.way, move.degrees) == (1, 712)
    assert "go round again" in say(move.said)
    assert turned(approach(108, 100, cycle_deg=360, turning_back="never")) == [(1, 352)]


def test_standing_there_with_the_play_taken_up_nothing_is_left():
    assert approach(100.2, 100) == ()
    assert approach(99.8, 100, turned_on_deg=BACKLASH_DEG) == ()


def test_standing_there_after_turning_back_the_play_is_still_open():
    moves = approach(100, 100, turning_back="allowed", turned_on_deg=0)
    assert turned(moves) == [(-1, BACKLASH_DEG), (1, BACKLASH_DEG)]
    assert turned(approach(100, 100, turning_back="never", turned_on_deg=0)) == [(1, 720)]
    near = approach(95, 100, turning_back="allowed", turned_on_deg=0)
    assert turned(near) == [(-1, BACKLASH_DEG - 5), (1, BACKLASH_DEG)]


@given(
    st.floats(-2000, 2000),
    st.floats(-2000, 2000),
    st.sampled_from(["allowed", "never", None]),
    st.floats(0, 30),
)
def test_the_moves_always_land_on_the_target_coming_up(angle, target, turning_back, turned_on):
    moves = approach(angle, target, turning_back=turning_back, turned_on_deg=turned_on)
    landed = angle + sum(move.way * move.degrees for move in moves)
    off = (landed - target + 360) % 720 - 360
    assert abs(off) <= 0.5 + 1e-6
    if moves:
        assert moves[-1].way == 1
        up = moves[-1].degrees + (turned_on if len(moves) == 1 else 0)
        assert up >= BACKLASH_DEG - 1e-9
    if turning_back != "allowed":
        assert all(move.way == 1 for move in moves)


def test_far_past_it_goes_on_round_even_where_turning_back_is_allowed():
    moves = approach(204, 100, turning_back="allowed")
    assert turned(moves) == [(1, 616)]
    assert "too far past" in say(moves[0].said)
    assert turned(approach(125, 100, turning_back="allowed")) == [(-1, 55), (1, 30)]
