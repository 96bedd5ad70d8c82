"""The response test against sensors whose lag is known, let go quickly and slowly."""

from dataclasses import replace

import numpy as np
import pytest

from strokewise.analysis.compression.response import response_of, steps_of
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import Board, Samples, Segment
from strokewise.analysis.trace.trace import trace_of
from strokewise.daq.bench.rig.rig import SensorRig
from strokewise.daq.bench.rig.sensor_model import SensorModel, calibration_points
from strokewise.gui.sayings import say

BITS = 12
AIR_BAR = 1.013


def let_go(
    lag_s=0.4e-3, *, hose_hz=0.0, damping=0.7, rate_hz=2000.0, steps=4, take_s=0.2e-3, top_bar=8.0,
    seed=1, turning_deg_s=0.0,
):  # fmt: skip
    """Trace of a hose with known lag, let go several times; each takes about ``take_s``."""
    rng = np.random.default_rng(seed)
    rig = SensorRig(lag_s=lag_s, hose_hz=hose_hz, hose_damping=damping)
    lasts_s = 1.0 + 1.5 * steps
    time_s = np.arange(0.0, lasts_s, 5e-5)
    pressure = np.full(len(time_s), AIR_BAR)
    for k in range(steps):
        at_s = 1.3 + 1.5 * k + rng.uniform(0.0, 0.1)
        fallen = np.clip((time_s - at_s) / (take_s * rng.uniform(0.5, 2.0)), 0.0, 1.0)
        filled = np.clip((time_s - at_s + 0.9) / 0.3, 0.0, 1.0)
        pressure += top_bar * filled * (1.0 - fallen) * (time_s < at_s + 0.3)
    model = SensorModel(rig, adc_bits=BITS, atmosphere_bar=AIR_BAR, rng=rng)
    model.follow(time_s, pressure)
    sample_s = np.arange(0.001, lasts_s - 0.01, 1.0 / rate_hz)
    k = len(sample_s)
    samples = Samples(
        np.round(sample_s * 1e6).astype(np.int64),
        np.floor(turning_deg_s * sample_s / 0.15).astype(np.int64),
        model.read(sample_s)[:, None],
        np.zeros(k, bool),
    )
    profile = Profile(1, (1,), (720.0,), sensors=(Sensor(points=calibration_points(rig, BITS)),))
    return trace_of(Segment(0, Board("b", 2400, BITS, ("p",)), samples), profile)


@pytest.mark.parametrize("lag_s", [0.2e-3, 0.4e-3, 1e-3, 3e-3])
@pytest.mark.parametrize("rate_hz", [1000.0, 2000.0, 10_000.0])
def test_the_bound_holds_and_is_not_far(lag_s, rate_hz):
    found = response_of([let_go(lag_s, rate_hz=rate_hz)])
    assert len(found.steps) == 4
    assert found.response_s.low == 0.0
    assert lag_s * 0.995 < found.response_s.high < lag_s * 1.1 + 1.1 / rate_hz


@pytest.mark.parametrize(("hose_hz", "damping"), [(800.0, 0.7), (500.0, 0.9), (300.0, 0.3)])
def test_the_bound_holds_for_a_hose_that_rings(hose_hz, damping):
    mean_delay_s = 0.3e-3 + damping / (np.pi * hose_hz)
    for seed in range(2):
        found = response_of(
            [let_go(0.3e-3, hose_hz=hose_hz, damping=damping, rate_hz=10_000.0, seed=seed)]
        )
        assert found.response_s.high > 0.98 * mean_delay_s


def test_finely_sampled_a_first_order_lag_is_measured():
    found = response_of([let_go(1e-3, rate_hz=10_000.0, take_s=0.1e-3)])
    assert any(step.fine for step in found.steps)
    assert found.response_s.value == pytest.approx(1e-3, rel=0.03)
    assert found.response_s.high == pytest.approx(1e-3, rel=0.04)


def test_the_quickest_step_counts():
    slow = let_go(steps=1, take_s=6e-3)
    quick = let_go(steps=1, take_s=0.2e-3)
    both = response_of([slow, quick])
    assert len(both.steps) == 2
    assert both.response_s == response_of([quick]).response_s
    assert both.response_s.high < 0.5 * response_of([slow]).response_s.high


def test_slower_letting_go_only_raises_the_bound():
    bounds = [
        response_of([let_go(take_s=take_s)]).response_s.high for take_s in (0.2e-3, 2e-3, 6e-3)
    ]
    assert bounds[0] < bounds[1] < bounds[2]


def test_a_vacuum_let_go_tells_as_well():
    (step, *_) = steps_of(let_go(top_bar=-0.8, rate_hz=10_000.0))
    assert step.from_bar < step.to_bar
    assert 0.35e-3 < step.bound_s < 0.7e-3


def test_pressure_let_out_slowly_is_no_step():
    found = response_of([let_go(take_s=0.3)])
    assert found.response_s is None
    assert "never fell within 20 ms" in say(found.reason)
    assert "let it go at once" in say(found.reason)


def test_a_fall_while_the_crank_turns_is_not_a_hands():
    found = response_of([let_go(turning_deg_s=600.0)])
    assert found.response_s is None
    assert "the crank turned" in say(found.reason)


def test_flat_and_empty():
    flat = let_go(steps=1, top_bar=0.0)
    assert "no step" in say(response_of([flat]).reason)
    for traces in ([], [let_go(steps=0, rate_hz=10.0)]):
        found = response_of(traces)
        assert found.response_s is None
        assert "no samples" in say(found.reason)


def test_pressure_cut_off_by_the_converter_is_said():
    trace = let_go()
    cut = replace(trace, clipped=trace.pressure_bar > 5.0)
    found = response_of([cut])
    assert found.response_s is None
    assert "put in less pressure" in say(found.reason)
