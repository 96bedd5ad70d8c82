"""Where a mark stands, from edges, presses and readings."""

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_edges import REACTION_S
from strokewise.analysis.marks.marks import (
    place_mark,
    shared_step_deg,
    turns_at_half_speed,
)
from strokewise.analysis.profile import CamDrive, Encoder, Mark, Profile
from strokewise.analysis.samples import Events, Press, Samples, Segment
from strokewise.analysis.trace.marks_met import MarkPass, MarkPress, MarkSeen, seen_in
from strokewise.gui.sayings import say

FOUR = Profile(
    4,
    (1, 3, 4, 2),
    (180.0,) * 4,
    pulley_radius_mm=80,
    flywheel_teeth=120,
    cam_drive=CamDrive(21, 42),
    encoder=Encoder(3600),
)
TDC = Interval(100.0, 99.9, 100.1)
NOTCH = Mark("pulley notch", 1, "pulley", 0.0)
DOT = Mark("cam dot", 2, "cam sprocket", 0.0, "firing")


def edges(mark, forward, backward=(), cell=0.1):
    passes = [MarkPass(a, True) for a in forward] + [MarkPass(a, False) for a in backward]
    return MarkSeen(mark, tuple(passes), cell_deg=cell)


def codes(place):
    return [notice.code for notice in place.notices]


def test_edges_give_offset_interval_and_what_can_be_measured():
    place = place_mark(edges(NOTCH, [107.4 + 360 * n for n in range(5)]), FOUR, TDC, 100.0)
    assert place.seen == 5
    assert place.after_tdc.value == pytest.approx(7.4)
    assert place.after_tdc.low < 7.4 < place.after_tdc.high
    assert place.after_tdc.half_width < 0.5
    assert place.late.value == pytest.approx(7.4)
    assert place.offset.rim_mm.value == pytest.approx(80 * np.radians(7.4))
    assert place.offset.flywheel_teeth.value == pytest.approx(7.4 / 3)
    assert place.offset.cam_teeth.value == pytest.approx(7.4 * 42 / 720)
    assert (place.turn, place.firing_cylinder) == ("both", None)
    assert place.notices == ()


def test_late_is_against_what_the_mark_states():
    early = Mark("timing", 1, "pulley", -6.0)
    place = place_mark(edges(early, [94.5]), FOUR, TDC, None)
    assert place.after_tdc.value == pytest.approx(-5.5)
    assert place.late.value == pytest.approx(0.5)
    silent = place_mark(edges(Mark("paint", 1), [94.5]), FOUR, TDC, None)
    assert silent.late is None
    assert silent.offset.rim_mm is None


def test_either_tdc_of_cylinder_one_will_do():
    for tdc in (100.0, 460.0, -260.0):
        place = place_mark(edges(NOTCH, [1187.0]), FOUR, Interval(tdc, tdc, tdc), None)
        assert place.after_tdc.value == pytest.approx(7.0)


def test_the_two_directions_are_two_sides_and_never_averaged():
    both = edges(NOTCH, [107.4, 467.4, 827.4], [110.0, 470.0])
    place = place_mark(both, FOUR, TDC, None)
    assert place.after_tdc.value == pytest.approx(7.4)
    assert place.backward.value == pytest.approx(10.0)
    assert place.seen == 5
    only_back = place_mark(edges(NOTCH, [], [110.0, 470.0]), FOUR, TDC, None)
    # nobody knows how wide the tooth is: up to 10° on the crank, so it stands from 0° to 10°
    assert only_back.after_tdc.value == pytest.approx(5.0)
    assert only_back.after_tdc.low < 0.0 < 10.0 < only_back.after_tdc.high
    assert (only_back.backward_only, place.backward_only) == (True, False)
    assert codes(only_back) == ["mark-backward"]


def test_interval_covers_the_truth():
    random = np.random.default_rng(5)
    covered = 0
    for _ in range(300):
        truth, tdc = random.uniform(-20, 20), random.normal(100, 0.15)
        crossings = 100 + truth + 360 * np.arange(6) + random.normal(0, 0.15, 6)
        read = np.floor(crossings / 0.3) * 0.3 + 0.15
        seen = edges(NOTCH, read, cell=0.3)
        found = place_mark(seen, FOUR, Interval.from_sigma(tdc, 0.15), None).after_tdc
        covered += found.low <= truth <= found.high
    assert covered >= 0.93 * 300


def test_a_stray_edge_is_left_out_and_said():
    place = place_mark(edges(NOTCH, [107.4 + 360 * n for n in range(6)] + [200.0]), FOUR, TDC, None)
    assert place.after_tdc.value == pytest.approx(7.4)
    assert codes(place) == ["mark-strays"]
    assert say(place.notices[0].remark) == "pulley notch: 1 of 7 edges came elsewhere; left out"


def test_a_jump_in_time_is_something_that_slipped():
    place = place_mark(edges(NOTCH, [119.0, 479.0, 839.0, 1187.0, 1547.0]), FOUR, TDC, None)
    assert place.after_tdc.value == pytest.approx(7.0)
    assert place.step_deg == pytest.approx(-12.0)
    assert codes(place) == ["mark-stepped"]
    assert "12.0° earlier" in say(place.notices[0].remark)


def test_marks_on_two_parts_that_jump_alike_show_the_clamp():
    slow = place_mark(edges(DOT, [115.0, 835.0, 1543.0, 2263.0]), FOUR, TDC, 100.0)
    fast = place_mark(edges(NOTCH, [119.0, 479.0, 839.0, 1187.0, 1547.0]), FOUR, TDC, None)
    assert shared_step_deg([slow, fast]) == pytest.approx(-12.0)
    assert shared_step_deg([fast]) is None
    other = place_mark(edges(DOT, [115.0, 835.0, 1575.0, 2295.0]), FOUR, TDC, 100.0)
    assert shared_step_deg([other, fast]) is None


def test_two_marks_under_one_pickup_are_not_guessed_at():
    angles = [107.4, 250.0, 467.4, 610.0, 827.4, 970.0]
    place = place_mark(edges(NOTCH, angles), FOUR, TDC, None)
    assert place.after_tdc is None
    assert codes(place) == ["mark-several"]
    assert "107.4°" in say(place.notices[0].remark)
    assert "250.0°" in say(place.notices[0].remark)


def test_a_mark_near_the_wrap_of_the_circle_is_one_mark():
    tdc = Interval(0.0, 0.0, 0.0)
    place = place_mark(edges(NOTCH, [359.9, 720.2, 1079.8, 1440.1]), FOUR, tdc, None)
    assert place.after_tdc.value == pytest.approx(0, abs=0.15)
    assert place.notices == ()


def test_nothing_seen_is_said():
    place = place_mark(edges(NOTCH, []), FOUR, TDC, None)
    assert (place.after_tdc, place.seen) == (None, 0)
    assert codes(place) == ["mark-not-seen"]


def test_half_speed_marks_know_their_turn():
    assert turns_at_half_speed(DOT, FOUR)
    assert not turns_at_half_speed(NOTCH, FOUR)
    firing = place_mark(edges(DOT, [102.0, 822.0]), FOUR, TDC, 100.0)
    assert (firing.turn, firing.firing_cylinder) == ("firing", 1)
    assert firing.late_in_cycle_deg == pytest.approx(2.0)
    overlap = place_mark(edges(DOT, [462.0]), FOUR, TDC, 100.0)
    assert (overlap.turn, overlap.firing_cylinder) == ("overlap", 4)
    assert overlap.late.value == pytest.approx(2.0)
    assert abs(overlap.late_in_cycle_deg) == pytest.approx(358.0)
    between = place_mark(edges(DOT, [190.0]), FOUR, TDC, 100.0)
    assert (between.turn, between.firing_cylinder) == ("firing", None)


def test_without_the_phase_a_half_speed_mark_keeps_its_turn_open():
    place = place_mark(edges(DOT, [102.0]), FOUR, TDC, None)
    assert (place.turn, place.firing_cylinder, place.late_in_cycle_deg) == (None, None, None)
    assert place.late.value == pytest.approx(2.0)


def test_a_two_stroke_fires_at_every_turn():
    twin = Profile(2, (1, 2), (180.0, 180.0), cycle="two-stroke", encoder=Encoder(3600))
    place = place_mark(edges(NOTCH, [281.0]), twin, TDC, 100.0)
    assert (place.turn, place.firing_cylinder) == ("firing", 2)


def test_presses_creeping_up():
    pressed = MarkSeen(NOTCH, presses=tuple(MarkPress(a) for a in (106.9, 467.8, 827.6)))
    place = place_mark(pressed, FOUR, TDC, None)
    assert place.after_tdc.value == pytest.approx(7.43, abs=0.01)
    assert 1.0 < place.after_tdc.half_width < 1.8
    assert place.notices == ()
    once = place_mark(MarkSeen(NOTCH, presses=(MarkPress(107.0),)), FOUR, TDC, None)
    assert once.after_tdc.half_width > place.after_tdc.half_width
    assert codes(once) == ["press-few"]


def test_a_press_while_moving_is_taken_back_by_the_reaction_and_less_sure():
    slow = [MarkPress(107 + 360 * n + 20 * REACTION_S, 20.0) for n in range(3)]
    fast = [MarkPress(107 + 360 * n + 600 * REACTION_S, 600.0) for n in range(3)]
    slowly = place_mark(MarkSeen(NOTCH, presses=tuple(slow)), FOUR, TDC, None).after_tdc
    quickly = place_mark(MarkSeen(NOTCH, presses=tuple(fast)), FOUR, TDC, None).after_tdc
    assert slowly.value == pytest.approx(7.0)
    assert quickly.value == pytest.approx(7.0)
    assert quickly.half_width > 20 * slowly.half_width


def test_presses_that_scatter_widen_the_interval():
    tight = tuple(MarkPress(a) for a in (107.0, 467.2, 826.9))
    loose = tuple(MarkPress(a) for a in (103.0, 470.0, 826.0))
    tightly = place_mark(MarkSeen(NOTCH, presses=tight), FOUR, TDC, None).after_tdc
    loosely = place_mark(MarkSeen(NOTCH, presses=loose), FOUR, TDC, None).after_tdc
    assert loosely.half_width > 2 * tightly.half_width


def test_presses_turning_back_are_left_out():
    pressed = (MarkPress(107.0), MarkPress(467.0), MarkPress(827.0), MarkPress(115.0, -30.0))
    place = place_mark(MarkSeen(NOTCH, presses=pressed), FOUR, TDC, None)
    assert place.after_tdc.value == pytest.approx(7.0)
    assert codes(place) == ["press-backward"]
    none_left = place_mark(MarkSeen(NOTCH, presses=pressed[3:]), FOUR, TDC, None)
    assert none_left.after_tdc is None


def test_drift_is_the_second_half_against_the_first():
    still = edges(NOTCH, [107.0 + 360 * n for n in range(8)])
    moving = edges(NOTCH, [107.0 + 360 * n + n for n in range(8)])
    assert (
        place_mark(still, FOUR, TDC, None).drift.low
        < 0
        < place_mark(still, FOUR, TDC, None).drift.high
    )
    drift = place_mark(moving, FOUR, TDC, None).drift
    assert drift.value == pytest.approx(4.0)
    assert drift.low > 0
    assert place_mark(edges(NOTCH, [107.0]), FOUR, TDC, None).drift is None


def segment(count, events=(), presses=(), period_us=1000):
    count = np.asarray(count, np.int64)
    n = len(count)
    at = np.array([e[0] for e in events], np.int64)
    return Segment(
        samples=Samples(
            np.arange(n, dtype=np.int64) * period_us,
            count,
            np.zeros((n, 1), np.uint16),
            np.zeros(n, bool),
        ),
        events=Events(
            at * period_us,
            count[at],
            np.array([e[1] for e in events], np.int64),
        ),
        presses=tuple(Press(name, at * period_us) for at, name in presses),
    )


def test_edges_and_presses_are_taken_from_a_segment():
    # 3 counts a millisecond, a tenth of a degree each: 50 rev/min, out and back
    there = np.arange(0, 3000, 3)
    turning = np.concatenate([there, there[::-1]])
    part = segment(
        turning,
        events=[(500, 1), (1500, 1), (700, 2)],
        presses=[(300, "pulley notch"), (400, "other")],
    )
    seen = seen_in(part, NOTCH, FOUR)
    assert [(round(p.angle_deg, 2), p.forward) for p in seen.passes] == [
        (150.05, True),
        (149.75, False),
    ]
    (press,) = seen.presses
    assert press.angle_deg == pytest.approx(90.0, abs=0.2)
    assert press.speed_deg_s == pytest.approx(300, rel=0.01)
    assert seen.cell_deg == pytest.approx(0.1)
    assert len(seen) == 3


def test_a_pressed_mark_has_no_input_and_takes_no_edges():
    part = segment(np.arange(0, 3000, 3), events=[(500, 1)], presses=[(300, "paint")])
    seen = seen_in(part, Mark("paint"), FOUR)
    assert (len(seen.passes), len(seen.presses)) == (0, 1)


def test_no_samples_no_marks():
    assert len(seen_in(Segment(), NOTCH, FOUR)) == 0


@pytest.mark.parametrize(
    ("after", "cylinder"), [(29.0, 1), (31.0, None), (149.0, None), (151.0, 3), (505.0, None)]
)
def test_a_mark_belongs_to_a_firing_tdc_within_the_most_advance_there_is(after, cylinder):
    """Named for a mark 40° past its TDC, a cylinder's plug would be timed by a mark of none."""
    place = place_mark(edges(DOT, [100.0 + after, 820.0 + after]), FOUR, TDC, 100.0)
    assert place.firing_cylinder == cylinder


def test_marks_that_jumped_by_three_degrees_more_than_another_are_no_slipped_clamp():
    """The clamp moves all marks alike: a ring that moved as well must not be taken for it."""
    fast = place_mark(edges(NOTCH, [119.0, 479.0, 839.0, 1187.0, 1547.0]), FOUR, TDC, None)
    near = place_mark(edges(DOT, [115.0, 835.0, 1544.0, 2264.0]), FOUR, TDC, 100.0)
    less = place_mark(edges(DOT, [115.0, 835.0, 1546.0, 2266.0]), FOUR, TDC, 100.0)
    assert (near.step_deg, less.step_deg) == pytest.approx((-11.0, -9.0))
    assert shared_step_deg([near, fast]) == pytest.approx(-11.5)
    assert shared_step_deg([less, fast]) is None


def test_an_early_mark_is_early_in_everything():
    place = place_mark(edges(NOTCH, [95.0 + 360 * n for n in range(5)]), FOUR, TDC, 100.0)
    assert place.after_tdc.value == pytest.approx(-5.0)
    assert place.late.value == pytest.approx(-5.0)
    assert place.offset.rim_mm.value == pytest.approx(-80 * np.radians(5.0))
    assert place.offset.flywheel_teeth.value == pytest.approx(-5 / 3)
    assert place.offset.cam_teeth.value == pytest.approx(-5 * 42 / 720)


def test_a_half_speed_mark_met_on_both_turns_is_two_marks():
    """Averaged over one turn it would be a sure mark of a cam that has two, a turn of it apart."""
    place = place_mark(edges(DOT, [102.0, 462.0, 822.0, 1182.0]), FOUR, TDC, 100.0)
    assert place.after_tdc is None
    assert codes(place) == ["mark-several"]


def test_looking_aslant_does_not_average_out():
    """Pressed forty times from one place, a mark is known to half a degree and no better."""
    many = tuple(MarkPress(107.0 + 360 * n) for n in range(40))
    place = place_mark(MarkSeen(NOTCH, presses=many), FOUR, TDC, None)
    assert 0.6 < place.after_tdc.half_width < 0.75
