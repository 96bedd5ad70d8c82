"""A slip under the peaks' own scatter is found, and passes before and after it are never mixed."""

from dataclasses import replace

import numpy as np
import pytest
from suite_bench import played, tdc_off_deg

from strokewise.analysis.tdc.pass_tdc import PassTdc, TdcStep, step_in
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join


def verdict_of(name, **settings):
    """Return the verdict of a scenario and how far it is off in the end."""
    return answered(scenario(name).build(settings))[:2]


def answered(bench):
    """Return a bench's verdict, how far it is off in the end, and the fit."""
    made, intake = played(bench), Intake()
    tracker = Tracker(check_table(stated_profile(bench)).profile)
    for segment in join(intake.feed(made.items) + intake.finish()):
        tracker.feed(segment)
    verdict = tracker.verdict(closing=True)
    off = tdc_off_deg(verdict.tdc.angle_deg.value, made.truth)
    return verdict, off, tracker.judgement.fit


@pytest.mark.parametrize(("name", "slip_deg", "at_s", "code", "most_deg"), [
    ("cranked", 1.0, 2.0, "clamp-slip", 0.3),
    ("cranked", 3.0, 2.0, "clamp-slip", 0.3),
    ("rocked", 5.0, 8.0, "clamp-slip", 0.15),
    ("rocked", 30.0, 8.0, "clamp-slip", 0.15),
    ("hand-turned", 10.0, 9.0, "tdc-moved", 1.0),
])  # fmt: skip
def test_what_lies_before_a_small_slip_is_left_out(name, slip_deg, at_s, code, most_deg):
    verdict, off = verdict_of(name, slip=slip_deg, slip_at=at_s)
    assert [notice.code for notice in verdict.warnings] == [code]
    by_deg = dict(verdict.warnings[0].remark.facts)["by_deg"]
    within_deg = 1.0 if code == "tdc-moved" else 0.25  # one compression against one
    assert by_deg == pytest.approx(-slip_deg, abs=within_deg)
    assert abs(off) < min(verdict.tdc.angle_deg.half_width, most_deg)
    if code == "tdc-moved":  # one against one: the interval holds both
        assert verdict.tdc.angle_deg.half_width > slip_deg / 2 - 1.0


@pytest.mark.parametrize("seed", [15, 19])
def test_flanks_that_wander_under_a_vacuum_sensor_are_no_slip(seed):
    """Its end leaves only the feet, which pauses and leaks move; both halves agree on TDC."""
    settings = {"sensor_range": (0.1, 1.1), "noise": 0.002, "turn": 2800.0}
    verdict, off, _ = answered(scenario("hand-turned").build(settings, seed=seed))
    assert verdict.decided
    assert {notice.code for notice in verdict.warnings} <= {"sensor-overranged"}  # and so it was
    assert abs(off) < verdict.tdc.angle_deg.half_width < 7.0


@pytest.mark.parametrize(("slip_deg", "at_s"), [
    (2.5, 2.0),  # a fit of both sides speaks for neither: it said 1.2°
    (-4.0, 2.5),  # within a compression, which then stands alone between two
])  # fmt: skip
def test_a_slip_is_said_as_large_as_it_was(slip_deg, at_s):
    (said,) = verdict_of("cranked", slip=slip_deg, slip_at=at_s)[0].warnings
    facts = dict(said.remark.facts)
    assert said.code == "clamp-slip"
    assert facts["by_deg"] == pytest.approx(-slip_deg, abs=0.25)
    # the interval said beside it holds the size, and is not wide enough to hold none
    assert abs(facts["by_deg"] + slip_deg) < facts["half_width_deg"] < 1.2
    assert facts["at_s"] == pytest.approx(at_s, abs=0.2)


def test_a_last_compression_far_away_is_held_by_the_interval():
    """Three by hand, the last 45° from the others: read pass by pass it looked like 20°."""
    verdict, off = verdict_of("hand-turned", turn=2300.0, slip=45.0, slip_at=26.0)
    (said,) = verdict.warnings
    assert said.code == "tdc-moved"
    assert dict(said.remark.facts)["by_deg"] == pytest.approx(-45.0, abs=1.0)
    tdc = verdict.tdc.angle_deg
    assert tdc.low < tdc.value - off < tdc.high


@pytest.mark.parametrize("name", ["cranked", "rocked", "hand-turned", "worn-rings"])
def test_a_clamp_that_holds_is_not_accused(name):
    verdict, off = verdict_of(name)
    assert verdict.warnings == ()
    assert abs(off) < verdict.tdc.angle_deg.half_width


def test_a_valve_still_open_where_it_should_be_shut_is_kept_out_of_the_fit():
    """A cam two to three teeth late shuts the inlet 80° before TDC; the manual says 130°."""
    bench = scenario("cranked").build({})
    late = replace(bench.engine, intake_shift_deg=45.0, exhaust_shift_deg=45.0)
    verdict, off, fit = answered(replace(bench, engine=late))
    assert abs(off) < min(verdict.tdc.angle_deg.half_width, 0.3)
    assert fit.runs.angle_deg.min() > -95.0
    assert answered(bench)[2].runs.angle_deg.min() < -100.0


def passes(*off):
    return PassTdc(np.array(off), np.full(len(off), 0.02))


def test_a_step_is_told_from_scatter():
    assert step_in(passes(0.01, -0.03, 0.02, 0.61, 0.58, 0.63)) == TdcStep(
        3, pytest.approx(0.6, abs=0.02)
    )
    assert step_in(passes(0.3, -0.3, 0.2, -0.2, 0.3, -0.1)) is None
    assert step_in(passes(0.0, 0.05, 0.1, 0.15, 0.2, 0.25)) is None  # a trend is no step
    assert step_in(passes(0.3)) is None


def test_one_pass_by_itself_must_be_further_off():
    assert step_in(passes(0.0, 0.01, -0.01, 0.0, 0.4)) is None
    assert step_in(passes(0.0, 0.01, -0.01, 0.0, 0.9)).at == 4
