"""What else does the joint fit tell of the engine? Ratio, leak, loss angle, peak at starter speed.

All of it comes with the fit. What the trace does not tell beyond what was assumed is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi

import numpy as np

from strokewise.analysis.compression.cylinder_compression import (
    STANDARD_BAR,
    compression_of,
    corrected_log,
    from_log,
)
from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.closed_cycle import Gas, crank_after_tdc_deg, gas_pressures
from strokewise.analysis.tdc.fit import Fit
from strokewise.analysis.tdc.priors import priors_for, surroundings_of
from strokewise.analysis.trace.passes import Pass

CLEARANCE = "log_clearance"

STARTER_RPM = 200.0
"""Speed to which a peak is brought: a starter with a good battery (common practice, no source)."""

TOLD_SHARE = 0.7
"""A parameter whose spread the trace has not lessened to this share was assumed, not measured."""

LEAK_KNOWN_SIGMA = 0.7
"""A leak is stated when its logarithm is known better than this: within a factor of four."""

PEAK_KNOWN_SIGMA = 0.12
"""A peak brought to starter speed is stated when known better than this: ± a quarter."""

RATIO_MISMATCH, LEAK_MISMATCH = 0.06, 0.30
"""Sigmas of ln(ratio - 1) and of ln(leak) that come from what no model of a cylinder has right:
measured on bench engines with other losses than the model's."""

TOP_NODES = 2
"""So many nodes on each side of the highest give the parabola whose top is the peak."""


@dataclass(frozen=True, slots=True)
class Diagnostics:
    """What a fit tells beside TDC; None where it does not.

    Attributes
    ----------
    compression_ratio : Interval or None
        Geometric, with the volume of the sensor's adaptor and hose in it.
    leak_hole_mm : Interval or None
        Diameter of the ideal hole (flow coefficient 1) that leaks as much; needs bore and stroke.
    loss_angle_deg : Interval or None
        How far before TDC, in the direction of turning, the gas's own pressure is highest.
    peak_bar : Interval or None
        Absolute peak brought to ``STARTER_RPM`` and standard air.
    """

    compression_ratio: Interval | None
    leak_hole_mm: Interval | None
    loss_angle_deg: Interval | None
    peak_bar: Interval | None


def diagnostics(
    fit: Fit, passes: tuple[Pass, ...], profile: Profile, sensor: Sensor
) -> Diagnostics:
    """Return what a fit and all compressions of its segment tell beside TDC.

    Parameters
    ----------
    passes : tuple of Pass
        All compressions, also those that the fit did not use.
    """
    return Diagnostics(
        compression_ratio=_ratio(fit, profile, sensor),
        leak_hole_mm=_hole_mm(leak_mm2(fit, profile)),
        loss_angle_deg=_loss_angle_deg(fit, profile),
        peak_bar=_peak_bar(fit, passes, profile, sensor),
    )


def leak_mm2(fit: Fit, profile: Profile) -> Interval | None:
    """Return the leak's effective area; None without bore and stroke, or where it is not told."""
    sigma = fit.sigmas.get("log_leak")
    if sigma is None or not (profile.bore_mm and profile.stroke_mm):
        return None
    sigma = float(np.hypot(sigma, LEAK_MISMATCH))
    if sigma > LEAK_KNOWN_SIGMA:
        return None
    displaced_m3 = pi / 4 * profile.bore_mm**2 * profile.stroke_mm * 1e-9
    middle = median(fit.values["log_leak"]) + log(displaced_m3 * 1e6)
    return from_log(middle, sigma)


def _hole_mm(area_mm2: Interval | None) -> Interval | None:
    if area_mm2 is None:
        return None
    ends = (area_mm2.value, area_mm2.low, area_mm2.high)
    return Interval(*(2.0 * (area / pi) ** 0.5 for area in ends))


def _ratio(fit: Fit, profile: Profile, sensor: Sensor) -> Interval | None:
    prior = next(p for p in priors_for(profile, sensor, zero_sigma_bar=1.0) if p.name == CLEARANCE)
    sigma = fit.sigmas[CLEARANCE]
    if sigma > TOLD_SHARE * prior.sigma:
        return None
    middle = median(fit.values[CLEARANCE])
    return from_log(middle, float(np.hypot(sigma, RATIO_MISMATCH))).shifted(1.0)


def _loss_angle_deg(fit: Fit, profile: Profile) -> Interval | None:
    gas = Gas(**{name: values[None] for name, values in fit.values.items()})
    true_bar = gas_pressures(fit.runs, gas, surroundings_of(profile))[0]
    angle = crank_after_tdc_deg(fit.runs, gas)[0]
    tops = [_top_deg(a, p) for a, p in zip(angle, true_bar, strict=True)]
    early = [-top * way for top, way in tops if top is not None]
    if not early:
        return None
    scatter = float(np.std(early)) / len(early) ** 0.5
    return Interval.from_sigma(median(early), float(np.hypot(fit.sigma_deg, scatter)))


def _top_deg(angle_deg: FloatArray, pressure_bar: FloatArray) -> tuple[float | None, float]:
    """Return where the pressure is highest, by a parabola through its top, and the way turned."""
    way = 1.0 if angle_deg[-1] >= angle_deg[0] else -1.0
    at = int(np.argmax(pressure_bar))
    near = slice(at - TOP_NODES, at + TOP_NODES + 1)
    x = angle_deg[near] - angle_deg[at]
    if at < TOP_NODES or len(np.unique(x)) <= 2 * TOP_NODES:
        return None, way
    bend, slope, _ = np.polyfit(x, np.log(pressure_bar[near]), 2)
    if bend >= 0.0:
        return None, way
    return float(angle_deg[at] - 0.5 * slope / bend), way


def _peak_bar(
    fit: Fit, passes: tuple[Pass, ...], profile: Profile, sensor: Sensor
) -> Interval | None:
    if not sensor.points or any(p.nodes.clipped.any() for p in passes):
        return None
    measured = compression_of(
        tuple(p for p in passes if p.forward),
        fit.zero_bar,
        profile.atmosphere,
        sensor.cylinder or 1,
    )
    if measured is None:
        return None
    value, sigma = corrected_log(measured, STARTER_RPM, STANDARD_BAR)
    return from_log(value, sigma) if sigma < PEAK_KNOWN_SIGMA else None
