"""A burning charge is noticed, and what is only squeezed never is."""

from dataclasses import replace

import numpy as np
import pytest
from suite_bench import tdc_off_deg

from strokewise.analysis.trace.burning import BURNS, burning_notices, burnt
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import humps_of
from strokewise.analysis.verdict.find import find
from strokewise.daq.bench.engine.settings import RunDown
from strokewise.daq.bench.scenarios.scenarios import scenario
from strokewise.gui.sayings import say


def trace(*, late=0.0, lost=0.0, rpm=1200.0, noise=0.0, gain=1.0, way=1, seed=0, count=2):
    """Compressions of air at TDC 0, 720, …, given heat after TDC (``late``) or losing some."""
    angle = np.arange(-300.0, 720.0 * count - 420.0, 2.0)
    after = (angle + 360.0) % 720.0 - 360.0
    rod, ratio = 3.5, 9.0
    theta = np.radians(np.clip(after, -180.0, 180.0))
    down = (rod + 1 - np.cos(theta) - np.sqrt(rod**2 - np.sin(theta) ** 2)) / 2
    volume = (1 / (ratio - 1) + down) / (1 / (ratio - 1) + 1.0)
    done = 1.0 - np.exp(-5.0 * (np.clip(after + 5.0, 0.0, 50.0) / 50.0) ** 3)
    given = late * done / volume**0.3 - lost * np.clip(after + 140.0, 0.0, 280.0) / 280.0
    bar = np.where(np.abs(after) < 180.0, volume**-1.33 + given / volume, 1.0)
    size = len(angle)
    bar = gain * bar + np.random.default_rng(seed).normal(0.0, noise, size)
    speed = np.full(size, way * 6.0 * rpm)
    return Nodes(
        angle / (6.0 * rpm), way * angle, speed, bar, np.ones(size), np.zeros(size, bool),
        max(noise, 1e-3), 0.1, 0.001,
    )  # fmt: skip


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("gain", [1.0, 0.05])
@pytest.mark.parametrize("late", [0.4, 1.0, 3.0])
def test_a_charge_given_heat_is_seen_at_any_scale_and_either_way(late, gain, way):
    nodes = trace(late=late, gain=gain, way=way)
    assert burnt(nodes, humps_of(nodes)).all()


@pytest.mark.parametrize("lost", [0.0, 0.05, 0.2])
@pytest.mark.parametrize("noise", [0.0, 0.05])
def test_a_charge_that_only_loses_is_never_said_to_burn(lost, noise):
    for seed in range(5):
        nodes = trace(lost=lost, noise=noise, seed=seed)
        assert not burnt(nodes, humps_of(nodes)).any()


def test_by_hand_nothing_burns():
    nodes = trace(late=1.0, rpm=30.0)
    assert not burnt(nodes, humps_of(nodes)).any()


def test_rocked_quickly_over_one_compression_and_back_nothing_burns():
    """Of some 600 rocked recordings six were said to burn (a bench; 700901 and five others)."""
    forth, back = trace(lost=0.1, rpm=90.0, count=1), trace(lost=0.1, rpm=90.0, count=1, way=-1)
    pressure = np.concatenate([forth.pressure_bar, back.pressure_bar[::-1]])
    angle = np.concatenate([forth.angle_deg, forth.angle_deg[::-1]])
    speed = np.concatenate([forth.speed_deg_s, -forth.speed_deg_s])
    both = np.ones(len(angle))
    nodes = replace(
        forth, time_s=np.arange(len(angle)) * 2.0 / 540.0, angle_deg=angle, speed_deg_s=speed,
        pressure_bar=pressure, count=both, clipped=both < 0,
    )  # fmt: skip
    humps = humps_of(nodes)
    assert [hump.direction for hump in humps] == [1, -1]
    assert not burnt(nodes, humps).any()


def test_beside_one_that_burned_a_compression_cut_off_by_the_end_counts_as_burnt_too():
    nodes = trace(late=1.0)
    whole = humps_of(nodes)
    cut = nodes.part(0, whole[1].at + 3)
    assert burnt(cut, whole).tolist() == [True, True]
    quiet = trace(lost=0.1)
    assert burnt(quiet.part(0, whole[1].at + 3), humps_of(quiet)).tolist() == [False, False]


@pytest.mark.parametrize(("late", "lost"), [(0.1, 0.05), (0.15, 0.3)])
def test_beside_one_that_burned_a_compression_whose_foot_is_cut_off_counts_as_burnt_too(late, lost):
    def cut_off(nodes):
        part = nodes.part(humps_of(nodes)[0].at - 6, len(nodes))
        return part, humps_of(part)

    nodes, humps = cut_off(trace(late=late, lost=lost))
    assert burnt(nodes, humps[:1]).tolist() == [False]  # by itself it shows nothing
    assert burnt(nodes, humps).tolist() == [True, True]
    nodes, humps = cut_off(trace(lost=0.1))
    assert burnt(nodes, humps).tolist() == [False, False]


def test_beside_those_that_burned_one_that_noise_hides_is_not_taken_for_cold():
    """TDC came from the one of 19, 17° late (a bench, 712016)."""
    strong, weak = (trace(late=late, noise=0.25, count=3, seed=3) for late in (2.0, 0.35))
    second = np.abs(strong.angle_deg - 720.0) < 300.0
    mixed = replace(strong, pressure_bar=np.where(second, weak.pressure_bar, strong.pressure_bar))
    assert not burnt(weak, humps_of(weak)).any()  # by themselves noise hides them
    assert burnt(mixed, humps_of(mixed)).all()


@pytest.mark.parametrize("phase", range(8))
@pytest.mark.parametrize("rpm", [170.0, 220.0, 310.0])
def test_hum_of_the_mains_bends_flanks_and_is_no_burn(rpm, phase):
    """Four of eight were said to burn, and TDC was refused (a bench with 0.3 bar of hum)."""
    nodes = trace(lost=0.3, rpm=rpm, noise=0.01, count=3)
    hum = 0.25 * np.sin(2.0 * np.pi * (50.0 * nodes.time_s + phase / 8.0))
    loud = replace(nodes, pressure_bar=nodes.pressure_bar + hum)
    assert not burnt(loud, humps_of(loud)).any()


@pytest.mark.parametrize("from_deg", range(-90, 90, 15))
def test_samples_lost_on_a_flank_are_no_burn(from_deg):
    nodes = trace(lost=0.1, rpm=200.0, count=3)
    for lost_deg in (16.0, 26.0):
        gone = (nodes.angle_deg >= 720.0 + from_deg) & (nodes.angle_deg < 720 + from_deg + lost_deg)
        left = nodes.only(~gone)
        assert not burnt(left, humps_of(left)).any(), lost_deg


def test_the_humps_of_a_dead_cylinder_are_no_burns():
    nodes = trace(late=1.0, gain=0.02)
    assert not burnt(nodes, humps_of(nodes)).any()


def test_the_warning_begins_with_what_comes_before_anything_else():
    assert burning_notices(np.array([False, False])) == ()
    (notice,) = burning_notices(np.array([True, False]))
    assert notice.code == BURNS
    assert say(notice.remark).startswith("IGNITION AND FUEL OFF before anything else")
    assert "1 of 2" in say(notice.remark)
    (notice,) = burning_notices(np.array([False, False, True]))
    assert notice.code == BURNS  # a clamp that slips within it is told by the next one only
    assert say(notice.remark).startswith("IGNITION AND FUEL OFF before anything else")
    assert "the next compression tells" in say(notice.remark)
    (notice,) = burning_notices(np.array([True]))
    assert "every compression" in say(notice.remark)


@pytest.mark.parametrize("name", ["burning-petrol", "burning-diesel"])
def test_where_every_charge_burns_the_stroke_is_told_and_tdc_is_not(turned, name):
    made = turned(name)
    verdict = find(made.recording, made.profile)
    assert [notice.code for notice in verdict.warnings] == [BURNS]
    assert not verdict.decided
    assert verdict.tdc is None
    assert verdict.firing_deg is None
    assert say(verdict.reason).startswith("the stroke is known, TDC is not")
    best = verdict.candidates[0]
    assert best.probability > 0.9999
    assert best.within_deg is not None
    true = float(made.truth["firing"]["1"])
    assert abs((best.firing_1_deg - true + 360.0) % 720.0 - 360.0) < best.within_deg <= 30.0


def test_of_an_engine_cut_after_running_the_cycles_that_did_not_burn_give_tdc(turned):
    made = turned("cut-after-running")
    verdict = find(made.recording, made.profile)
    assert BURNS in [notice.code for notice in verdict.warnings]
    assert verdict.decided
    assert verdict.tdc is not None
    angle = verdict.tdc.angle_deg
    off = tdc_off_deg(angle.value, made.truth)
    assert abs(off) < max(0.3, angle.half_width)


@pytest.mark.parametrize("by_deg", [12.0, -30.0, 170.0, 360.0])
def test_a_clamp_that_slips_within_a_compression_bends_it_and_burns_nothing(by_deg):
    nodes = trace(lost=0.1, count=3)
    top = humps_of(nodes)[1].at
    for at in (top - 20, top + 12):
        slipped = nodes.angle_deg + np.where(np.arange(len(nodes)) > at, by_deg, 0.0)
        bent = replace(nodes, angle_deg=slipped)
        assert not burnt(bent, humps_of(nodes)).any()
    misfires = trace(late=1.0, count=3)
    cold = np.abs(nodes.angle_deg - 720.0) > 360.0
    mixed = replace(nodes, pressure_bar=np.where(cold, nodes.pressure_bar, misfires.pressure_bar))
    assert burnt(mixed, humps_of(mixed)).tolist() == [False, True, False]


def test_two_peaks_of_one_top_are_no_two_rises():
    """Where the sensor's end stands within the noise nothing calls it so, and it peaks twice."""
    nodes = trace(lost=0.1)
    flat = replace(
        nodes, pressure_bar=np.minimum(nodes.pressure_bar, 0.9 * nodes.pressure_bar.max())
    )
    first, other = humps_of(flat)
    second = replace(first, at=first.at + 3, angle_deg=float(flat.angle_deg[first.at + 3]))
    assert not burnt(flat, (first, second, other)).any()
    notch = flat.pressure_bar.copy()
    notch[first.at + 1] -= 1.0
    assert burnt(replace(flat, pressure_bar=notch), (first, second, other))[:2].all()


@pytest.mark.parametrize("start_rpm", [2000.0, 2300.0])
def test_a_slow_sensor_on_an_engine_that_runs_down_is_no_burning_charge(start_rpm, turned_bench):
    bench = scenario("run-down").build({})
    sensor = replace(bench.rig.sensors[0], lag_s=1.2e-3, hose_hz=0.0)
    rig = replace(bench.rig, sensors=(sensor,))
    made = turned_bench(replace(bench, turning=RunDown(start_rpm, 2.5), rig=rig))
    verdict = find(made.recording, made.profile)
    assert BURNS not in [notice.code for notice in verdict.warnings]
    assert verdict.tdc is not None
    angle = verdict.tdc.angle_deg
    off = tdc_off_deg(angle.value, made.truth)
    assert abs(off) < angle.half_width
