"""Where would a published method put TDC that knows the volume? Straight lines, shaped heat.

Both want geometry; where the profile does not say, middling figures stand in, and the methods are
little the worse for it. As with the other baselines sensor lag is not taken out.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.kinematics import crank_of, stroke_ratio, travel
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile
from strokewise.analysis.tdc.baselines import PEAK_NODES, Swing, over_passes, peak_after_deg
from strokewise.analysis.tdc.lowest import lowest_between
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.trade import USUAL_RATIO, USUAL_ROD_RATIO

SEARCH_DEG = (-4.0, 14.0)
"""Where TDC is looked for, after the peak in the direction of turning: lag puts it a little before,
losses at any speed that these methods are meant for not so far after."""

SEARCH_STEP_DEG = 1.0

LINES_DEG = (20.0, 70.0)
"""Both lines are laid between these angles from TDC: nearer in a node's width bends them, farther
out valves may be open."""

TRIED_RATIOS = np.geomspace(4.0, 30.0, 12) - 1.0
"""Compression ratios less one that are tried for the straighter lines."""

SHAPE_DEG = 20.0
"""Heat-loss power is taken as constant within this of TDC."""


def polytropic(passes: tuple[Pass, ...], profile: Profile) -> Interval | None:
    """Return the TDC that makes compression and expansion straightest in log p over log V.

    A polytrope is a straight line there; with TDC misplaced the two branches bend to opposite
    sides near the top. The compression ratio is tried along with it, since an adaptor changes it.
    The log-log diagram as a check on phasing: D. Lancaster, R. Krieger and J. Lienesch,
    "Measurement and Analysis of Engine Pressure Data", SAE 750026 (from memory).

    Returns
    -------
    Interval or None
        In the encoder frame beside the passes' nominal TDC; None where no pass tells.
    """

    def after_deg(swing: Swing) -> float | None:
        cylinder = _Cylinder(profile, swing.way)

        def bend(tdc: float) -> float:
            return _bend(swing, tdc, cylinder.down(swing.after_deg - tdc))

        return _least(bend, swing, near_deg=LINES_DEG[1])

    return over_passes(passes, after_deg)


def heat_shape(passes: tuple[Pass, ...], profile: Profile) -> Interval | None:
    """Return the TDC at which the heat-loss power near TDC comes out constant.

    First law of the closed cylinder, γ p dV + V dp = -(γ-1) q dt with q constant: for a given TDC
    linear in γ and q, so least squares over TDC, γ and q. Summed over the angle rather than
    differentiated, which spares the noise. P. Tunestål, "TDC Offset Estimation from Motored
    Cylinder Pressure Data based on Heat Release Shaping" (standard deviation 0.025° for one cycle).

    Returns
    -------
    Interval or None
        In the encoder frame beside the passes' nominal TDC; None where no pass tells.
    """
    clearance = 1.0 / ((profile.compression_ratio or USUAL_RATIO) - 1.0)

    def after_deg(swing: Swing) -> float | None:
        cylinder = _Cylinder(profile, swing.way)

        def unlike(tdc: float) -> float:
            near = np.abs(swing.after_deg - tdc) <= SHAPE_DEG
            volume = cylinder.down(swing.after_deg[near] - tdc) + clearance
            return _uneven_heat(volume, swing.pressure_bar[near], swing.time_s[near])

        return _least(unlike, swing, near_deg=SHAPE_DEG)

    return over_passes(passes, after_deg)


class _Cylinder:
    """Piston travel over stroke, turned either way."""

    def __init__(self, profile: Profile, way: int) -> None:
        crank = crank_of(profile)
        self._rod = crank.rod_ratio if crank else USUAL_ROD_RATIO
        # Turned backwards, the offset lies to the other side.
        self._offset = way * crank.pin_offset_ratio if crank else 0.0
        self._stroke = stroke_ratio(rod_ratio=self._rod, pin_offset_ratio=self._offset)

    def down(self, after_deg: FloatArray) -> FloatArray:
        down = travel(after_deg, rod_ratio=self._rod, pin_offset_ratio=self._offset)
        return np.asarray(down / self._stroke)


def _bend(swing: Swing, tdc: float, down: FloatArray) -> float:
    """Return the mean square by which both branches miss a straight line, at the best ratio."""
    missed = np.zeros(len(TRIED_RATIOS))
    x = swing.after_deg - tdc
    for side in (-x, x):
        on = (side >= LINES_DEG[0]) & (side <= LINES_DEG[1]) & (swing.weight > 0)
        if on.sum() < PEAK_NODES or swing.pressure_bar[on].min() <= 0.0:
            return np.inf
        log_v = np.log(down[on] + 1.0 / TRIED_RATIOS[:, None])
        log_v -= log_v.mean(axis=1, keepdims=True)
        log_p = np.log(swing.pressure_bar[on])
        log_p -= log_p.mean()
        along = (log_v @ log_p) ** 2 / np.sum(log_v**2, axis=1)
        missed += (float(log_p @ log_p) - along) / int(on.sum())
    return float(missed.min())


def _uneven_heat(volume: FloatArray, pressure_bar: FloatArray, time_s: FloatArray) -> float:
    """Return the mean square by which heat given off so far misses a straight line over time."""
    if len(volume) < PEAK_NODES:
        return np.inf
    v_dp = np.cumsum(0.5 * (volume[1:] + volume[:-1]) * np.diff(pressure_bar))
    p_dv = np.cumsum(0.5 * (pressure_bar[1:] + pressure_bar[:-1]) * np.diff(volume))
    clock = time_s[1:] - time_s[0]
    terms = np.stack([p_dv, clock / clock[-1], np.ones_like(clock)], axis=1)
    fitted = np.linalg.lstsq(terms, v_dp, rcond=None)[0]
    return float(np.mean((v_dp - terms @ fitted) ** 2))


def _least(cost: Callable[[float], float], swing: Swing, *, near_deg: float) -> float | None:
    """Return the TDC of least cost after the peak; None at the end of the search."""
    peak = peak_after_deg(swing)
    if peak is None:
        return None
    reach = np.abs(swing.after_deg - peak) <= near_deg
    if not swing.weight[reach].all():
        return None
    tried = peak + np.arange(SEARCH_DEG[0], SEARCH_DEG[1] + SEARCH_STEP_DEG, SEARCH_STEP_DEG)
    costs = [cost(float(tdc)) for tdc in tried]
    best = int(np.argmin(costs))
    if best in (0, len(tried) - 1) or not np.isfinite(costs[best]):
        return None
    worst = max(c for c in costs if np.isfinite(c))

    def bounded(tdc: float) -> float:
        value = cost(tdc)
        return value if np.isfinite(value) else worst  # the search reckons with differences

    return lowest_between(bounded, float(tried[best - 1]), float(tried[best + 1]), within=1e-4)
