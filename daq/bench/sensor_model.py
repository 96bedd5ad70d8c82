"""What readings does a cheap sensor at the end of a hose make of the true pressure?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from strokewise.daq.bench.rig import SensorRig

FloatArray = NDArray[np.float64]

FINE_STEP_S = 0.00005  # the lag is exact for a straight line between steps: 0.06° at 200 rev/min


def read_sensor(
    time_s: FloatArray,
    pressure_bar: FloatArray,
    sensor: SensorRig,
    *,
    sample_s: FloatArray,
    adc_bits: int,
    atmosphere_bar: float,
    rng: np.random.Generator,
) -> NDArray[np.uint16]:
    """Return the converter's readings of one sensor.

    Parameters
    ----------
    time_s, pressure_bar : (n,) arrays
        True absolute pressure where the sensor is screwed in.
    sample_s : (m,) array
        When each sample's count was latched, in true time.

    Returns
    -------
    (m,) uint16 array
    """
    fine_s = np.arange(time_s[0], time_s[-1] + FINE_STEP_S, FINE_STEP_S)
    arrived = through_hose(np.interp(fine_s, time_s, pressure_bar), sensor, atmosphere_bar)
    converted_s = sample_s + sensor.delay_s
    shown = np.interp(converted_s, fine_s, arrived)
    if sensor.reference == "gauge":
        shown = shown - atmosphere_bar
    shown = shown * (1.0 + sensor.gain_error) + sensor.offset_bar
    shown += sensor.drift_bar_per_s * (sample_s - time_s[0])
    shown = np.clip(shown, sensor.low_bar, sensor.high_bar)
    shown += rng.normal(0.0, 1.0, len(shown)) * sensor.noise_bar
    hum_phase = rng.uniform(0.0, 2 * np.pi)
    shown += sensor.hum_bar * np.sin(2 * np.pi * sensor.hum_hz * converted_s + hum_phase)
    share = sensor.low_share + (shown - sensor.low_bar) * _share_per_bar(sensor)
    full = 2**adc_bits
    return np.clip(np.floor(share * full), 0, full - 1).astype(np.uint16)


def calibration_points(sensor: SensorRig, adc_bits: int) -> tuple[tuple[float, float], ...]:
    """Return the two (reading, pressure) pairs that the sensor's data sheet promises.

    The pressure is in the sensor's own reference. Gain error, wrong zero and drift are not in
    them: nobody knows those.
    """
    full = 2**adc_bits  # a reading stands for the middle of its step: half a step lower
    low, high = (round(share * full - 0.5, 1) for share in (sensor.low_share, sensor.high_share))
    return (low, sensor.low_bar), (high, sensor.high_bar)


def _share_per_bar(sensor: SensorRig) -> float:
    return (sensor.high_share - sensor.low_share) / (sensor.high_bar - sensor.low_bar)


def through_hose(
    pressure_bar: FloatArray,
    sensor: SensorRig,
    atmosphere_bar: float,
    *,
    step_s: float = FINE_STEP_S,
) -> FloatArray:
    """Return the pressure that reaches the sensing element, on the same even grid."""
    out = pressure_bar
    if sensor.non_return_valve:
        out = _past_valve(out, sensor, atmosphere_bar, step_s)
    if sensor.lag_s > 0:
        out = _filtered(out, [1.0], [sensor.lag_s, 1.0], step_s)
    if sensor.hose_hz > 0:
        natural = 2 * np.pi * sensor.hose_hz
        out = _filtered(
            out, [natural**2], [1.0, 2 * sensor.hose_damping * natural, natural**2], step_s
        )
    return out


def _past_valve(
    pressure_bar: FloatArray, sensor: SensorRig, atmosphere_bar: float, step_s: float
) -> FloatArray:
    """Let the pressure in, and out only by a slow leak to the atmosphere.

    Behind the valve q(k) = max(q(k-1)·d, p(k) - opens); divided by d^k that is a running maximum.
    """
    decay = np.exp(np.arange(len(pressure_bar)) * (step_s / sensor.valve_leak_s))
    pushed = np.maximum(pressure_bar - atmosphere_bar - sensor.valve_opens_bar, 0.0)
    return np.asarray(np.maximum.accumulate(pushed * decay) / decay + atmosphere_bar)


def _filtered(
    values: FloatArray, numerator: list[float], denominator: list[float], step_s: float
) -> FloatArray:
    """Apply a transfer function of unit gain, exact for straight lines between the steps."""
    b, a, _ = signal.cont2discrete((numerator, denominator), step_s, method="foh")
    start = values[0]  # at rest before the run
    return np.asarray(signal.lfilter(np.ravel(b), a, values - start) + start)
