"""Which TDC, on bench recordings: right where it can be told, and why not where it cannot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.crank.strokes import companions, nearest, phase_at
from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Recording
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.gui.sayings import say

Decide = Callable[[Recording, Profile], Verdict]
ROUGH_DEG = 32.0  # what the rough TDC of the peaks promises

TELLABLE: list[tuple[str, dict[str, Any]]] = [
    ("cranked", {"seconds": 3.0}),
    ("hand-turned", {}),
    ("rocked", {}),
    ("run-down", {}),
    ("turned-backwards", {}),
    ("vacuum-sensor", {}),
    ("camshaft-encoder", {}),
    ("unknown-rebuild", {}),
    ("diesel", {}),
    ("single", {}),
    ("v-twin", {}),
    ("six", {}),
    ("two-stroke", {}),
    ("burnt-valve", {}),
    ("worn-rings", {}),
    ("valve-without-clearance", {}),
    ("throttle-shut", {}),
    ("cam-half-turn", {}),
    ("clamp-slipped", {}),
    ("clamp-slipped", {"slip": -90.0}),
    ("clamp-slipped", {"slip": 180.0}),
    ("counts-lost", {}),
    ("sensor-drifts", {}),
    ("hum-and-noise", {}),
    ("bad-cable", {}),
    ("board-restarts", {}),
    ("cranked", {"sensor_range": (0.0, 4.0)}),
    ("hand-turned", {"sensor_range": (0.1, 1.15), "noise": 0.002}),
]


@pytest.mark.parametrize(("name", "settings"), TELLABLE)
def test_the_firing_tdc_is_told(
    name: str, settings: dict[str, Any], turned: Callable[..., Any], phase_of: Decide
):
    made = turned(name, **settings)
    verdict = phase_of(made.recording, made.profile)
    assert verdict.decided, verdict.reason
    assert abs(made.firing_error_deg(verdict)) < ROUGH_DEG


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("stop-both-sides", "turn on"),
        ("dead-cylinder", "no compression"),
        ("hose-valve-left-in", "non-return valve"),
        ("wrong-firing-order", "profile contradicts the trace: cylinder 3 fires 180° after"),
        ("manifold", "take one plug out"),
    ],
)
def test_what_cannot_be_told_says_why(
    name: str, said: str, turned: Callable[..., Any], phase_of: Decide
):
    made = turned(name)
    verdict = phase_of(made.recording, made.profile)
    assert not verdict.decided
    assert verdict.firing_deg is None
    assert said in say(verdict.reason)


def told(made: Any, **encoder: Any) -> Profile:
    return replace(made.profile, encoder=replace(made.profile.encoder, **encoder))


@pytest.mark.parametrize(
    ("encoder", "said"),
    [
        ({"direction": -1}, "turn encoder.direction round"),
        ({"drive_ratio": 0.5}, "check encoder.counts_per_rev and encoder.drive_ratio"),
        ({"counts_per_rev": 2000}, "check encoder.counts_per_rev and encoder.drive_ratio"),
        ({"drive_ratio": 2.0}, "encoder.drive_ratio"),
    ],
)
def test_a_profile_of_another_rig_is_noticed(
    encoder: dict[str, Any], said: str, turned: Callable[..., Any], phase_of: Decide
):
    made = turned("cranked")
    verdict = phase_of(made.recording, told(made, **encoder))
    assert not verdict.decided
    assert said in say(verdict.reason)


@pytest.mark.parametrize("share", [0.5, 0.9, 1.2])
def test_wrong_counts_bend_flanks_as_burning_does_and_are_noticed(
    share: float, turned: Callable[..., Any]
):
    """Some taken for burnt and left out, one compression was sure of a wrong cylinder."""
    made = turned("burning-petrol")
    counts = round(share * made.profile.encoder.counts_per_rev)
    tracker = Tracker(told(made, counts_per_rev=counts), fitted=False)
    for segment in made.recording.segments:
        tracker.feed(segment)
    assert not tracker.verdict(closing=True).decided
    assert tracker.judgement is not None
    assert tracker.judgement.refusal is not None
    assert tracker.judgement.refusal.code == "compressions-come-otherwise"


@pytest.mark.parametrize("slip", [-90.0, 45.0, 90.0, 180.0])
def test_a_slip_seen_by_a_vacuum_sensor_is_never_called_wrong(
    slip: float, turned: Callable[..., Any], phase_of: Decide
):
    made = turned("clamp-slipped", slip=slip, sensor_range=(0.1, 1.15), noise=0.002)
    verdict = phase_of(made.recording, made.profile)
    assert not verdict.decided or abs(made.firing_error_deg(verdict)) < 90.0


@pytest.mark.parametrize("name", ["cranked", "clamp-slipped", "counts-lost"])
def test_a_starter_that_seems_to_turn_backwards_is_refused(
    name: str, turned: Callable[..., Any], phase_of: Decide
):
    made = turned(name)
    verdict = phase_of(made.recording, told(made, direction=-1))
    assert not verdict.decided
    assert "turn encoder.direction round" in say(verdict.reason)


def test_by_hand_a_wrong_direction_leaves_the_sensed_cylinder_right_and_says_so(
    turned: Callable[..., Any], phase_of: Decide
):
    made = turned("hand-turned")
    verdict = phase_of(made.recording, told(made, direction=-1))
    assert verdict.firing_deg is not None
    mirrored = -float(made.truth["firing"]["1"])
    assert abs(nearest(verdict.firing_deg[1] - mirrored, 720.0)) < ROUGH_DEG
    assert "only cylinder 1's angle is right" in say(verdict.reason)
    assert "turned-back" in {w.code for w in verdict.warnings}
    right = phase_of(made.recording, made.profile)
    assert "TURNED BACKWARDS" not in say(right.reason)


def test_a_profile_of_another_cycle_is_noticed(turned: Callable[..., Any], phase_of: Decide):
    four = turned("cranked")
    as_two = replace(four.profile, cycle="two-stroke", firing_intervals_deg=(90.0,) * 4)
    verdict = phase_of(four.recording, as_two)
    assert not verdict.decided
    assert "correct cycle in the profile" in say(verdict.reason)

    two = turned("two-stroke")
    as_four = replace(two.profile, cycle="four-stroke", firing_intervals_deg=(720.0,))
    verdict = phase_of(two.recording, as_four)
    assert not verdict.decided
    assert "a two-stroke" in say(verdict.reason)


def open_air_from(recording: Recording, share: float) -> Recording:
    """Let the sensor show the open air from a share of the samples on."""
    (segment,) = recording.segments
    readings = segment.samples.readings.copy()
    begin = int(share * len(readings))
    readings[begin:] = np.percentile(readings, 20.0)
    return replace(
        recording,
        segments=(replace(segment, samples=replace(segment.samples, readings=readings)),),
    )


def test_a_sensor_that_comes_off_leaves_the_answer_and_says_that_nothing_checks_it(
    turned: Callable[..., Any], phase_of: Decide
):
    made = turned("cranked")
    verdict = phase_of(open_air_from(made.recording, 0.6), made.profile)
    assert verdict.decided
    assert verdict.unchecked_since_s is not None
    assert "sensor out" in " ".join(
        say(w.remark) for w in verdict.warnings if w.code == "clamp-unchecked"
    )


def test_a_slip_is_said(turned: Callable[..., Any], phase_of: Decide):
    made = turned("clamp-slipped")
    verdict = phase_of(made.recording, made.profile)
    assert "clamp-slip" in {w.code for w in verdict.warnings}
    sound = turned("cranked")
    verdict = phase_of(sound.recording, sound.profile)
    assert not {"clamp-slip", "tdc-drifts"} & {w.code for w in verdict.warnings}


@pytest.mark.parametrize("slip", [-45.0, 45.0])
def test_a_slip_within_a_compression_is_told_in_its_full_size(
    slip: float, turned: Callable[..., Any], phase_of: Decide
):
    """The compression is bent by it and stands half way: 15° were told where it was 45°."""
    for slip_at in np.arange(2.0, 2.7, 0.07):  # a cycle at starter speed
        made = turned("cranked", seconds=5.0, slip=slip, slip_at=float(slip_at))
        verdict = phase_of(made.recording, made.profile)
        (said,) = [w.remark for w in verdict.warnings if w.code == "clamp-slip"]
        assert said.figure("by_deg") == pytest.approx(-slip, abs=6.0), slip_at


def test_a_cut_anywhere_is_never_an_error_and_never_wrong(
    turned: Callable[..., Any], phase_of: Decide
):
    made = turned("cranked")
    (segment,) = made.recording.segments
    for stop in np.linspace(0, len(segment.samples), 12).astype(int).tolist():
        part = replace(
            segment,
            samples=replace(
                segment.samples,
                time_us=segment.samples.time_us[:stop],
                count=segment.samples.count[:stop],
                readings=segment.samples.readings[:stop],
                after_gap=segment.samples.after_gap[:stop],
            ),
        )
        verdict = phase_of(replace(made.recording, segments=(part,)), made.profile)
        assert not verdict.decided or abs(made.firing_error_deg(verdict)) < ROUGH_DEG


def test_from_one_sensed_cylinder_to_the_whole_engine(turned: Callable[..., Any], phase_of: Decide):
    made = turned("cranked", seconds=3.0)
    verdict = phase_of(made.recording, made.profile)
    assert verdict.firing_deg is not None
    firing = verdict.firing_deg
    assert list(firing) == [1, 3, 4, 2]
    assert companions(made.profile)[1] == (4,)
    at_firing_4 = phase_at(made.profile, firing[1], firing[4])
    assert at_firing_4.rocking == (1,)


def test_a_second_cylinder_that_agrees_is_said(turned: Callable[..., Any], phase_of: Decide):
    made = turned("wrong-firing-order")
    right = replace(made.profile, firing_order=(1, 3, 4, 2))
    verdict = phase_of(made.recording, right)
    assert verdict.decided
    assert "second-agrees" in {w.code for w in verdict.warnings}
