"""Where does the peak stand before TDC when a hand turns? Both directions mirror each other.

What we expect of an engine with sound rings, as in the pictures of
``tests/benchmarks/loss_angle_plot.py``: 3° to 50° at spanner speed and 1° to 5° at a starter's.
That the peak stands where the physics put it is checked in ``tests/reference/reactor``.
"""

from __future__ import annotations

import numpy as np
import pytest

from strokewise.daq.bench.engine.settings import BenchEngine, RecordedTurning, Starter
from strokewise.daq.bench.engine.solve import simulate

OPEN = BenchEngine(throttle_area_mm2=2000.0)


def constant_speed(from_deg, to_deg, rpm):
    """From rest up to speed within 5°, then steady."""
    way, speed, run_up_deg = np.sign(to_deg - from_deg), 6.0 * rpm, 5.0
    run_up_s = 2.0 * run_up_deg / speed
    early = np.linspace(0.0, run_up_s, 40)
    later = np.linspace(0.0, (abs(to_deg - from_deg) - run_up_deg) / speed, 400)[1:]
    gone = [0.5 * speed * early**2 / run_up_s, run_up_deg + speed * later]
    times = np.concatenate([early, run_up_s + later])
    return RecordedTurning(tuple(times), tuple(from_deg + way * np.concatenate(gone)))


def loss_angle(run):
    """Return how far before TDC, in the direction of turning, the peak stands."""
    highest = run.pressure_bar[:, 0].argmax()
    top = np.abs(run.crank_deg - run.crank_deg[highest]) < 2.0
    middle = run.crank_deg[highest]
    a, b, _ = np.polyfit(run.crank_deg[top] - middle, run.pressure_bar[top, 0], 2)
    return -(middle - b / (2 * a)) * np.sign(run.crank_deg[-1] - run.crank_deg[0])


@pytest.mark.parametrize("rpm", [3.0, 6.0, 15.0, 50.0])
def test_peak_before_tdc_by_hand_in_both_directions(rpm):
    found = []
    for way in (1.0, -1.0):
        turning = constant_speed(-300.0 * way, 60.0 * way, rpm)
        found.append(loss_angle(simulate(OPEN, turning, 8.0 * rpm, cylinders_simulated=[1])))
    assert 3.0 < found[0] < 50.0
    assert found[1] == pytest.approx(found[0], abs=0.1)


def test_slower_is_earlier():
    speeds = [5.0, 10.0, 30.0, 100.0, 300.0]
    angles = [
        loss_angle(
            simulate(OPEN, constant_speed(-300.0, 60.0, rpm), 8.0 * rpm, cylinders_simulated=[1])
        )
        for rpm in speeds
    ]
    assert np.all(np.diff(angles) < 0.0)


def test_a_worn_ring_makes_the_peak_earlier():
    turning = constant_speed(-300.0, 60.0, 160.0)
    angles = [
        loss_angle(
            simulate(
                BenchEngine(throttle_area_mm2=2000.0, ring_leak_mm2=leak),
                turning,
                3000.0,
                cylinders_simulated=[1],
            )
        )
        for leak in (0.0, 0.4, 1.5)
    ]
    assert np.all(np.diff(angles) > 0.5)


def test_peak_before_tdc_at_starter_speed():
    cranked = simulate(BenchEngine(), Starter(duration_s=3.0, start_deg=200.0), 4000.0)
    turns = np.arange(1, int(cranked.crank_deg[-1] // 720.0)) * 720.0
    assert turns.size >= 3
    for turn in turns:
        near = np.flatnonzero(np.abs(cranked.crank_deg - turn) < 100.0)
        highest = near[cranked.pressure_bar[near, 0].argmax()]
        top = np.abs(cranked.crank_deg - cranked.crank_deg[highest]) < 2.0
        where = cranked.crank_deg[top] - turn
        a, b, _ = np.polyfit(where, cranked.pressure_bar[top, 0], 2)
        assert 1.0 < b / (2 * a) < 5.0
