"""What did the cylinder do at which crank angle?

The one place where integers become degrees and bar.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from strokewise.analysis.crank.angle import FloatArray, motion_of
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import BoolArray, IntArray, Segment

DEFAULT_ADC_BITS = 12
"""Bits of the converter when the board's hello does not say."""


@dataclass(frozen=True, slots=True)
class Trace:
    """One sensor's pressure over the crank angle, for one segment.

    Attributes
    ----------
    time_s : (n,) float64
        Board time from the segment's own start of counting.
    angle_deg : (n,) float64
        Unwrapped crank angle in the encoder frame, rising in the engine's direction.
    speed_deg_s : (n,) float64
    pressure_bar : (n,) float64
        Absolute as far as the sensor's description goes; see ``calibrated``.
    clipped : (n,) bool
        The reading stood at an end of the converter.
    after_gap : (n,) bool
        Frames were lost in front of this sample.
    cell_deg : float
        Crank degrees of one count.
    step_bar : float
        Pressure of one step of the converter.
    calibrated : bool
        False when the sensor has no known points: "bar" is then only proportional.

    Examples
    --------
    >>> from strokewise.analysis import trace_of
    >>> from strokewise.daq import read_with_profile
    >>> bench = read_with_profile("recordings/cranked.swr")
    >>> trace = trace_of(bench.recording.segments[0], bench.profile)
    >>> len(trace), trace.cell_deg, trace.calibrated  # samples, crank degrees
    (4001, 0.15, True)
    """

    time_s: FloatArray
    angle_deg: FloatArray
    speed_deg_s: FloatArray
    pressure_bar: FloatArray
    clipped: BoolArray
    after_gap: BoolArray
    sensor: Sensor
    cell_deg: float
    step_bar: float
    calibrated: bool

    def __len__(self) -> int:
        return len(self.time_s)


def trace_of(segment: Segment, profile: Profile, sensor: Sensor | None = None) -> Trace:
    """Return the trace of one sensor of a segment.

    Parameters
    ----------
    sensor : Sensor, optional
        Which one; the profile's first when left out, channel 0 when it names none.

    Raises
    ------
    ValueError
        The samples have no such channel.

    Examples
    --------
    >>> from strokewise.analysis import trace_of
    >>> from strokewise.daq import read_with_profile
    >>> bench = read_with_profile("recordings/cranked.swr")
    >>> trace = trace_of(bench.recording.segments[0], bench.profile)
    >>> trace.angle_deg.shape, round(float(trace.pressure_bar.max()), 1)  # bar, absolute
    ((4001,), 14.6)
    """
    sensor = sensor or (profile.sensors[0] if profile.sensors else Sensor())
    samples = segment.samples
    if sensor.channel >= samples.readings.shape[1]:
        raise ValueError(
            f"sensor channel {sensor.channel}: the samples have {samples.readings.shape[1]}"
            f" channel(s)"
        )
    reading = samples.readings[:, sensor.channel]
    bits = (segment.board.adc_bits if segment.board else None) or DEFAULT_ADC_BITS
    pressure, step_bar = pressure_of(reading.astype(np.float64), sensor, profile, bits)
    motion = motion_of(samples.time_us, samples.count, profile.encoder)
    return Trace(
        time_s=np.asarray(samples.time_us * 1e-6, np.float64),
        angle_deg=motion.angle_deg,
        speed_deg_s=motion.speed_deg_s,
        pressure_bar=pressure,
        clipped=(reading == 0) | (reading >= (1 << bits) - 1),
        after_gap=samples.after_gap,
        sensor=sensor,
        cell_deg=motion.cell_deg,
        step_bar=step_bar,
        calibrated=bool(sensor.points),
    )


UNCALIBRATED_SPAN_BAR = 20.0
"""What the converter's whole range is taken for without known points: a usual sensor's range."""


def end_bar_of(sensor: Sensor, profile: Profile) -> float | None:
    """Return the highest absolute pressure that a sensor's points know; None without any."""
    if not sensor.points:
        return None
    highest = max(pressure for _, pressure in sensor.points)
    gauge = sensor.reference == "gauge"
    return highest + (profile.atmosphere.pressure_bar if gauge else 0.0)


def pressure_of(
    reading: FloatArray, sensor: Sensor, profile: Profile, adc_bits: int
) -> tuple[FloatArray, float]:
    """Return absolute pressure in bar and the size of one reading step.

    Straight lines between the sensor's known points, continued beyond the outer ones. A gauge
    sensor has the profile's atmosphere added.
    """
    if not sensor.points:
        step = UNCALIBRATED_SPAN_BAR / (1 << adc_bits)
        return reading * step, step
    known, slopes, step = _lines_through(sensor.points)
    # Most sensors have two points: a live answer need not look for the piece of each reading.
    piece: int | IntArray = 0
    if len(slopes) > 1:
        piece = np.clip(np.searchsorted(known[:, 0], reading) - 1, 0, len(slopes) - 1)
    pressure = known[piece, 1] + (reading - known[piece, 0]) * slopes[piece]
    if sensor.reference == "gauge":
        pressure = pressure + profile.atmosphere.pressure_bar
    return pressure, step


@lru_cache(maxsize=64)
def _lines_through(
    points: tuple[tuple[float, float], ...],
) -> tuple[FloatArray, FloatArray, float]:
    """Return points in order of their readings, (k, 2), slopes between them, (k - 1,), and the
    steepest."""
    known = np.array(sorted(points), dtype=np.float64)
    slopes = np.diff(known[:, 1]) / np.diff(known[:, 0])
    return known, slopes, float(np.abs(slopes).max())
