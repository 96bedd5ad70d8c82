"""Do lag, hose, range, valve and converter act on the pressure as they should?"""

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy import signal

from strokewise.analysis.errors import InputError
from strokewise.daq.bench.rig.rig import SensorRig
from strokewise.daq.bench.rig.sensor_model import (
    SENSOR_STEP_S,
    Hose,
    Lag,
    SensorModel,
    calibration_points,
)

CLEAN = SensorRig(noise_bar=0.0, lag_s=0.0)


def shown_bar(sensor, pressure, *, seconds=1.0, rate=2000.0, bits=12, seed=2, atmosphere=1.0):
    """Readings turned back to bar with the data sheet's points."""
    time_s = np.linspace(0, seconds, 20_001)
    sample_s = np.arange(0, seconds, 1 / rate)
    model = SensorModel(
        sensor, adc_bits=bits, atmosphere_bar=atmosphere, rng=np.random.default_rng(seed)
    )
    model.follow(time_s, pressure(time_s))
    readings = model.read(sample_s)
    (low, low_bar), (high, high_bar) = calibration_points(sensor, bits)
    return sample_s, low_bar + (readings - low) * (high_bar - low_bar) / (high - low)


def ramp(time_s):
    return 1.0 + 15.0 * time_s


def test_good_sensor_shows_the_truth_within_half_a_step():
    sample_s, shown = shown_bar(CLEAN, ramp)
    step = 20 / (0.8 * 4096)
    assert np.max(np.abs(shown - ramp(sample_s))) < 0.6 * step
    assert abs(np.mean(shown - ramp(sample_s))) < 0.05 * step


def test_first_order_lag_follows_a_ramp_one_time_constant_behind():
    sample_s, shown = shown_bar(replace(CLEAN, lag_s=0.01), ramp)
    late = ramp(sample_s) - shown
    assert np.mean(late[sample_s > 0.1]) == pytest.approx(15 * 0.01, rel=0.02)


def test_first_order_lag_answers_a_step_with_the_textbook_exponential():
    step_s = 1e-4
    pressure = np.where(np.arange(3000) * step_s > 0.1, 5.0, 1.0)
    out = Hose(replace(CLEAN, lag_s=0.02), 1.0, step_s=step_s)(pressure)
    after_s = np.arange(3000) * step_s - 0.1
    expected = np.where(after_s > 0, 5 - 4 * np.exp(-np.maximum(after_s, 0) / 0.02), 1.0)
    assert np.max(np.abs(out - expected)) < 4 * step_s / 0.02  # one step of uncertainty of when


@pytest.mark.parametrize("denominator", [
    [0.002, 1.0],
    [3.0, 1.0],
    [1.0, 2 * 0.3 * 1885.0, 1885.0**2],
    [2.0, 4 * 0.7 * 500.0, 2 * 500.0**2],
])  # fmt: skip
def test_a_lag_is_the_ramp_invariant_filter_that_scipy_makes(denominator):
    system = np.array(denominator[-1:]), np.array(denominator)
    numerator, poles, _ = signal.cont2discrete(system, SENSOR_STEP_S, method="foh")
    numerator = numerator.ravel()
    values = 1.0 + np.cumsum(np.random.default_rng(1).normal(0.0, 0.01, 5_000))
    rest = signal.lfilter_zi(numerator, poles) * values[0]
    expected, _ = signal.lfilter(numerator, poles, values, zi=rest)
    lag, cuts = Lag(denominator, SENSOR_STEP_S), (0, 7, 8, 10, 3_000, 5_000)
    pieces = [lag(values[i:j]) for i, j in pairwise(cuts)]
    np.testing.assert_allclose(np.concatenate(pieces), expected, rtol=0.0, atol=1e-11)


def test_the_bench_starts_without_what_takes_as_long_to_load_as_all_the_rest():
    code = "import sys, strokewise.daq.bench.bench; sys.exit('scipy.signal' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_hose_resonance_rings_at_its_frequency_and_overshoots_as_the_textbook_says():
    step_s = 5e-5
    pressure = np.where(np.arange(4000) > 0, 2.0, 1.0)
    hose = replace(CLEAN, hose_hz=100.0, hose_damping=0.2)
    out = Hose(hose, 1.0, step_s=step_s)(pressure)
    overshoot = np.exp(-np.pi * 0.2 / np.sqrt(1 - 0.2**2))
    assert out.max() - 2.0 == pytest.approx(overshoot, rel=0.01)
    peak_s = np.argmax(out) * step_s
    assert peak_s == pytest.approx(1 / (2 * 100 * np.sqrt(1 - 0.2**2)), rel=0.02)


def test_range_clips_at_both_ends():
    _, shown = shown_bar(replace(CLEAN, low_bar=2.0, high_bar=9.0), ramp)
    assert shown.min() == pytest.approx(2.0, abs=0.01)
    assert shown.max() == pytest.approx(9.0, abs=0.01)


def test_gauge_sensor_shows_the_difference_to_the_atmosphere():
    sensor = replace(CLEAN, reference="gauge")
    sample_s, shown = shown_bar(sensor, ramp, atmosphere=0.9)
    inside = ramp(sample_s) > 1.0
    assert np.max(np.abs(shown - (ramp(sample_s) - 0.9))[inside]) < 0.01


def test_gain_zero_and_drift_errors_add_up():
    sensor = replace(CLEAN, gain_error=0.03, offset_bar=0.5, drift_bar_per_s=0.4)
    sample_s, shown = shown_bar(sensor, ramp)
    expected = 1.03 * ramp(sample_s) + 0.5 + 0.4 * sample_s
    assert np.max(np.abs(shown - expected)) < 0.01


def test_noise_and_hum_have_the_stated_size():
    _, quiet = shown_bar(replace(CLEAN, noise_bar=0.05), lambda t: np.full_like(t, 5.0))
    assert np.std(quiet) == pytest.approx(0.05, rel=0.1)
    _, hum = shown_bar(replace(CLEAN, hum_bar=0.2, hum_hz=50.0), lambda t: np.full_like(t, 5.0))
    spectrum = np.abs(np.fft.rfft(hum - hum.mean())) / len(hum) * 2
    assert np.fft.rfftfreq(len(hum), 1 / 2000.0)[np.argmax(spectrum)] == 50.0
    assert spectrum.max() == pytest.approx(0.2, rel=0.02)


def test_non_return_valve_lets_the_pressure_in_and_not_out():
    def humps(time_s):
        return 1.0 + np.where(time_s < 0.6, 8.0, 12.0) * np.sin(5 * np.pi * time_s) ** 2

    sensor = replace(CLEAN, non_return_valve=True, valve_opens_bar=0.3)
    sample_s, shown = shown_bar(sensor, humps)
    assert np.diff(shown).min() > -0.02  # it never falls
    assert shown[-1] == pytest.approx(13.0 - 0.3, abs=0.1)
    assert shown[(sample_s > 0.2) & (sample_s < 0.58)] == pytest.approx(9.0 - 0.3, abs=0.1)


def test_piece_by_piece_reads_the_same_as_at_once():
    sensor = SensorRig(
        lag_s=0.003, hose_hz=90.0, hose_damping=0.3, delay_s=0.001, non_return_valve=True,
        valve_leak_s=2.0, hum_bar=0.1, drift_bar_per_s=0.2,
    )  # fmt: skip
    time_s = np.linspace(0, 2, 4001)
    pressure = 3.0 + 2.0 * np.sin(9 * time_s) - 0.5 * time_s
    sample_s = np.arange(0, 1.99, 0.001)
    whole, pieces = (
        SensorModel(sensor, adc_bits=12, atmosphere_bar=1.0, rng=np.random.default_rng(4))
        for _ in range(2)
    )
    whole.follow(time_s, pressure)
    read = []
    for begin in range(0, 4000, 200):
        part = slice(begin, begin + 201)
        pieces.follow(time_s[part], pressure[part])
        over = sample_s + sensor.delay_s <= time_s[begin + 200]
        read.append(pieces.read(sample_s[over][sum(map(len, read)) :]))
    together = np.concatenate(read).astype(int)
    apart = np.abs(together - whole.read(sample_s[: len(together)]))
    assert len(together) > 1950
    assert apart.max() <= 1  # a rounding on the edge of a step


def test_fewer_bits_make_coarser_steps_and_full_scale_holds():
    _, shown = shown_bar(CLEAN, ramp, bits=8)
    assert np.min(np.diff(np.unique(shown))) == pytest.approx(20 / (0.8 * 256), rel=0.02)
    sensor = replace(CLEAN, offset_bar=50.0, low_share=0.0, high_share=1.0)
    model = SensorModel(sensor, adc_bits=10, atmosphere_bar=1.0, rng=np.random.default_rng(0))
    model.follow(np.array([0.0, 1.0]), np.array([1.0, 1.0]))
    readings = model.read(np.array([0.5]))
    assert readings.tolist() == [1023]
    assert readings.dtype == np.uint16


def test_impossible_sensors_are_refused():
    with pytest.raises(InputError, match="range must rise"):
        SensorRig(low_bar=5.0, high_bar=5.0)
    with pytest.raises(InputError, match="between 0 and 1"):
        SensorRig(low_share=0.9, high_share=0.2)
    with pytest.raises(InputError, match="lag_s must not be negative"):
        SensorRig(lag_s=-1.0)


def test_zero_wanders_smoothly_to_and_fro_by_as_much_as_it_is_told():
    still = np.ones_like
    spread = []
    for seed in range(20):
        wandering = replace(CLEAN, low_bar=-20.0, wander_bar=1.5, wander_s=0.3)
        _, shown = shown_bar(wandering, still, seconds=6.0, seed=seed)
        spread.append(np.mean((shown - 1.0) ** 2))
        step = 40 / (0.8 * 4096)
        assert np.abs(np.diff(shown)).max() < 1.5 * 8 * 2 * np.pi / 0.3 / 2000 + 2 * step
    assert np.sqrt(np.mean(spread)) == pytest.approx(1.5, rel=0.1)


def test_a_zero_that_does_not_wander_leaves_the_noise_as_it_was():
    noisy = replace(CLEAN, noise_bar=0.05)
    assert np.array_equal(
        shown_bar(noisy, ramp)[1], shown_bar(replace(noisy, wander_s=7.0), ramp)[1]
    )


def test_thermal_shock_shows_too_little_after_a_burn_and_is_recovered_from():
    """The face warms as the pressure stays up, first order: the textbook exponential."""

    def burst(time_s):
        return np.where((time_s > 0.1) & (time_s < 0.13), 41.0, 1.0)

    sensor = replace(CLEAN, low_bar=-5.0, high_bar=60.0, shock_share=0.02, shock_s=0.02)
    sample_s, shown = shown_bar(sensor, burst)
    lost = 0.02 * 40.0 * (1.0 - np.exp(-0.03 / 0.02))
    for after_s in (0.002, 0.02, 0.06):
        near = np.argmin(np.abs(sample_s - 0.13 - after_s))
        expected = 1.0 - lost * np.exp(-after_s / 0.02)
        assert shown[near] == pytest.approx(expected, abs=0.03)
    assert shown[sample_s > 0.4] == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("wrong", [{"wander_s": 0.0}, {"shock_s": -1.0}, {"wander_bar": -1.0}])
def test_a_wander_or_shock_that_cannot_be_is_refused(wrong):
    with pytest.raises(InputError, match=next(iter(wrong))):
        SensorRig(**wrong)
