"""A sensor in the manifold: which candidates remain, and what decides."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.profile import Profile
from strokewise.analysis.samples import Press, Recording
from strokewise.analysis.verdict import Verdict

Decide = Callable[[Recording, Profile], Verdict]
INTERVAL_DEG = 180.0


def pressed(recording: Recording, *presses: Press) -> Recording:
    (segment,) = recording.segments
    return replace(recording, segments=(replace(segment, presses=presses),))


def time_at(made: Any, angle_deg: float) -> int:
    """Return when the crank first met an angle of the cycle, in the second half."""
    samples = made.recording.segments[0].samples
    angle = (samples.count + 0.5) * 360.0 / made.profile.encoder.counts_per_rev
    late = np.arange(len(angle)) > len(angle) // 2
    at = np.flatnonzero(late & (np.abs((angle - angle_deg + 360.0) % 720.0 - 360.0) < 3.0))
    return int(samples.time_us[at[0]])


def test_every_candidate_remains_with_equal_probability(
    turned: Callable[..., Any], phase_of: Decide
):
    made = turned("manifold")
    verdict = phase_of(made.recording, made.profile)
    assert [c.probability for c in verdict.candidates] == pytest.approx([0.25] * 4)
    true = float(made.truth["firing"]["1"])
    apart = [abs((c.firing_1_deg - true + 360.0) % 720.0 - 360.0) for c in verdict.candidates]
    assert min(apart) < 0.2 * INTERVAL_DEG
    for said in ("plug hole", "plug out N", "valves rock N"):
        assert said in verdict.reason


@pytest.mark.parametrize("cylinder", [1, 2, 3, 4])
def test_a_press_when_named_valves_rock_decides(
    cylinder: int, turned: Callable[..., Any], phase_of: Decide
):
    made = turned("manifold")
    overlap = float(made.truth["firing"][str(cylinder)]) + 360.0
    press = Press(f"valves rock {cylinder}", time_at(made, overlap))
    verdict = phase_of(pressed(made.recording, press), made.profile)
    assert verdict.decided
    assert abs(made.firing_error_deg(verdict)) < 0.25 * INTERVAL_DEG


def test_presses_that_contradict_each_other_count_for_nothing(
    turned: Callable[..., Any], phase_of: Decide
):
    made = turned("manifold")
    at = time_at(made, float(made.truth["firing"]["1"]) + 360.0)
    recording = pressed(made.recording, Press("valves rock 1", at), Press("valves rock 3", at))
    verdict = phase_of(recording, made.profile)
    assert not verdict.decided
    assert "contradict" in verdict.warnings[-1].text


def test_a_press_against_the_pressure_leaves_two_explanations(
    turned: Callable[..., Any], phase_of: Decide
):
    made = turned("cranked")
    wrong = Press("valves rock 1", time_at(made, float(made.truth["firing"]["1"])))
    verdict = phase_of(pressed(made.recording, wrong), made.profile)
    assert not verdict.decided
    assert verdict.reason.startswith("two explanations left")


def test_a_plug_out_decides(turned: Callable[..., Any], phase_of: Decide):
    made = turned("manifold", plugs="out")
    del made  # every plug out but the sensed one's says nothing by name
    sound = turned("manifold")
    verdict = phase_of(pressed(sound.recording, Press("plug out 2", 2_000_000)), sound.profile)
    # Nothing was taken out: no cylinder differs, and the press alone must not decide.
    assert not verdict.decided


def test_too_few_turns_say_so(turned: Callable[..., Any], phase_of: Decide):
    made = turned("manifold", seconds=0.8)
    verdict = phase_of(made.recording, made.profile)
    assert not verdict.decided
    assert "four full turns" in verdict.reason
