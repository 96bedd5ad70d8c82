"""Valve events of bench engines, whose cams and throttles are known."""

from dataclasses import replace

import pytest

from strokewise.analysis.cam.valve_events import MOST_FALL_BAR, throttled, valve_events
from strokewise.analysis.cam.valve_spans import overlap_fall_bar, refitted
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.scenarios.scenarios import scenario

CLOSES_DEG, OPENS_DEG = -180.0 + 49.0, 180.0 - 47.0  # of the bench engine, at the seat


def seen(turned_bench, throttle_mm2):
    """Events of a triple with a small manifold, and the fall across its overlap."""
    bench = scenario("cranked").build({})
    engine = replace(
        bench.engine,
        cylinders=3,
        firing_order=(1, 3, 2),
        throttle_area_mm2=throttle_mm2,
        plenum_volume_cm3=900.0,
    )
    made = turned_bench(replace(bench, engine=engine))
    tracker = Tracker(made.profile)
    for segment in made.recording.segments:
        tracker.feed(segment)
    tracker.verdict(closing=True)
    judgement = tracker.judgement
    events = valve_events(judgement, made.profile, made.profile.sensors[0])
    return {event.name: event for event in events}, overlap_fall_bar(judgement)


def test_with_an_open_throttle_both_ends_are_found(turned_bench, monkeypatch):
    between = []

    def refit(judgement, cycles, profile, sensor, closes_deg, opens_deg):
        between.append((closes_deg, opens_deg))
        return refitted(judgement, cycles, profile, sensor, closes_deg, opens_deg)

    monkeypatch.setattr("strokewise.analysis.cam.valve_events.refitted", refit)
    events, fall_bar = seen(turned_bench, 600.0)
    # What is fitted again as the closed part ends at both: past either a valve is off its seat.
    assert between == [(pytest.approx(CLOSES_DEG, abs=4.0), pytest.approx(OPENS_DEG, abs=4.0))]
    assert abs(fall_bar) < 0.01
    for name, true in (("intake closes", CLOSES_DEG), ("exhaust opens", OPENS_DEG)):
        assert events[name].seat_deg.low < true < events[name].seat_deg.high
        assert abs(events[name].seat_deg.value - true) < 2.0


def test_a_manifold_that_rises_while_the_inlet_shuts_is_not_read_as_cam(turned_bench):
    events, fall_bar = seen(turned_bench, 60.0)
    assert 0.03 < fall_bar < MOST_FALL_BAR
    closes = events["intake closes"]
    assert closes.seat_deg.value == pytest.approx(CLOSES_DEG, abs=1.0)  # 1.7 late were it steady
    assert closes.sigma_deg > 1.2


def test_with_a_shut_throttle_the_inlets_closing_is_not_given(turned_bench):
    events, fall_bar = seen(turned_bench, 20.0)
    assert throttled(fall_bar)
    assert set(events) == {"exhaust opens"}
    assert events["exhaust opens"].seat_deg.low < OPENS_DEG < events["exhaust opens"].seat_deg.high


def test_no_overlap_seen_is_not_a_shut_throttle():
    assert not throttled(None)
    assert not throttled(MOST_FALL_BAR)
