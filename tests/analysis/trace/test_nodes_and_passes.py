"""Nodes, humps, runs and passes on made traces."""

import numpy as np
import pytest

from strokewise.analysis.profile import Sensor
from strokewise.analysis.trace.nodes import NODE_DEG, Nodes, joined, nodes_of, sample_noise_bar
from strokewise.analysis.trace.passes import humps_of, passes_about, runs_of
from strokewise.analysis.trace.trace import Trace

TDC = 250.0


def trace_of_turning(angle_deg: np.ndarray, period_s: float, noise_bar: float = 0.0) -> Trace:
    """A trace that compresses about TDC at every second turn."""
    after = (angle_deg - TDC + 360.0) % 720.0 - 360.0
    rng = np.random.default_rng(1)
    pressure = 1.0 + 9.0 * np.exp(-((after / 28.0) ** 2)) + rng.normal(0, noise_bar, len(after))
    n = len(angle_deg)
    time = np.arange(n) * period_s
    no = np.zeros(n, bool)
    return Trace(
        time, angle_deg, np.gradient(angle_deg, time), pressure, no, no, Sensor(), 0.25, 0.005, True
    )


def cranked(noise_bar: float = 0.01) -> Nodes:
    return nodes_of(trace_of_turning(np.arange(0.0, 2200.0, 1.2), 1e-3, noise_bar))


def test_nodes_keep_every_sample_and_the_size_of_a_step():
    slow = trace_of_turning(np.arange(0.0, 400.0, 0.05), 1e-3)
    nodes = nodes_of(slow)
    assert nodes.count.sum() == len(slow)
    assert np.diff(nodes.angle_deg).max() < 2 * NODE_DEG
    assert len(nodes) < len(slow) / 12


def test_three_samples_give_three_nodes():
    empty = trace_of_turning(np.arange(3.0), 1e-3)
    assert len(nodes_of(empty)) in (1, 2, 3)


def test_noise_is_read_off_the_quickest_changes():
    rng = np.random.default_rng(2)
    wave = 5.0 * np.sin(np.linspace(0, 20, 5000))
    assert sample_noise_bar(wave + rng.normal(0, 0.03, 5000), 0.001) == pytest.approx(0.03, rel=0.1)


def test_humps_are_the_compressions_and_only_they():
    humps = humps_of(cranked())
    assert [round((h.angle_deg - TDC) / 720.0, 1) for h in humps] == [0.0, 1.0, 2.0]
    assert all(h.direction == 1 and h.moving for h in humps)


def test_noise_alone_has_no_hump():
    n = 3000
    flat = trace_of_turning(np.full(n, 400.0) + np.arange(n) * 1e-3, 1e-3, 0.05)
    assert humps_of(nodes_of(flat)) == ()


def test_a_knock_on_the_sensor_is_no_compression():
    trace = trace_of_turning(np.arange(0.0, 700.0, 1.2), 1e-3)
    trace.pressure_bar[400:403] += 8.0
    assert len(humps_of(nodes_of(trace))) == 1


def test_runs_part_at_reversals_but_not_at_a_little_back_roll():
    there = np.arange(0.0, 200.0, 1.0)
    back_roll = np.concatenate([there, 199.0 - np.arange(0, 4.0), 195.0 + np.arange(0.0, 60.0)])
    assert len(runs_of(nodes_of(trace_of_turning(back_roll, 1e-3)))) == 1
    reversal = np.concatenate([there, there[::-1], there])
    runs = runs_of(nodes_of(trace_of_turning(reversal, 1e-3)))
    assert [r.direction for r in runs] == [1, -1, 1]


def test_a_long_standstill_parts_a_run():
    way = np.concatenate([np.arange(0, 100.0), np.full(6000, 99.0), np.arange(99.0, 200.0)])
    assert len(runs_of(nodes_of(trace_of_turning(way, 1e-3)))) == 2


def test_passes_are_found_at_every_turn_with_their_number():
    nodes = cranked()
    passes = passes_about(nodes, runs_of(nodes), TDC, before_deg=100.0, after_deg=100.0)
    whole = [p for p in passes if np.ptp(p.angle_deg) > 190.0]
    assert [p.turn for p in whole] == [0, 1, 2, 3, 4, 5]
    assert whole[0].peak_bar == pytest.approx(10.0, abs=0.1)
    assert abs(whole[0].peak_angle_deg - TDC) < 2.0
    assert whole[0].speed_rpm == pytest.approx(200.0, rel=0.01)


def test_joining_needs_something_to_join():
    with pytest.raises(ValueError, match="no nodes to join"):
        joined(())
    nodes = cranked()
    assert len(joined((nodes, nodes))) == 2 * len(nodes)
