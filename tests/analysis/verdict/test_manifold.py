"""A sensor in the manifold: which candidates remain, and what decides."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.profile import Profile, even_intervals_deg
from strokewise.analysis.samples import Press, Recording
from strokewise.analysis.verdict.manifold import (
    LOWEST_AFTER_DEG,
    PULSE_BAR,
    PULSE_BIN_DEG,
    _first_candidate,
)
from strokewise.analysis.verdict.verdict import Verdict
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import Starter
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.gui.sayings import say

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
        assert said in say(verdict.reason)


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
    assert "contradict" in say(verdict.warnings[-1].remark)


def test_a_press_against_the_pressure_leaves_two_explanations(
    turned: Callable[..., Any], phase_of: Decide
):
    made = turned("cranked")
    wrong = Press("valves rock 1", time_at(made, float(made.truth["firing"]["1"])))
    verdict = phase_of(pressed(made.recording, wrong), made.profile)
    assert not verdict.decided
    assert say(verdict.reason).startswith("two explanations left")


def test_a_press_alone_that_a_plug_is_out_decides_nothing(
    turned: Callable[..., Any], phase_of: Decide
):
    sound = turned("manifold")
    verdict = phase_of(pressed(sound.recording, Press("plug out 2", 2_000_000)), sound.profile)
    # Nothing was taken out: no cylinder differs.
    assert not verdict.decided


def cranked(
    cylinders: int,
    plugs_out: tuple[int, ...] = (),
    intervals: tuple[float, ...] | None = None,
    seconds: float = 3.0,
) -> Bench:
    """Put an engine of so many cylinders on the starter, with a sensor in its manifold."""
    base = scenario("manifold").build({})
    litres = cylinders / 4
    # So many pulses run into each other; only an all but shut throttle leaves some of them.
    shut = 0.4 if cylinders > 8 else 1.0
    starter = base.turning
    assert isinstance(starter, Starter)
    curve = tuple((rpm, torque_nm * litres) for rpm, torque_nm in starter.torque_curve)
    engine = replace(
        base.engine,
        cylinders=cylinders,
        firing_order=tuple(range(1, cylinders + 1)),
        firing_intervals_deg=intervals,
        plugs_out=plugs_out,
        throttle_area_mm2=base.engine.throttle_area_mm2 * litres * shut,
        plenum_volume_cm3=base.engine.plenum_volume_cm3 * litres,
        inertia_kg_m2=base.engine.inertia_kg_m2 * litres,
        friction_nm=base.engine.friction_nm * litres,
        viscous_nm_s=base.engine.viscous_nm_s * litres,
    )
    turning = replace(starter, torque_curve=curve, duration_s=seconds)
    return replace(base, engine=engine, turning=turning)


@pytest.fixture(scope="module")
def drawn_through(turned_bench: Callable[[Bench], Any]) -> Callable[..., Any]:
    """Return what an engine's manifold shows; each is cranked only once."""
    return cache(lambda *settings, **more: turned_bench(cranked(*settings, **more)))


@pytest.mark.parametrize("cylinder", [1, 2, 3, 4])
def test_a_plug_out_and_named_decides(
    cylinder: int, drawn_through: Callable[..., Any], phase_of: Decide
):
    made = drawn_through(4, plugs_out=(cylinder,), seconds=4.0)
    assert not phase_of(made.recording, made.profile).decided
    press = Press(f"plug out {cylinder}", 2_000_000)
    verdict = phase_of(pressed(made.recording, press), made.profile)
    assert verdict.decided, verdict.candidates
    assert abs(made.firing_error_deg(verdict)) < 0.25 * INTERVAL_DEG


@pytest.mark.parametrize("cylinders", [3, 5, 6, 7, 8, 10, 11])
def test_as_many_candidates_as_cylinders_and_one_is_right(
    cylinders: int, drawn_through: Callable[..., Any], phase_of: Decide
):
    made = drawn_through(cylinders)
    verdict = phase_of(made.recording, made.profile)
    assert not verdict.decided
    interval = 720.0 / cylinders
    assert len(verdict.candidates) == cylinders
    true = float(made.truth["firing"]["1"])
    apart = [abs(nearest(c.firing_1_deg - true, 720.0)) for c in verdict.candidates]
    assert min(apart) < 0.3 * interval


@pytest.mark.parametrize("cylinders", [9, 12])
def test_pulses_that_fill_each_other_up_are_not_taken_for_an_answer(
    cylinders: int, drawn_through: Callable[..., Any], phase_of: Decide
):
    made = drawn_through(cylinders)
    verdict = phase_of(made.recording, made.profile)
    assert not verdict.decided
    assert "sense one cylinder at its plug hole" in say(verdict.reason)


def test_a_single_is_told_by_its_own_pulse(drawn_through: Callable[..., Any], phase_of: Decide):
    made = drawn_through(1)
    verdict = phase_of(made.recording, made.profile)
    assert verdict.decided
    assert abs(made.firing_error_deg(verdict)) < 60.0


def test_uneven_firing_is_left_to_a_plug_hole(drawn_through: Callable[..., Any], phase_of: Decide):
    made = drawn_through(2, intervals=(315.0, 405.0))
    verdict = phase_of(made.recording, made.profile)
    assert not verdict.decided
    assert not verdict.candidates
    assert "unevenly" in say(verdict.reason)


def test_a_press_between_two_candidates_decides_nothing(
    drawn_through: Callable[..., Any], phase_of: Decide
):
    made = drawn_through(11)
    for shift_deg in (-25.0, 0.0, 25.0):
        overlap = float(made.truth["firing"]["5"]) + 360.0 + shift_deg
        press = Press("valves rock 5", time_at(made, overlap))
        verdict = phase_of(pressed(made.recording, press), made.profile)
        assert not verdict.decided
        assert "valves-rock" in {w.code for w in verdict.warnings}


@pytest.mark.parametrize("shift_deg", [-40.0, -20.0, 0.0, 20.0, 40.0])
def test_a_press_as_coarse_as_an_eye_is_never_taken_for_another_cylinder(
    shift_deg: float, drawn_through: Callable[..., Any], phase_of: Decide
):
    for cylinders in (6, 8):
        made = drawn_through(cylinders)
        overlap = float(made.truth["firing"]["2"]) + 360.0 + shift_deg
        press = Press("valves rock 2", time_at(made, overlap))
        verdict = phase_of(pressed(made.recording, press), made.profile)
        interval = 720.0 / cylinders
        assert not verdict.decided or abs(made.firing_error_deg(verdict)) < 0.5 * interval


def test_too_few_turns_say_so(turned: Callable[..., Any], phase_of: Decide):
    made = turned("manifold", seconds=0.8)
    verdict = phase_of(made.recording, made.profile)
    assert not verdict.decided
    assert "four full turns" in say(verdict.reason)


def waves(swings_bar: list[float], lowest_deg: float, cylinders: int = 4) -> np.ndarray:
    """Return cycles of one wave a cylinder, each with its swing, lowest at the same place."""
    angle = (np.arange(int(720 / PULSE_BIN_DEG)) + 0.5) * PULSE_BIN_DEG
    shape = -np.cos(np.radians((angle - lowest_deg) * cylinders / 2))
    return np.array(swings_bar)[:, None] * shape


@pytest.mark.parametrize(("swings_bar", "seen"), [
    ([0.010] * 6, True),
    ([1.1 * PULSE_BAR] * 6, True),
    ([0.9 * PULSE_BAR] * 6, False),  # steady, but less than a sensor's own noise makes
    ([0.010, -0.008, 0.012, -0.006, 0.011, 0.002], False),  # large, but not the same twice
])  # fmt: skip
def test_pulses_are_believed_when_large_and_steady(
    swings_bar: list[float], seen: bool, four_cylinders: Profile
) -> None:
    found = _first_candidate(waves(swings_bar, lowest_deg=70.0), four_cylinders)
    assert (found is not None) == seen
    if seen:  # cylinder 1 draws from its overlap TDC on, the pressure is lowest so much later
        expected = (70.0 - LOWEST_AFTER_DEG[4] - 360.0) % 180.0
        assert found == pytest.approx(expected, abs=0.01)


def test_pulses_of_as_many_cylinders_as_nobody_measured_are_not_read(
    four_cylinders: Profile,
) -> None:
    assert 13 not in LOWEST_AFTER_DEG
    assert (
        _first_candidate(waves([0.01] * 6, 70.0, 13), replace(four_cylinders, cylinders=13)) is None
    )


@pytest.fixture
def four_cylinders() -> Profile:
    return Profile(4, (1, 3, 4, 2), even_intervals_deg(4, 720.0))
