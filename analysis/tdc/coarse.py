"""Roughly where is TDC, and which passes belong together? The start that the fit needs.

The pressure peak stands before TDC in the direction of turning, by a degree or two at starter
speed and by tens of degrees under a spanner. So a few lags are tried on the most telling passes
and the best fit wins.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.crank.angle import short_way
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.fit import FAR, FINAL, Fit, Stage, fit_passes
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import (
    Hump,
    Pass,
    PassRun,
    passes_about,
    peaks_by_side,
    runs_of,
)
from strokewise.analysis.trade import DEG_S_PER_RPM

BELONGS_SHARE = 0.3
"""A hump of so much of the median is a compression at the same TDC."""

STRONG_SHARE = 0.2
"""A hump of so much of the largest is a compression of the same cylinder, just slower or
leakier."""

LAGS_FAST_DEG = (2.0,)
LAGS_SLOW_DEG = (4.0, 16.0, 36.0)
"""Peak before TDC to start from, above and below ``SLOW_RPM``."""

SLOW_PEAK_RPM = 70.0

COARSE_PASSES = 4
FINE_PASSES = 10
"""Enough that each more would narrow the interval by under 5 %, few enough for a quick answer."""

PASS_WAY_DEG = 50.0
"""A pass covers at least so much, and reaches TDC, or it says little about where TDC is."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How far the closed part of the cycle reaches about TDC, engine's own direction, degrees."""

    before_deg: float
    after_deg: float


UNKNOWN_REACH = Reach(105.0, 105.0)
"""Shut before and after this in any usual four-stroke (common practice, no source)."""

TWO_STROKE_REACH = Reach(75.0, 75.0)
"""A two-stroke's exhaust port opens from about 80° after TDC on (common practice, no source)."""

LIFT_MARGIN_DEG = 12.0
"""A valve that the figures call shut at some lift still leaks for so long."""

TIMING_MARGIN_DEG = 6.0
"""Clearance and a worn chain shift events by some degrees."""

MOST_REACH_DEG = 105.0
"""Further out the volume hardly changes and has little to say about TDC, and on a rebuild the cam
may stand teeth away from the timing that the manual states."""


def reach_of(profile: Profile) -> Reach:
    """Return the closed part from the valve timing, or one that suits any engine."""
    if profile.cycle == "two-stroke":
        return TWO_STROKE_REACH
    timing = profile.valve_timing
    if timing is None:
        return UNKNOWN_REACH
    margin = LIFT_MARGIN_DEG if timing.at_lift_mm > 0 else TIMING_MARGIN_DEG
    before = 180.0 - timing.intake_closes_abdc_deg - margin
    after = 180.0 - timing.exhaust_opens_bbdc_deg - margin
    return Reach(
        float(np.clip(before, 60.0, MOST_REACH_DEG)), float(np.clip(after, 60.0, MOST_REACH_DEG))
    )


def strong(humps: tuple[Hump, ...]) -> tuple[Hump, ...]:
    """Return the humps that are compressions of the sensed cylinder, by size."""
    if not humps:
        return ()
    largest = max(h.rise_bar for h in humps)
    return tuple(h for h in humps if h.rise_bar >= STRONG_SHARE * largest)


def guesses_deg(humps: tuple[Hump, ...], slow: bool) -> tuple[float, ...]:
    """Return TDCs in [0, 360) to start from, the likeliest first; none without a hump.

    With humps met from both sides their middle needs no lag at all.
    """
    if not humps:
        return ()
    usable = [h for h in humps if h.moving] or list(humps)
    sides = peaks_by_side(usable)
    if len(sides) == 2:
        apart = short_way(sides[-1] - sides[1], 360.0)
        return (float((sides[1] + 0.5 * apart) % 360.0),)
    ((way, peak),) = sides.items()
    lags = LAGS_SLOW_DEG if slow else LAGS_FAST_DEG
    return tuple((peak + way * lag) % 360.0 for lag in lags)


def usable_passes(
    nodes: Nodes, runs: tuple[PassRun, ...], humps: tuple[Hump, ...], tdc_deg: float, reach: Reach
) -> tuple[Pass, ...]:
    """Return the passes that hold a strong hump or belong to the same TDC, whole enough to fit."""
    marked = {round((h.angle_deg - tdc_deg) / 360.0) for h in humps}
    least = BELONGS_SHARE * median([h.rise_bar for h in humps]) if humps else 0.0
    found = []
    for item in passes_about(
        nodes, runs, tdc_deg, before_deg=reach.before_deg, after_deg=reach.after_deg
    ):
        where = item.angle_deg - item.tdc_deg
        whole = np.ptp(where) >= PASS_WAY_DEG and where.min() < -8.0 and where.max() > 8.0
        if item.turn in marked and whole and np.ptp(item.pressure_bar) >= least:
            found.append(item)
    return tuple(found)


def best_passes(passes: tuple[Pass, ...], most: int) -> tuple[Pass, ...]:
    """Return the last passes, of both directions where there are both."""
    forward = [p for p in passes if p.forward]
    backward = [p for p in passes if not p.forward]
    if not forward or not backward:
        return passes[-most:]
    share = most // 2
    few, many = sorted((forward, backward), key=len)
    taken = few[-share:]
    kept = {id(p) for p in taken + many[-(most - len(taken)) :]}
    return tuple(p for p in passes if id(p) in kept)


@dataclass(frozen=True, slots=True)
class SensorTrace:
    """What one sensor showed of its cylinder's compressions, and what is known of it.

    Attributes
    ----------
    humps : tuple of Hump
        Its compressions, in time order.
    zero_sigma_bar : float
        How far the sensor's zero may be off.
    burned : bool
        Charges burned between them, so that the engine ran by itself.
    """

    nodes: Nodes
    runs: tuple[PassRun, ...]
    humps: tuple[Hump, ...]
    profile: Profile
    sensor: Sensor
    zero_sigma_bar: float
    burned: bool = False

    def part(self, start: int, stop: int) -> SensorTrace:
        """Return what it showed from one node to another."""
        if (start, stop) == (0, len(self.nodes)):
            return self
        nodes = self.nodes.part(start, stop)
        humps = tuple(replace(h, at=h.at - start) for h in self.humps if start <= h.at < stop)
        return replace(self, nodes=nodes, runs=runs_of(nodes), humps=humps)

    def passes(self, tdc_deg: float, reach: Reach) -> tuple[Pass, ...]:
        """Return the passes about a TDC that can be fitted."""
        return usable_passes(self.nodes, self.runs, self.humps, tdc_deg, reach)

    def fit(self, passes: tuple[Pass, ...], start: Fit | None = None, stage: Stage = FINAL) -> Fit:
        """Return the fit of some of its passes, from an earlier one or from nothing."""
        return fit_passes(
            passes,
            self.profile,
            self.sensor,
            zero_sigma_bar=self.zero_sigma_bar,
            start=start,
            stage=stage,
        )


def coarse_fit(shown: SensorTrace, reach: Reach) -> Fit | None:
    """Return the best of the short fits from every guess, or None where no pass can be fitted."""
    humps = shown.humps
    speeds = [abs(float(shown.nodes.speed_deg_s[h.at])) / DEG_S_PER_RPM for h in humps]
    slow = median(speeds) < SLOW_PEAK_RPM if speeds else False
    best: Fit | None = None
    for guess in guesses_deg(humps, slow):
        passes = best_passes(shown.passes(guess, reach), COARSE_PASSES)
        if not passes:
            continue
        fit = shown.fit(passes, stage=FAR)
        if best is None or fit.cost < best.cost:
            best = fit
    return best
