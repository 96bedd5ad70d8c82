"""The fewest crank positions, against a brute-force search."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile, Valves, ValveTiming, even_intervals_deg
from strokewise.analysis.valves.base_circle import lifted_span, valve_states, valves_of
from strokewise.analysis.valves.valve_stops import fewest_stops


def engine(order, timing=None, valves=None):
    intervals = even_intervals_deg(len(order), 720)
    kit = Valves(order=valves) if valves else None
    return Profile(len(order), order, intervals, valve_timing=timing, valves=kit)


FOUR = engine((1, 3, 4, 2))


def keys(stop):
    return sorted(valve.key for valve in stop.valves)


def test_a_four_is_set_in_two_stops_at_dead_centres():
    """The list every mechanic knows: at cylinder 1 firing both of 1, inlet of 2, exhaust of 3."""
    plan = fewest_stops(FOUR, 0, 0)
    assert [keys(stop) for stop in plan.stops] == [
        ["1E", "1I", "2I", "3E"],
        ["2E", "3I", "4E", "4I"],
    ]
    assert [stop.firing for stop in plan.stops] == [(1,), (4,)]
    assert [stop.rocking for stop in plan.stops] == [(4,), (1,)]
    assert [stop.turn_deg for stop in plan.stops] == [0, 360]
    assert plan.turning_deg == 360
    assert not plan.from_timing


def test_the_order_starts_from_where_the_crank_stands():
    plan = fewest_stops(FOUR, 0, 355)
    assert [stop.firing for stop in plan.stops] == [(4,), (1,)]
    assert [stop.turn_deg for stop in plan.stops] == [5, 360]


def test_where_the_crank_stands_is_a_stop_too():
    plan = fewest_stops(FOUR, 0, 260)
    assert [stop.turn_deg for stop in plan.stops] == [0, 280]
    assert keys(plan.stops[0]) == ["1I", "2E", "3E", "3I", "4E"]
    assert plan.stops[1].firing == (2,)


def test_a_hair_past_a_stop_is_not_two_turns_away():
    plan = fewest_stops(FOUR, 100, 100.3)
    assert plan.stops[0].firing == (1,)
    assert plan.stops[0].turn_deg == 0


def test_a_stop_is_called_by_the_dead_centre_that_it_is_at_and_no_other():
    """Just past 1's firing TDC the crank is at it, or at a place of its own without a name."""
    for past_deg in (0.25, 0.5, 0.75):  # a binary fraction each, so that half a degree is half
        first = fewest_stops(FOUR, 0, past_deg).stops[0]
        assert (first.firing == (1,)) == (first.angle_deg == 0), past_deg


def test_what_is_done_is_left_out():
    plan = fewest_stops(FOUR, 0, 0, done=("1E", "1I", "2I", "3E"))
    assert [keys(stop) for stop in plan.stops] == [["2E", "3I", "4E", "4I"]]
    everything = [valve.key for valve in valves_of(FOUR)]
    assert fewest_stops(FOUR, 0, 0, done=everything).stops == ()
    with pytest.raises(InputError, match='no valve "5E"'):
        fewest_stops(FOUR, 0, 0, done=("5E",))


def test_a_six_is_set_in_two_stops_too():
    plan = fewest_stops(engine((1, 5, 3, 6, 2, 4)), 0, 0)
    assert [stop.firing for stop in plan.stops] == [(1,), (6,)]


def test_a_stop_between_dead_centres_is_taken_where_it_saves_one():
    """One cylinder whose base circles meet only away from its firing TDC."""
    late = ValveTiming(-30, 180, 100, 0)  # inlet closes 20 after firing TDC with its ramp
    plan = fewest_stops(engine((1,), late), 0, 0)
    assert len(plan.stops) == 1
    assert plan.stops[0].firing == ()
    assert plan.stops[0].spare_deg >= 10


def test_a_cam_without_a_base_circle_is_said():
    plan = fewest_stops(engine((1,), ValveTiming(250, 250, 60, 20)), 0, 0)
    assert [valve.key for valve in plan.out_of_reach] == ["1I"]
    assert [keys(stop) for stop in plan.stops] == [["1E"]]


@st.composite
def any_engine(draw):
    count = draw(st.integers(1, 6))
    order = tuple(draw(st.permutations(range(1, count + 1))))
    duration = st.integers(0, 90)
    timing = ValveTiming(*(draw(duration) for _ in range(4)))
    return engine(order, timing)


@settings(max_examples=40, deadline=None)
@given(any_engine(), st.integers(0, 719))
def test_no_grid_search_needs_fewer_stops(profile, start):
    plan = fewest_stops(profile, 0, start)
    wanted = {valve.key for valve in valves_of(profile)}
    assert sorted(key for stop in plan.stops for key in keys(stop)) == sorted(wanted)
    for stop in plan.stops:
        ready = {s.valve.key for s in valve_states(profile, 0, stop.angle_deg) if s.ready}
        assert set(keys(stop)) <= ready
        assert stop.turn_deg >= 0
    grid = [
        frozenset(s.valve.key for s in valve_states(profile, 0, angle) if s.ready)
        for angle in range(0, 720, 10)
    ]
    grid = [one for one in set(grid) if not any(one < other for other in grid)]
    for fewer in range(1, len(plan.stops)):
        assert not any(wanted <= frozenset().union(*c) for c in combinations(grid, fewer))
    assert lifted_span(profile, "inlet").from_timing
