"""What readings does a cheap sensor at the end of a hose make of the true pressure?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm
from scipy.linalg.blas import dtbsv

from strokewise.daq.bench.rig.encoder_model import even_grid
from strokewise.daq.bench.rig.rig import LONGEST_DELAY_S, SensorRig

FloatArray = NDArray[np.float64]

#: A wandering zero is a sum of so many waves, the longest this many times the shortest.
WANDER_WAVES, WANDER_SPAN = 8, 10.0

SENSOR_STEP_S = 0.00005  # the lag is exact for a straight line between steps: 0.06° at 200 rev/min


class Lag:
    """A transfer function of unit gain, exact for straight lines between even steps.

    Held against ``scipy.signal`` in the tests, which takes half of the bench's start to load.
    """

    def __init__(self, denominator: list[float], step_s: float) -> None:
        self._b, self._a = _ramp_invariant(denominator, step_s)
        self._before: tuple[FloatArray, FloatArray] | None = None

    def __call__(self, values: FloatArray) -> FloatArray:
        """Return the lagged values; before the first it was at rest there."""
        order = len(self._a) - 1
        went_in, came_out = self._before or (np.full(order, values[0]), np.full(order, values[0]))
        went_in = np.concatenate([went_in, values])
        # What came out before goes on by itself; of it all, each comes out of those before it.
        driven = np.concatenate([came_out, np.convolve(went_in, self._b, mode="valid")])
        for back in range(1, order):
            driven[back:order] += self._a[back] * came_out[: order - back]
        band = np.repeat(self._a[:, np.newaxis], len(driven), axis=1)
        out = dtbsv(order, band, driven, lower=1, diag=1)
        self._before = went_in[-order:], out[-order:]
        return np.asarray(out[order:], np.float64)


def _ramp_invariant(denominator: list[float], step_s: float) -> tuple[FloatArray, FloatArray]:
    """Return numerator and denominator of the steps, both by falling powers.

    The state is carried through a step by the matrix exponential, with what drives it going on
    straight (Franklin, Powell & Workman, Digital Control of Dynamic Systems, the triangle hold).
    """
    order, poles = len(denominator) - 1, np.array(denominator) / denominator[0]
    wide = np.zeros((order + 2, order + 2))
    wide[0, :order], wide[1:order, : order - 1] = -poles[1:], np.eye(order - 1)
    wide[0, order] = 1.0
    wide[:order] *= step_s
    wide[order, order + 1] = 1.0
    through = expm(wide)[:order]
    free, held, rising = through[:, :order], through[:, order:-1], through[:, order + 1 :]
    shown = np.zeros((1, order))
    shown[0, -1] = poles[-1]
    drive = held - rising + free @ rising
    den = np.poly(free)
    num = np.poly(free - drive @ shown) + float((shown @ rising)[0, 0] - 1.0) * den
    return np.asarray(num, np.float64), np.asarray(den, np.float64)


class NonReturnValve:
    """A valve at the plug end of the hose: pressure gets in, and out only by a slow leak."""

    def __init__(self, opens_bar: float, leak_s: float, rest_bar: float, step_s: float) -> None:
        self._opens_bar = opens_bar
        self._rest_bar = rest_bar
        self._decay_per_step = step_s / leak_s
        self._behind_bar = 0.0

    def __call__(self, values: FloatArray) -> FloatArray:
        """Return the pressure behind the valve.

        q(k) = max(q(k-1)·d, p(k) - opens): divided by d^k that is a running maximum.
        """
        growth = np.exp(np.arange(1, len(values) + 1) * self._decay_per_step)
        pushed = np.maximum(values - self._rest_bar - self._opens_bar, 0.0)
        behind = np.maximum(np.maximum.accumulate(pushed * growth), self._behind_bar) / growth
        self._behind_bar = float(behind[-1])
        return np.asarray(behind + self._rest_bar)


class Hose:
    """All that lies between the plug hole and the sensing element.

    Parameters
    ----------
    sensor : SensorRig
    atmosphere_bar : float
    step_s : float
        The even step of what goes through.
    """

    def __init__(
        self, sensor: SensorRig, atmosphere_bar: float, *, step_s: float = SENSOR_STEP_S
    ) -> None:
        self._stages: list[Lag | NonReturnValve] = []
        if sensor.non_return_valve:
            self._stages.append(
                NonReturnValve(sensor.valve_opens_bar, sensor.valve_leak_s, atmosphere_bar, step_s)
            )
        if sensor.lag_s > 0:
            self._stages.append(Lag([sensor.lag_s, 1.0], step_s))
        if sensor.hose_hz > 0:
            natural = 2 * np.pi * sensor.hose_hz
            damping = 2 * sensor.hose_damping * natural
            self._stages.append(Lag([1.0, damping, natural**2], step_s))

    def __call__(self, values: FloatArray) -> FloatArray:
        """Return the pressure that arrives, for the next piece of the pressure that was."""
        for stage in self._stages:
            values = stage(values)
        return values


class Wander:
    """A zero that wanders smoothly, for ever: waves of many periods at chance phases."""

    def __init__(self, sensor: SensorRig, rng: np.random.Generator) -> None:
        self._rms_bar = sensor.wander_bar
        if not self._rms_bar:
            return  # draws nothing, so that other sensors keep their noise
        periods_s = sensor.wander_s * WANDER_SPAN ** rng.uniform(0.0, 1.0, WANDER_WAVES)
        self._per_s = 2 * np.pi / periods_s
        self._phases = rng.uniform(0.0, 2 * np.pi, WANDER_WAVES)

    def __call__(self, time_s: FloatArray) -> FloatArray:
        """Return by how much the zero is off, (n,) bar."""
        if not self._rms_bar:
            return np.zeros(len(time_s))
        waves = np.sin(np.outer(time_s, self._per_s) + self._phases).sum(axis=1)
        return np.asarray(self._rms_bar * np.sqrt(2.0 / WANDER_WAVES) * waves)


class SensorModel:
    """A sensor that follows a pressure, stretch by stretch.

    Parameters
    ----------
    sensor : SensorRig
    adc_bits : int
    atmosphere_bar : float
    rng : numpy.random.Generator
        Where noise and the phase of the hum come from.
    """

    def __init__(
        self, sensor: SensorRig, *, adc_bits: int, atmosphere_bar: float, rng: np.random.Generator
    ) -> None:
        self.sensor = sensor
        self._adc_bits = adc_bits
        self._atmosphere_bar = atmosphere_bar
        self._rng = rng
        self._hum_phase = rng.uniform(0.0, 2 * np.pi)
        self._hose = Hose(sensor, atmosphere_bar)
        self._wander = Wander(sensor, rng)
        self._warming: Lag | None = None
        if sensor.shock_share:
            self._warming = Lag([sensor.shock_s, 1.0], SENSOR_STEP_S)
        self._begins_s: float | None = None
        self._time_s: FloatArray = np.empty(0)
        self._arrived_bar: FloatArray = np.empty(0)

    def follow(self, time_s: FloatArray, pressure_bar: FloatArray) -> None:
        """Take in the next stretch of the true absolute pressure, (n,) arrays."""
        fine_s = even_grid(time_s[0], time_s[-1], SENSOR_STEP_S)
        if self._begins_s is None:
            self._begins_s = float(fine_s[0])
        inside = np.interp(fine_s, time_s, pressure_bar)
        arrived = self._hose(inside)
        if self._warming is not None:
            arrived = arrived - self.sensor.shock_share * self._warming(
                inside - self._atmosphere_bar
            )
        keep = int(np.searchsorted(self._time_s, fine_s[0] - LONGEST_DELAY_S))
        self._time_s = np.concatenate([self._time_s[keep:], fine_s])
        self._arrived_bar = np.concatenate([self._arrived_bar[keep:], arrived])

    def read(self, sample_s: FloatArray) -> NDArray[np.uint16]:
        """Return the reading for each count latched at ``sample_s``, true time, in order."""
        full = 2**self._adc_bits
        return np.asarray(np.clip(np.floor(self.share(sample_s) * full), 0, full - 1), np.uint16)

    def share(self, sample_s: FloatArray) -> FloatArray:
        """Return the sensor's output at such times, as a share of the converter's range."""
        sensor = self.sensor
        converted_s = sample_s + sensor.delay_s
        shown = np.interp(converted_s, self._time_s, self._arrived_bar)
        if sensor.reference == "gauge":
            shown = shown - self._atmosphere_bar
        shown = shown * (1.0 + sensor.gain_error) + sensor.offset_bar
        shown += sensor.drift_bar_per_s * (sample_s - (self._begins_s or 0.0))
        shown += self._wander(sample_s)
        shown = np.clip(shown, sensor.low_bar, sensor.high_bar)
        shown += self._rng.normal(0.0, 1.0, len(shown)) * sensor.noise_bar
        hum = np.sin(2 * np.pi * sensor.hum_hz * converted_s + self._hum_phase)
        shown += sensor.hum_bar * hum
        share_per_bar = (sensor.high_share - sensor.low_share) / (sensor.high_bar - sensor.low_bar)
        return np.asarray(sensor.low_share + (shown - sensor.low_bar) * share_per_bar)


def calibration_points(sensor: SensorRig, adc_bits: int) -> tuple[tuple[float, float], ...]:
    """Return the two (reading, pressure) pairs that the sensor's data sheet promises.

    The pressure is in the sensor's own reference. Gain error, wrong zero and drift are not in
    them: nobody knows those.
    """
    full = 2**adc_bits  # a reading stands for the middle of its step: half a step lower
    low, high = (round(share * full - 0.5, 1) for share in (sensor.low_share, sensor.high_share))
    return (low, sensor.low_bar), (high, sensor.high_bar)
