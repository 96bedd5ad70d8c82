"""What the joint fit tells beside TDC holds the bench engine's own figures."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from strokewise.analysis.tdc.diagnostics import STARTER_RPM, diagnostics
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.engine.settings import RecordedTurning
from strokewise.daq.bench.engine.solve import simulate
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join


@cache
def turned(name):
    """Return a scenario's take, what its fit tells, its judgement and its profile."""
    made, intake = take(scenario(name).build({})), Intake()
    profile = check_table(stated_profile(made.bench)).profile
    tracker = Tracker(profile)
    for segment in join(intake.feed(made.items) + intake.finish()):
        tracker.feed(segment)
    return made, tracker.verdict(closing=True).diagnostics, tracker.judgement, profile


def holds(interval, value):
    return interval.low <= value <= interval.high


@pytest.mark.parametrize("name", ["cranked", "rocked", "hand-turned", "diesel", "worn-rings"])
def test_ratio_and_leak_are_the_engines(name):
    made, told, _, _ = turned(name)
    engine = made.bench.engine
    swept_cm3 = np.pi / 4 * engine.bore_mm**2 * engine.stroke_mm * 1e-3
    clear_cm3 = swept_cm3 / (engine.compression_ratio - 1.0) + engine.adaptor_volume_cm3
    assert holds(told.compression_ratio, 1.0 + swept_cm3 / clear_cm3)
    rings = engine.ring_leak_mm2
    area_mm2 = rings if np.isscalar(rings) else rings[0]
    area_mm2 += engine.exhaust.leak_area_mm2 + engine.intake.leak_area_mm2
    assert holds(told.leak_hole_mm, 2.0 * (area_mm2 / np.pi) ** 0.5)


@pytest.mark.parametrize("name", ["cranked", "diesel"])
def test_the_loss_angle_is_that_of_the_gas_itself(name):
    """The bench's own pressure, without sensor and hose, peaks so far before its own TDC."""
    made, told, _, _ = turned(name)
    run = made.run
    after = (run.crank_deg + 180.0) % 720.0 - 180.0
    early = []
    for start in np.flatnonzero(np.diff(after) < 0)[:-1] + 1:
        near = slice(start, start + int(np.argmax(after[start:] > 60.0)))
        top = near.start + int(np.argmax(run.pressure_bar[near, 0]))
        around = slice(top - 3, top + 4)
        bend, slope, _ = np.polyfit(after[around], run.pressure_bar[around, 0], 2)
        early.append(0.5 * slope / bend)
    assert len(early) > 5
    assert holds(told.loss_angle_deg, float(np.median(early)))


def test_the_peak_at_starter_speed_is_what_the_engine_makes_there():
    made, told, _, _ = turned("cranked")
    speed = 6.0 * STARTER_RPM
    time_s = np.linspace(0.0, 1500.0 / speed, 4000)
    steady = RecordedTurning(tuple(time_s), tuple(speed * time_s - 900.0))
    peak = float(np.nanmax(simulate(made.bench.engine, steady).pressure_bar[:, 0]))
    outside = made.bench.engine.atmosphere.pressure_bar
    assert told.peak_bar.value == pytest.approx(peak * 1.013 / outside, rel=0.03)


def test_what_the_trace_does_not_tell_is_left_out():
    _, _, judgement, profile = turned("cranked")
    bare = replace(profile, bore_mm=None, sensors=(replace(profile.sensors[0], points=()),))
    told = diagnostics(judgement.fit, judgement.passes, bare, bare.sensors[0])
    assert told.leak_hole_mm is None  # no bore: an area over the displacement is no hole
    assert told.peak_bar is None  # no known points: no bar
    slow = turned("hand-turned")[1]
    assert slow.peak_bar is None  # from spanner to starter is too far to carry a peak
