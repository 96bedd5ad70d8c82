"""What was one cylinder's compression, and what would it be at another speed and atmosphere?

The model is small:

    ln p* = ln p + ln(p0 / pa) + k (1/n - 1/n0)

Squeezed by the same ratio, a charge ends at a pressure proportional to that of the atmosphere it
came from (a polytrope; Heywood, Internal Combustion Engine Fundamentals, ch. 5, from memory). What
leaks and cools away on the way up is proportional to the time it takes, to first order: k/n. That
is our own simplification; k is measured from passes at different speeds where there are some.
All pressures are absolute.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, log

import numpy as np

from strokewise.analysis.compression.compression_curve import CompressionCurve, curves_of
from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.errors import InputError
from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.median import median
from strokewise.analysis.profile import Atmosphere
from strokewise.analysis.trace.passes import Pass

STANDARD_BAR = 1.013

LOSS_RPM = 35.0
LOSS_SIGMA_RPM = 20.0
"""k and its spread where it was not measured: an orifice and convection, integrated over half a
litre at 9:1, give some 10 to 60 rev/min for 0 to 1 mm² of leak (our own integration)."""

SPEED_SPREAD = 1.3
"""Passes tell their own k when the fastest is at least this many times the slowest."""

REACHED_SHARE = 0.95
"""A pass this near the highest has reached it: less than the common pass-to-pass wander."""

PEAK_SCATTER = 0.01
PEAK_SCATTER_WEIGHT = 2
"""A peak wanders by about a hundredth from pass to pass, a prior worth two passes (no source)."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """What makes compressions comparable; None where nobody said."""

    throttle_open: bool | None = None
    plugs_out: bool | None = None
    decompressor_off: bool | None = None
    battery_good: bool | None = None
    warm: bool | None = None


@dataclass(frozen=True, slots=True)
class CylinderCompression:
    """One cylinder's measured compression.

    Attributes
    ----------
    peak : Interval
        Highest pressure of the passes, absolute, bar.
    speed_rpm : float
        Crank speed at those passes.
    passes : int
        Passes that the peak rests on.
    passes_to_peak : int or None
        Passes it took to reach it, :func:`passes_to_reach`.
    loss_rpm : Interval or None
        k of the model, :func:`loss_from_passes`.
    leak_mm2 : Interval or None
        Leaking area where a fit gave one; reported, not used for the correction.
    curves : tuple of CompressionCurve
        Every compression, to be laid over another cylinder's.
    """

    cylinder: int
    peak: Interval
    speed_rpm: float
    atmosphere: Atmosphere
    passes: int
    conditions: Conditions = Conditions()
    passes_to_peak: int | None = None
    loss_rpm: Interval | None = None
    leak_mm2: Interval | None = None
    curves: tuple[CompressionCurve, ...] = field(default=(), compare=False, repr=False)

    def __post_init__(self) -> None:
        if not (self.peak.low > 0 and self.speed_rpm > 0 and self.atmosphere.pressure_bar > 0):
            raise InputError(
                f"cylinder {self.cylinder}: peak, speed and atmosphere must be above 0"
                " (pressures absolute)"
            )


def compression_of(
    passes: Sequence[Pass],
    zero_bar: float,
    atmosphere: Atmosphere,
    cylinder: int,
    *,
    leak_mm2: Interval | None = None,
    tdc_deg: float | None = None,
) -> CylinderCompression | None:
    """Return what passes through compression show; None where no peak is above zero pressure.

    Parameters
    ----------
    passes : sequence of Pass
        Turned the engine's own way.
    zero_bar : float
        What the sensor shows at no pressure.
    tdc_deg : float, optional
        Fitted, in the encoder's frame: about it the compressions are kept as curves.
    """
    peaks = np.array([p.peak_bar for p in passes]) - zero_bar
    speeds = np.array([p.speed_rpm for p in passes])
    if not len(peaks) or peaks.max() <= 0:
        return None
    top = peaks >= REACHED_SHARE * peaks.max()
    return CylinderCompression(
        cylinder=cylinder,
        peak=_peak(peaks[top]),
        speed_rpm=median(speeds[top]),
        atmosphere=atmosphere,
        passes=int(top.sum()),
        passes_to_peak=passes_to_reach(peaks.tolist()),
        # the first pass may have begun half-way up
        loss_rpm=loss_from_passes(peaks[1:].tolist(), speeds[1:].tolist()),
        leak_mm2=leak_mm2,
        curves=() if tdc_deg is None else curves_of(passes, tdc_deg, zero_bar, cylinder),
    )


def _peak(peaks: FloatArray) -> Interval:
    value = median(peaks)
    rest = float(np.sum((peaks / value - 1) ** 2))
    square = (PEAK_SCATTER_WEIGHT * PEAK_SCATTER**2 + rest) / (PEAK_SCATTER_WEIGHT + len(peaks) - 1)
    return Interval.from_sigma(value, value * float(np.sqrt(square / len(peaks))))


def passes_to_reach(peaks_bar: Sequence[float]) -> int:
    """Return how many passes it took to come near the highest peak; 0 for no passes."""
    if not len(peaks_bar):
        return 0
    return int(np.argmax(np.asarray(peaks_bar) >= REACHED_SHARE * max(peaks_bar))) + 1


def loss_from_passes(
    peaks_bar: Sequence[float], speeds_rpm: Sequence[float], *, sigma_share: float = 0.01
) -> Interval | None:
    """Return k from passes at different speeds, by a straight line of ln p over 1/n.

    Parameters
    ----------
    peaks_bar, speeds_rpm : sequence of float, same length
        Absolute peak and crank speed of each pass.
    sigma_share : float
        Least scatter of a peak, as a share.

    Returns
    -------
    Interval or None
        None where there are fewer than three passes or their speeds are too alike to tell.
    """
    peaks, speeds = np.asarray(peaks_bar, np.float64), np.asarray(speeds_rpm, np.float64)
    if len(peaks) < 3 or speeds.max() < SPEED_SPREAD * speeds.min():
        return None
    slowness = 1 / speeds - np.mean(1 / speeds)
    square = float(slowness @ slowness)
    slope = float(slowness @ np.log(peaks)) / square
    rest = np.log(peaks) - np.mean(np.log(peaks)) - slope * slowness
    scatter = max(sigma_share, float(np.sqrt(rest @ rest / (len(peaks) - 2))))
    return Interval.from_sigma(-slope, scatter / square**0.5)


def corrected_log(
    measured: CylinderCompression, speed_rpm: float, atmosphere_bar: float
) -> tuple[float, float]:
    """Return ln of the corrected peak in bar and its standard deviation."""
    loss, loss_sigma = LOSS_RPM, LOSS_SIGMA_RPM
    if measured.loss_rpm is not None:
        loss, loss_sigma = measured.loss_rpm.value, measured.loss_rpm.half_width / Z_95
    slower = 1 / measured.speed_rpm - 1 / speed_rpm
    peak = measured.peak
    value = log(peak.value) + log(atmosphere_bar / measured.atmosphere.pressure_bar) + loss * slower
    own_sigma = (log(peak.high) - log(peak.low)) / (2 * Z_95)
    return value, float(np.hypot(own_sigma, loss_sigma * slower))


def from_log(value: float, sigma: float) -> Interval:
    """Return the interval of a quantity whose logarithm is normal."""
    half = Z_95 * sigma
    return Interval(exp(value), exp(value - half), exp(value + half))
