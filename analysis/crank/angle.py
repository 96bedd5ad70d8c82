"""Where does the crank stand? From encoder counts to a smooth crank angle and its speed.

A count is a cell: count n says that the shaft stands between the lines n and n + 1. What is sharp
is the moment at which a line is crossed, so the angle is drawn through the crossings and then
smoothed by local quadratics whose span follows the speed. A reversal meets the same line twice and
a standstill meets none; both fall out of the crossings without a special case.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strokewise.analysis.median import median
from strokewise.analysis.profile import Encoder
from strokewise.analysis.samples import IntArray

FloatArray = NDArray[np.float64]

DEFAULT_COUNTS_PER_REV = 2400
"""Used when neither profile nor board says: a common cheap encoder of 600 lines, all four edges."""

SPAN_CELLS = 10.0
"""A local quadratic spans about this many cells, enough to average the width of a cell away."""

SPAN_MAX_DEG = 16.0
"""Nor more than this much crank angle: cranking speed dips within some 60° of TDC and must show."""

SPAN_LEAST_S, SPAN_LEAST_DEG = 0.008, 12.0
"""Nor less than the shorter of these: fast turning crosses many cells in a sample, and averaging
over some samples is what takes their width and the jitter of the board's clock away."""

FILLED_GAP_S = 0.1
"""A shorter gap of lost samples is bridged by a straight line; what lies beyond a longer one is
apart."""

LADDER_MAX = 257
"""Longest span in samples; slower turning than this resolves needs no smoothing, its lines are
sharp."""


@dataclass(frozen=True, slots=True)
class Motion:
    """Crank angle over time, in the encoder frame.

    Attributes
    ----------
    angle_deg : (n,) float64
        Unwrapped crank angle, rising in the engine's own direction of turning.
    speed_deg_s : (n,) float64
        Its rate; negative while the crank is turned back.
    cell_deg : float
        Width of one count in crank degrees: what the encoder cannot tell apart.
    """

    angle_deg: FloatArray
    speed_deg_s: FloatArray
    cell_deg: float


def deg_per_count(encoder: Encoder) -> float:
    """Return signed crank degrees for each count, by the encoder's description."""
    counts = encoder.counts_per_rev or DEFAULT_COUNTS_PER_REV
    return 360.0 * encoder.direction / (counts * encoder.drive_ratio)


def angle_of_count(count: IntArray | float, encoder: Encoder) -> FloatArray:
    """Return the best single crank angle of a count, the middle of its cell, in degrees."""
    return np.asarray((np.asarray(count) + 0.5) * deg_per_count(encoder), dtype=np.float64)


def short_way(angles_deg: ArrayLike, period_deg: float) -> FloatArray:
    """Return angles wrapped into [-period/2, period/2); ``strokes.nearest`` wraps a single one."""
    return (np.asarray(angles_deg, np.float64) + period_deg / 2) % period_deg - period_deg / 2


def way_turned(angle_deg: FloatArray) -> FloatArray:
    """Return the way to each of unwrapped angles from the first, to and fro alike."""
    return np.concatenate([[0.0], np.cumsum(np.abs(np.diff(angle_deg)))])


def motion_of(time_us: IntArray, count: IntArray, encoder: Encoder) -> Motion:
    """Return the smooth crank angle and speed of a run of samples.

    Parameters
    ----------
    time_us, count : (n,) int64
        Rising board time and unwrapped counts, as in :class:`Samples`.

    Returns
    -------
    Motion
        Arrays of the same length n; empty for no samples.
    """
    step_deg = deg_per_count(encoder)
    if len(count) == 0:
        return Motion(np.empty(0), np.empty(0), abs(step_deg))
    time_s: FloatArray = np.asarray(time_us * 1e-6, np.float64)
    raw_deg = _through_crossings(time_s, count.astype(np.float64)) * step_deg
    breaks = (np.flatnonzero(np.diff(time_s) > FILLED_GAP_S) + 1).tolist()
    smooth = [
        _smooth_run(time_s[start:stop], raw_deg[start:stop], abs(step_deg))
        for start, stop in pairwise([0, *breaks, len(count)])
    ]
    angle, speed = (np.concatenate(parts) for parts in zip(*smooth, strict=True))
    return Motion(angle, speed, abs(step_deg))


def _smooth_run(
    time_s: FloatArray, raw_deg: FloatArray, cell_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Smooth samples between two long gaps; lost samples in short gaps are bridged on the way."""
    if len(time_s) < 5:
        speed = np.gradient(raw_deg, time_s) if len(time_s) > 1 else np.zeros(len(time_s))
        return raw_deg, speed
    period_s = median(np.diff(time_s))
    place = np.rint((time_s - time_s[0]) / period_s).astype(np.int64)
    if (place[1:] - place[:-1] == 1).all():
        return _smooth(raw_deg, period_s, cell_deg)
    place = np.maximum.accumulate(place)
    grid_s = time_s[0] + period_s * np.arange(place[-1] + 1)
    angle, speed = _smooth(np.interp(grid_s, time_s, raw_deg), period_s, cell_deg)
    return np.interp(time_s, grid_s, angle), np.interp(time_s, grid_s, speed)


def _through_crossings(time_s: FloatArray, count: FloatArray) -> FloatArray:
    """Interpolate counts between the lines crossed; several lines in one step meet in their
    middle."""
    after = np.flatnonzero(count[1:] != count[:-1]) + 1
    if len(after) == 0:
        return count + 0.5
    before = after - 1
    cross_s = 0.5 * (time_s[after] + time_s[before])
    line = 0.5 * (count[after] + count[before] + 1.0)
    # Before the first and after the last crossing the middle of the cell is all that is known.
    ends_s = (min(time_s[0], cross_s[0] - 1e-9), max(time_s[-1], cross_s[-1] + 1e-9))
    first = _end_of_run(count[0] + 0.5, line[0])
    last = _end_of_run(count[-1] + 0.5, line[-1])
    counts = np.interp(
        time_s,
        np.concatenate([[ends_s[0]], cross_s, [ends_s[1]]]),
        np.concatenate([[first], line, [last]]),
    )
    return np.asarray(counts, np.float64)


@cache
def _quadratic(span: int, derivative: int) -> FloatArray:
    """Return the weights of a local quadratic's value or slope, for a sample apart of 1.

    Least squares over the span (Savitzky & Golay 1964, Analytical Chemistry 36), in the order of
    a convolution. scipy's ``savgol_coeffs`` gives the same, and takes all of ``scipy.signal`` to
    load before the first picture.
    """
    apart = np.arange(span // 2, -span // 2, -1.0)
    return np.asarray(np.linalg.pinv(np.vander(apart, 3, increasing=True))[derivative])


def _end_of_run(middle: float, line: float) -> float:
    return middle if abs(middle - line) <= 1.0 else line


def _slope(values: FloatArray, step: float) -> FloatArray:
    """Return what ``numpy.gradient`` does of evenly spaced values, in a tenth of the time."""
    slope = np.empty_like(values)
    slope[1:-1] = (values[2:] - values[:-2]) / (2.0 * step)
    slope[0], slope[-1] = (values[1] - values[0]) / step, (values[-1] - values[-2]) / step
    return slope


def _running_mean(values: FloatArray, to_each_side: int) -> FloatArray:
    """Return the mean about each sample, the ends mirrored.

    scipy's ``uniform_filter1d`` gives the same; all of ``scipy.ndimage`` takes a fifth of a second
    to load.
    """
    span = 2 * to_each_side + 1
    before, after = values[:to_each_side][::-1], values[len(values) - to_each_side :][::-1]
    mirrored = np.concatenate([before, values, after])
    return np.convolve(mirrored, np.full(span, 1.0 / span), mode="valid")


def _smooth(raw_deg: FloatArray, period_s: float, cell_deg: float) -> tuple[FloatArray, FloatArray]:
    """Blend local quadratics of several spans, each sample taking the span that its speed asks
    for."""
    n = len(raw_deg)
    coarse = max(3, round(0.5 * SPAN_LEAST_S / period_s))
    rough_speed = np.abs(_running_mean(_slope(raw_deg, period_s), min(2 * coarse, (n - 1) // 2)))
    span_deg = min(SPAN_CELLS * cell_deg, SPAN_MAX_DEG)
    rough_speed = np.maximum(rough_speed, 1e-6)
    least_s = np.minimum(SPAN_LEAST_S, SPAN_LEAST_DEG / rough_speed)
    wanted = np.maximum(span_deg / rough_speed, least_s) / period_s
    longest = min(LADDER_MAX, n if n % 2 else n - 1)
    spans = [5]
    while spans[-1] * 2 - 1 <= longest:
        spans.append(spans[-1] * 2 - 1)
    # Position on the ladder of spans, in octaves; the two neighbours are blended.
    place = np.minimum(np.log2(np.maximum(wanted, 5.0) / 5.0), len(spans) - 1.0)
    angle = np.zeros(n)
    speed = np.zeros(n)
    for k in range(int(place.min()), math.ceil(place.max()) + 1):
        span, weight = spans[k], np.maximum(0.0, 1.0 - np.abs(place - k))
        if not weight.any():
            continue
        # The line through a short span's end would swing freely: extend by reflection about the
        # end.
        padded = np.concatenate(
            [
                2 * raw_deg[0] - raw_deg[span // 2 : 0 : -1],
                raw_deg,
                2 * raw_deg[-1] - raw_deg[-2 : -span // 2 - 1 : -1],
            ]
        )
        level = _quadratic(span, 0)
        slope = _quadratic(span, 1) / period_s
        angle += weight * np.convolve(padded, level, mode="valid")
        speed += weight * np.convolve(padded, slope, mode="valid")
    return angle, speed
