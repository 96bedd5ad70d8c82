"""What valve events say of the cam, clearance kept apart from shift."""

from dataclasses import replace

import pytest

from strokewise.analysis.cam.cam import (
    cam_shift,
    manual_figure,
    stated_seat_deg,
    wanted_half_width_deg,
)
from strokewise.analysis.cam.valve_events import ValveEvent
from strokewise.analysis.cam.valve_ramp import ramp_of
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import (
    CamDrive,
    Profile,
    Valves,
    ValveTiming,
    even_intervals_deg,
)
from strokewise.gui.sayings import say

TOOTH_DEG = 720 / 42
ENGINE = Profile(
    4,
    (1, 3, 4, 2),
    even_intervals_deg(4, 720.0),
    bore_mm=84.0,
    stroke_mm=88.0,
    valve_timing=ValveTiming(12.0, 48.0, 46.0, 14.0),
    valves=Valves(clearance_inlet_mm=0.30, clearance_exhaust_mm=0.35),
    cam_drive=CamDrive(21, 42),
)


def closing(late_deg, sigma=0.8, by_hand=False):
    """Inlet closing so late against the timing, at the seat."""
    seat = -180.0 + 48.0 + late_deg
    return ValveEvent(
        "intake closes", Interval.from_sigma(seat, sigma), sigma, None, 8, 1.0, by_hand
    )


def opening(late_deg, sigma=0.8, by_hand=False):
    """Exhaust opening so late against the timing, at the seat."""
    seat = 180.0 - 46.0 + late_deg
    return ValveEvent(
        "exhaust opens", Interval.from_sigma(seat, sigma), sigma, None, 8, 1.0, by_hand
    )


def test_both_valves_late_is_a_late_cam():
    found = cam_shift((closing(17.0), opening(17.4)), ENGINE)
    assert found.shift.value == pytest.approx(17.2, abs=0.4)
    assert found.shift.low < 17.0 < 17.4 < found.shift.high
    assert found.teeth.value == 1
    assert found.teeth.probability > 0.99
    assert not found.notices


def test_an_early_cam_has_the_other_sign():
    found = cam_shift((closing(-34.0), opening(-34.6)), ENGINE)
    assert found.teeth.value == -2
    assert found.shift.value < -30


def test_wide_clearance_is_not_read_as_shift():
    # each end of a lobe comes nearer its middle: shuts early, opens late
    gap = ramp_of(ENGINE, "inlet").shorter_deg(0.15)
    found = cam_shift((closing(-float(gap)), opening(float(gap))), ENGINE)
    assert abs(found.shift.value) < 1.5
    assert found.teeth.value == 0
    assert found.intake.value < -1 < 1 < found.exhaust.value
    [notice] = found.notices
    assert notice.code == "clearance"
    assert "wide clearance" in say(notice.remark)


def test_tight_clearance_is_named_tight():
    [notice] = cam_shift((closing(5.0), opening(-5.0)), ENGINE).notices
    assert "tight clearance" in say(notice.remark)


def test_clearances_just_set_narrow_the_interval():
    events = closing(0.3), opening(-0.2)
    loose, tight = (cam_shift(events, ENGINE, clearances_set=s).shift for s in (False, True))
    assert tight.half_width < 0.7 * loose.half_width


def test_hydraulic_lifters_have_no_gap_to_be_wrong():
    hydraulic = replace(ENGINE, valves=Valves(lifters="hydraulic"))
    events = closing(0.0), opening(0.0)
    assert (
        cam_shift(events, hydraulic).shift.half_width < cam_shift(events, ENGINE).shift.half_width
    )


def test_one_event_alone_is_less_sure_than_two():
    both = cam_shift((closing(17.0), opening(17.0)), ENGINE)
    alone = cam_shift((closing(17.0),), ENGINE)
    assert alone.exhaust is None
    assert alone.shift.half_width > both.shift.half_width
    assert alone.teeth.value == 1
    assert alone.teeth.probability < both.teeth.probability


def test_separate_cams_have_separate_shifts():
    found = cam_shift((closing(17.0), opening(0.4)), ENGINE, separate_cams=True)
    assert found.shift is None
    assert found.teeth is None
    assert (found.teeth_intake.value, found.teeth_exhaust.value) == (1, 0)
    assert found.intake.value == pytest.approx(17.0, abs=0.5)
    assert found.exhaust.value == pytest.approx(0.4, abs=0.5)
    assert not found.notices


def test_valves_that_contradict_each_other_leave_the_tooth_open():
    found = cam_shift((closing(17.0), opening(0.0)), ENGINE, clearances_set=True)
    assert found.teeth.probability < 0.95
    assert found.shift.half_width > 5.0


def test_between_two_teeth_no_certainty():
    found = cam_shift((closing(TOOTH_DEG / 2), opening(TOOTH_DEG / 2)), ENGINE)
    assert found.teeth.probability < 0.8


def test_an_interval_that_reaches_to_the_next_tooth_never_carries_certainty():
    found = cam_shift((closing(0.0, sigma=6.0), opening(0.0, sigma=6.0)), ENGINE)
    assert found.shift.high > TOOTH_DEG / 2
    assert found.teeth.value == 0
    assert found.teeth.probability < 0.99


def test_by_hand_the_exhaust_is_trusted_more_than_the_inlet():
    found = cam_shift((closing(14.0, by_hand=True), opening(-0.5, by_hand=True)), ENGINE)
    assert found.teeth.value == 0
    assert found.teeth.probability < 0.99


def test_timing_at_a_lift_is_taken_down_to_the_seat():
    lifted = replace(ENGINE, valve_timing=ValveTiming(-2.0, 30.0, 28.0, 0.0, at_lift_mm=1.0))
    ramp = ramp_of(lifted, "inlet")
    off = ramp.off_seat_deg(1.0)
    assert 10.0 < off < 25.0
    seat = stated_seat_deg(lifted.valve_timing, closing(0.0), ramp)
    assert seat == pytest.approx(-150.0 + off)
    event = replace(closing(0.0), seat_deg=Interval(seat, seat - 1, seat + 1))
    figure = manual_figure(event, lifted)
    assert figure.value == pytest.approx(30.0)
    assert figure.half_width > 1.0
    assert cam_shift((event,), lifted).shift.value == pytest.approx(0.0, abs=0.2)


def test_an_event_reads_as_in_a_manual():
    assert manual_figure(closing(5.0), ENGINE).value == pytest.approx(53.0)
    assert manual_figure(opening(5.0), ENGINE).value == pytest.approx(41.0)


def test_no_drive_no_teeth():
    found = cam_shift((closing(17.0), opening(17.0)), replace(ENGINE, cam_drive=None))
    assert found.shift is not None
    assert found.teeth is None


def test_nothing_seen_gives_nothing():
    found = cam_shift((), ENGINE)
    assert (found.shift, found.intake, found.exhaust, found.teeth) == (None,) * 4


def test_without_timing_there_is_no_shift():
    with pytest.raises(ValueError, match="no valve timing"):
        cam_shift((closing(0.0),), replace(ENGINE, valve_timing=None))


def test_a_gap_has_more_room_to_be_wide_than_tight():
    """Little clearance is stated: less of it moves the ends hardly, more of it by degrees.

    A wide gap shuts the inlet early, so the cam may stand later than the inlet says, not earlier;
    and opens the exhaust late, so it may stand earlier than the exhaust says. The other way round
    the interval would reach for a tooth that is not out, and not for the one that is.
    """
    close = replace(ENGINE, valves=Valves(clearance_inlet_mm=0.10, clearance_exhaust_mm=0.15))
    found = cam_shift((closing(6.0), opening(-3.0)), close)
    later, earlier = found.intake.high - 6.0, 6.0 - found.intake.low
    assert later > 1.1 * earlier
    later, earlier = found.exhaust.high + 3.0, -3.0 - found.exhaust.low
    assert earlier > 1.1 * later


def test_by_hand_the_inlet_alone_is_never_sure_of_a_tooth():
    """The engine pauses just where the inlet shuts, one time in five: the event is another then."""
    late = closing(TOOTH_DEG, by_hand=True)
    alone = cam_shift((late,), ENGINE, clearances_set=True)
    assert alone.teeth.value == 1
    assert alone.teeth.probability < 0.85
    assert alone.shift.half_width > TOOTH_DEG
    cranked = cam_shift((closing(TOOTH_DEG),), ENGINE, clearances_set=True)
    assert cranked.teeth.probability > 0.95


def test_a_shift_is_an_answer_up_to_a_third_of_a_tooth():
    """Wider, the next tooth comes near: a sprocket moved for nothing bends valves."""
    assert wanted_half_width_deg(ENGINE) == pytest.approx(720 / 42 / 3)
    assert wanted_half_width_deg(replace(ENGINE, cam_drive=None)) == 5.0


def test_a_gap_that_nobody_stated_leaves_more_room_than_a_stated_one():
    """Each valve by its own figure: the exhaust's clearance says nothing of the inlet's."""
    half = replace(ENGINE, valves=Valves(clearance_inlet_mm=0.30))
    known = cam_shift((closing(0.0), opening(0.0)), ENGINE)
    found = cam_shift((closing(0.0), opening(0.0)), half)
    assert found.intake.half_width == pytest.approx(known.intake.half_width)
    assert found.exhaust.half_width > 1.2 * known.exhaust.half_width


@pytest.mark.parametrize(
    ("apart", "said"), [(2.2, []), (-2.2, []), (3.6, ["clearance"]), (-3.6, ["clearance"])]
)
def test_valves_disagree_from_two_and_a_half_sigmas_on(apart, said):
    """Nearer is what the measurement scatters, and nobody should take the rocker cover off."""
    events = closing(-apart / 2), opening(apart / 2)  # sigma of the difference: 1.13°
    assert [notice.code for notice in cam_shift(events, ENGINE).notices] == said


def test_by_hand_the_exhaust_alone_is_astray_one_time_in_fifty():
    late = cam_shift((opening(TOOTH_DEG, by_hand=True),), ENGINE, clearances_set=True)
    assert 0.95 < late.teeth.probability < 0.99


def test_an_opening_at_a_lift_is_taken_back_to_an_earlier_seat():
    """A millimetre up at 28° before BDC, the exhaust has left its seat well before."""
    lifted = replace(ENGINE, valve_timing=ValveTiming(-2.0, 30.0, 28.0, 0.0, at_lift_mm=1.0))
    ramp = ramp_of(lifted, "exhaust")
    seat = stated_seat_deg(lifted.valve_timing, opening(0.0), ramp)
    assert seat == pytest.approx(180.0 - 28.0 - ramp.off_seat_deg(1.0))
    assert seat < 145.0
    event = replace(opening(0.0), seat_deg=Interval(seat, seat - 1, seat + 1))
    assert manual_figure(event, lifted).value == pytest.approx(28.0)
    assert cam_shift((event,), lifted).shift.value == pytest.approx(0.0, abs=0.2)
