"""What no sound compression makes: said where it is, and never where it is not."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from suite_bench import played

from strokewise.analysis.samples import Recording
from strokewise.analysis.trace.blocks import Gatherer
from strokewise.analysis.trace.nodes import joined
from strokewise.analysis.trace.oddities import held_pressure, oddities, steep_rise, steepest_of_air
from strokewise.analysis.verdict.find import find
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.gui.sayings import say


@cache
def recorded(name, **settings):
    bench = scenario(name).build(settings)
    intake = Intake()
    blocks = intake.feed(played(bench).items) + intake.finish()
    profile = check_table(stated_profile(bench)).profile
    return Recording(join(blocks), intake.health), profile


def nodes_in(recording, profile):
    gatherer = Gatherer(profile, profile.sensors[0])
    parts = [
        *gatherer.feed(recording.segments[-1].samples, recording.segments[-1].board),
        gatherer.rest(),
    ]
    return joined(tuple(part for part in parts if part is not None))


def codes(name, **settings):
    recording, profile = recorded(name, **settings)
    found = oddities(nodes_in(recording, profile), profile, profile.sensors[0])
    return [notice.code for notice in found]


@pytest.mark.parametrize(("name", "code"), [
    ("hose-valve-left-in", "non-return-valve"),
    ("throttle-shut", "throttle-shut"),
    ("liquid-in-cylinder", "liquid-in-cylinder"),
])  # fmt: skip
def test_each_fault_is_named(name, code):
    assert codes(name) == [code]


@pytest.mark.parametrize("name", [
    "cranked", "hand-turned", "rocked", "turned-backwards", "diesel", "two-stroke",
    "burnt-valve", "worn-rings", "dead-cylinder", "hum-and-noise", "clamp-slipped",
])  # fmt: skip
def test_no_false_alarm(name):
    assert codes(name) == []


def test_more_liquid_is_still_named():
    assert codes("liquid-in-cylinder", liquid="54.5 cm3") == ["liquid-in-cylinder"]


def test_liquid_is_named_while_cranking_too():
    assert codes("cranked", liquid="50 cm3") == ["liquid-in-cylinder"]


@pytest.mark.parametrize("hum", [0.2, 0.4])
def test_hum_of_the_mains_is_no_liquid_and_does_not_hide_much_of_it(hum):
    """Hum made one compression in some hundred rise more steeply than air."""
    recording, profile = recorded("cranked")
    nodes = nodes_in(recording, profile)
    for phase in np.arange(0.0, 1.0, 0.125):
        wave = hum * np.sin(2.0 * np.pi * (50.0 * nodes.time_s + phase))
        loud = replace(nodes, pressure_bar=nodes.pressure_bar + wave)
        assert steep_rise(loud, profile) is None
    assert "liquid-in-cylinder" in codes("liquid-in-cylinder", hum="0.1 bar")


def test_an_open_throttle_in_between_is_not_named():
    assert codes("cranked", throttle="60 mm2") == []


def test_non_return_valve_is_said_and_not_fitted():
    verdict = find(*recorded("hose-valve-left-in"))
    assert not verdict.decided
    assert verdict.tdc is None
    assert "non-return valve" in say(verdict.reason)
    assert "take the valve out" in say(verdict.reason)


def test_liquid_comes_first_and_says_stop():
    verdict = find(*recorded("liquid-in-cylinder"))
    assert say(verdict.reason).startswith("STOP TURNING")
    assert verdict.warnings[0].code == "liquid-in-cylinder"
    text = say(verdict.warnings[0].remark)
    assert text.startswith("STOP TURNING")
    assert "no starter before that" in text


def test_a_pressure_that_rises_and_then_falls_is_not_held():
    recording, profile = recorded("hose-valve-left-in")
    nodes = nodes_in(recording, profile)
    assert held_pressure(nodes) is not None
    let_off = nodes.pressure_bar.copy()
    let_off[-20:] = 1.0
    assert held_pressure(replace(nodes, pressure_bar=let_off)) is None


def test_half_a_turn_is_too_little_to_call_it_held():
    recording, profile = recorded("cranked")
    nodes = nodes_in(recording, profile)
    top = int(np.argmax(nodes.pressure_bar))
    assert held_pressure(nodes.part(max(top - 60, 0), top + 1)) is None


def test_nothing_is_said_of_a_sensor_elsewhere_or_not_calibrated():
    recording, profile = recorded("throttle-shut")
    nodes, sensor = nodes_in(recording, profile), profile.sensors[0]
    assert oddities(nodes, profile, replace(sensor, place="manifold")) == ()
    assert oddities(nodes, profile, replace(sensor, points=())) == ()
    assert oddities(nodes, profile, sensor, zero_sound=False) == ()
    assert oddities(nodes.part(0, 0), profile, sensor) == ()


def test_steepest_of_air_grows_with_the_ratio():
    _, profile = recorded("cranked")
    limits = [
        steepest_of_air(replace(profile, compression_ratio=ratio)) for ratio in (7, 9, 15, 23, None)
    ]
    assert np.all(np.diff(limits) > 0)


def test_a_sensor_without_known_points_states_no_pressure():
    recording, profile = recorded("cranked")
    bare = replace(profile, sensors=(replace(profile.sensors[0], points=()),))
    verdict, known = find(recording, bare), find(recording, profile)
    assert verdict.decided
    assert verdict.compression is None
    assert " bar" not in say(verdict.reason)
    assert [notice.code for notice in verdict.warnings] == ["uncalibrated"]
    assert known.compression is not None
    assert " bar" in say(known.reason)
    ours, theirs = verdict.tdc.angle_deg, known.tdc.angle_deg
    assert abs(ours.value - theirs.value) < ours.half_width + theirs.half_width
