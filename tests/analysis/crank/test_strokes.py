"""Firing order and intervals to the stroke of every cylinder."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strokewise.analysis.crank.strokes import (
    companions,
    firing_1_from,
    firing_offsets,
    firing_tdcs,
    nearest,
    phase_at,
    stroke_at,
    within,
)
from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile, ValveTiming, even_intervals_deg

FOUR = Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720))
ODD_TWIN = Profile(2, (1, 2), (315.0, 405.0))
TWO_STROKE_TWIN = Profile(2, (1, 2), (180.0, 180.0), cycle="two-stroke")


@st.composite
def engines(draw):
    count = draw(st.integers(1, 12))
    order = tuple(draw(st.permutations(range(1, count + 1))))
    cycle = draw(st.sampled_from(["four-stroke", "two-stroke"]))
    cycle_deg = 720.0 if cycle == "four-stroke" else 360.0
    parts = draw(st.lists(st.integers(1, 50), min_size=count, max_size=count))
    intervals = tuple(cycle_deg * part / sum(parts) for part in parts)
    return Profile(count, order, intervals, cycle=cycle)


def test_offsets_start_with_cylinder_one_wherever_it_stands():
    assert firing_offsets((1, 3, 4, 2), (180,) * 4) == {1: 0, 3: 180, 4: 360, 2: 540}
    assert firing_offsets((3, 1, 2), (100, 250, 370)) == {1: 0, 2: 250, 3: 620}


def test_firing_tdcs_and_back():
    tdcs = firing_tdcs(FOUR, 700)
    assert tdcs == {1: 700, 3: 160, 4: 340, 2: 520}
    assert list(tdcs) == [1, 3, 4, 2]
    assert firing_1_from(FOUR, 4, 340) == 700
    with pytest.raises(InputError, match="no cylinder 5"):
        firing_1_from(FOUR, 5, 0)


@pytest.mark.parametrize(
    ("order", "intervals", "text"),
    [
        ((), (), "1 to 12 cylinders"),
        (tuple(range(1, 14)), (720 / 13,) * 13, "1 to 12 cylinders"),
        ((1, 3, 3, 2), (180,) * 4, "each cylinder from 1 to 4 once"),
        ((1, 2), (720,), "needs 2 firing intervals, not 1"),
        ((1, 2), (300, 300), "add up to 720 deg"),
        ((1, 2), (-10, 730), "must be 0 or more"),
    ],
)
def test_an_order_that_cannot_be_is_refused(order, intervals, text):
    with pytest.raises(InputError, match=text):
        firing_offsets(order, intervals)


def test_strokes_of_a_four_at_a_dead_centre_and_after():
    phase = phase_at(FOUR, 100, 190)
    strokes = {p.cylinder: p.stroke for p in phase.cylinders}
    assert strokes == {1: "power", 2: "exhaust", 3: "compression", 4: "intake"}
    assert phase.on_firing_stroke == (1,)
    assert (phase.next_to_fire, phase.to_next_firing_deg) == ((3,), 90)
    assert phase.rocking == ()
    at_tdc = phase_at(FOUR, 100, 100)
    assert (at_tdc.next_to_fire, at_tdc.to_next_firing_deg) == ((1,), 0)
    assert at_tdc.rocking == (4,)


def test_turned_backwards_the_next_tdc_is_the_one_behind():
    phase = phase_at(FOUR, 100, 190, turning=-1)
    assert (phase.next_to_fire, phase.to_next_firing_deg) == ((1,), 90)
    assert phase.cylinder(2).to_firing_deg == pytest.approx(270)  # its TDC is at 640, or -80
    # the strokes belong to the position, not to the way it is turned
    forward = phase_at(FOUR, 100, 190)
    assert [p.stroke for p in phase.cylinders] == [p.stroke for p in forward.cylinders]


def test_odd_fire_twin():
    phase = phase_at(ODD_TWIN, 0, 320)
    assert phase.on_firing_stroke == (2,)
    assert phase.next_to_fire == (1,)
    assert phase.to_next_firing_deg == 400
    assert companions(ODD_TWIN) == {1: (), 2: ()}


def test_two_stroke_has_two_strokes_and_no_companions():
    phase = phase_at(TWO_STROKE_TWIN, 10, 100)
    assert [p.stroke for p in phase.cylinders] == ["power", "compression"]
    assert phase.rocking == ()
    assert companions(TWO_STROKE_TWIN) == {1: (), 2: ()}


def test_a_single_between_its_strokes_has_nobody_firing():
    single = Profile(1, (1,), (720.0,))
    phase = phase_at(single, 0, 400)
    assert phase.on_firing_stroke == ()
    assert (phase.next_to_fire, phase.to_next_firing_deg) == ((1,), 320)


def test_cylinders_that_fire_together_are_both_named():
    together = Profile(2, (1, 2), (0.0, 720.0))
    phase = phase_at(together, 0, 700)
    assert phase.next_to_fire == (1, 2)
    assert phase_at(together, 0, 10).on_firing_stroke == (1, 2)


def test_several_cylinders_on_power_come_latest_first():
    six = Profile(6, (1, 5, 3, 6, 2, 4), even_intervals_deg(6, 720))
    assert phase_at(six, 0, 130).on_firing_stroke == (5, 1)


def test_rocking_follows_the_timing_given():
    wide = ValveTiming(30, 70, 70, 40)
    none = ValveTiming(-10, 30, 30, -5)
    with_wide = Profile(4, (1, 3, 4, 2), (180.0,) * 4, valve_timing=wide)
    with_none = Profile(4, (1, 3, 4, 2), (180.0,) * 4, valve_timing=none)
    for angle, rocks in ((-31, False), (-29, True), (39, True), (41, False)):
        assert phase_at(with_wide, 0, angle).cylinder(4).rocking is rocks
    assert phase_at(with_none, 0, 0).rocking == ()


def test_dead_centres_belong_to_the_stroke_that_begins():
    strokes = [stroke_at(a, 720) for a in (0, 180, 360, 540, 720, -1)]
    assert strokes == ["power", "exhaust", "intake", "compression", "power", "compression"]


def test_wrapping():
    assert within(-1e-17, 720) == 0
    assert (within(-90, 360), within(720, 720)) == (270, 0)
    assert (nearest(350, 360), nearest(180, 360), nearest(-180, 360)) == (-10, 180, 180)


@given(engines(), st.floats(-3000, 3000), st.floats(-3000, 3000), st.sampled_from([1, -1]))
def test_any_engine_at_any_angle(profile, firing_1, angle, turning):
    phase = phase_at(profile, firing_1, angle, turning)
    tdcs = firing_tdcs(profile, firing_1)
    assert [p.cylinder for p in phase.cylinders] == list(range(1, profile.cylinders + 1))
    for p in phase.cylinders:
        # going to_firing_deg the way we turn lands on that cylinder's firing TDC
        landed = within(angle + turning * p.to_firing_deg - tdcs[p.cylinder], profile.cycle_deg)
        assert min(landed, profile.cycle_deg - landed) < 1e-6
        assert 0 <= p.to_firing_deg < profile.cycle_deg
        assert (p.stroke == "power") == (p.cylinder in phase.on_firing_stroke)
    assert phase.to_next_firing_deg == min(p.to_firing_deg for p in phase.cylinders)


@given(engines())
def test_companions_are_mutual(profile):
    pairs = companions(profile)
    for one, others in pairs.items():
        assert one not in others
        assert all(one in pairs[other] for other in others)


@pytest.mark.parametrize("cylinder", [1, 2, 3, 4])
def test_cylinder_one_from_any_other_and_back(cylinder):
    """Taken forward for back, cylinders 2 and 3 would put cylinder 1 on the wrong TDC."""
    tdcs = firing_tdcs(FOUR, 100)
    assert firing_1_from(FOUR, cylinder, tdcs[cylinder]) == 100


def test_cylinder_one_of_an_odd_firing_twin():
    """Cylinder 2 fires 315° after cylinder 1, which fires 405° after it."""
    assert firing_1_from(ODD_TWIN, 2, 400) == 85
    assert firing_1_from(ODD_TWIN, 2, 100) == 505
    assert firing_1_from(TWO_STROKE_TWIN, 2, 100) == 280
