"""Which valves ride the base circle, with how much to spare."""

import pytest

from strokewise.analysis.errors import InputError
from strokewise.analysis.profile import Profile, Valves, ValveTiming, even_intervals_deg
from strokewise.analysis.valves.base_circle import (
    DEG_PER_ROOT_MM,
    RAMP_DEG,
    SPARE_DEG,
    lifted_span,
    valve_states,
    valves_of,
)

TIMING = ValveTiming(12, 48, 46, 14)


def engine(order=(1, 3, 4, 2), valves=None, timing=TIMING, cycle="four-stroke"):
    cycle_deg = 720 if cycle == "four-stroke" else 360
    return Profile(
        len(order),
        order,
        even_intervals_deg(len(order), cycle_deg),
        valves=Valves(order=valves) if valves else None,
        valve_timing=timing,
        cycle=cycle,
    )


def test_valves_are_numbered_along_the_head():
    valves = valves_of(engine(valves="EIIEEIIE"))
    assert [v.number for v in valves] == list(range(1, 9))
    assert [v.key for v in valves] == ["1E", "1I", "2I", "2E", "3E", "3I", "4I", "4E"]
    assert valves[2].words == "valve 3, inlet of cylinder 2"


def test_several_valves_of_a_kind_have_keys_of_their_own():
    valves = valves_of(engine(valves="IIEE" * 4))
    assert [v.key for v in valves[:4]] == ["1I", "1I2", "1E", "1E2"]
    assert valves[3].words == "valve 4, exhaust of cylinder 1 (valve 2 of its kind)"
    assert len({v.key for v in valves}) == 16


def test_without_an_order_every_cylinder_has_one_of_each_and_no_number():
    valves = valves_of(engine())
    assert [v.key for v in valves] == ["1E", "1I", "2E", "2I", "3E", "3I", "4E", "4I"]
    assert all(v.number is None for v in valves)
    assert valves[0].words == "exhaust of cylinder 1"


@pytest.mark.parametrize("order", ["EIIEEII", "EEIIEIIE", "EI", "EIIEEIIX"])
def test_an_order_that_does_not_fit_is_refused(order):
    with pytest.raises(InputError, match="cannot be shared out over 4 cylinders"):
        valves_of(engine(valves=order))


def test_a_two_stroke_has_nothing_to_set():
    with pytest.raises(InputError, match="two-stroke has ports"):
        valves_of(engine(order=(1, 2), timing=None, cycle="two-stroke"))


def test_spans_from_timing_with_ramps():
    inlet, exhaust = lifted_span(engine(), "inlet"), lifted_span(engine(), "exhaust")
    assert (inlet.opens_deg, inlet.closes_deg) == (348 - RAMP_DEG, 588 + RAMP_DEG)
    assert (exhaust.opens_deg, exhaust.closes_deg) == (134 - RAMP_DEG, 374 + RAMP_DEG)
    assert inlet.from_timing
    assert inlet.fully_open_deg == 468


def test_timing_at_a_lift_is_widened():
    at_lift = lifted_span(engine(timing=ValveTiming(0, 30, 30, 0, at_lift_mm=1.0)), "inlet")
    assert at_lift.opens_deg == 360 - RAMP_DEG - DEG_PER_ROOT_MM
    assert at_lift.closes_deg == 570 + RAMP_DEG + DEG_PER_ROOT_MM


def test_unknown_timing_is_said_to_be_common_practice():
    assert not lifted_span(engine(timing=None), "inlet").from_timing


def test_degrees_to_spare_on_both_sides():
    states = {s.valve.key: s for s in valve_states(engine(), 100, 100)}
    one = states["1I"]  # closed since 588 + 20, opens at 720 + 348 - 20
    assert (one.on_base_circle, one.since_deg, one.left_deg, one.to_go_deg) == (True, 112, 328, 0)
    assert one.ready
    assert one.spare_deg == 112
    # cylinder 4 is in overlap: its exhaust is on the base circle from 394 after its firing TDC
    four = states["4E"]
    assert (four.on_base_circle, four.since_deg, four.left_deg) == (False, 0, 0)
    assert four.to_go_deg == 34 + SPARE_DEG


def test_on_the_base_circle_but_too_near_its_ends_is_not_ready():
    closes = lifted_span(engine(), "exhaust").closes_deg
    states = {s.valve.key: s for s in valve_states(engine(), 0, closes + 4)}
    assert states["1E"].on_base_circle
    assert not states["1E"].ready
    assert states["1E"].to_go_deg == pytest.approx(SPARE_DEG - 4)
