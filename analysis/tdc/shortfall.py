"""What may a model of a cylinder be short of, at which crank angle? A smooth random error of it.

Measured compressions leave residuals of 0.1 to 0.3 % of the rise at 500 to 1,750 rev/min that come
back alike in every one of them, over 10° to 20° of the crank. So they do not average out, and where
parameters can imitate them they don't show at all. The error is taken for a random function of the
crank's angle with a covariance of that size and length, the same in every compression (Kennedy &
O'Hagan 2001, "Bayesian calibration of computer models", J. R. Stat. Soc. B 63, from memory).
"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.tdc.closed_cycle import Runs
from strokewise.analysis.trade import DEG_S_PER_RPM

SHARE_PER_RPM = 2.5e-6
"""Of the rise, a sigma: 0.4 % at 1,750 rev/min, 0.05 % by starter. It grows with speed, as waves in
the hose do and what a sensor feels of shaking and heat."""

SHARE_PER_COST, MISSED_NOTHING_COST = 2.0e-3, 0.9
"""And by the root of what the fit's cost has over a sound one's: of the rise too. What the model is
seen to miss it also misses where parameters hide it."""

TOGETHER_OVER_DEG = 8.0
"""Over so much of the crank the error hangs together."""

FARTHEST_DEG = 112.0

TINY = 1e-300


def shortfall_bar(runs: Runs, tdc_deg: float, cost: float) -> FloatArray:
    """Return what each independent part of the error does to each node, (runs, k, parts), bar.

    Every part has a prior sigma of 1. Parts are counted in the direction of turning, so that
    compressions met from both sides have theirs mirrored about TDC.
    """
    after = (runs.angle_deg - tdc_deg) * runs.turning[:, None]
    knots = np.arange(-FARTHEST_DEG, FARTHEST_DEG + 1.0, TOGETHER_OVER_DEG)
    shape = np.exp(-0.5 * ((after[..., None] - knots) / TOGETHER_OVER_DEG) ** 2)
    # Beyond the last knot, as where counts were lost within a pass, there is nothing to say.
    shape /= np.maximum(np.linalg.norm(shape, axis=-1, keepdims=True), TINY)
    rise = np.ptp(np.where(runs.used, runs.pressure_bar, runs.pressure_bar[:, :1]), axis=1)
    near = np.abs(after) < 3.0 * TOGETHER_OVER_DEG
    speed = np.where(near, np.abs(runs.speed_deg_s), 0.0).sum(axis=1) / np.maximum(
        near.sum(axis=1), 1
    )
    seen = SHARE_PER_COST * max(cost - MISSED_NOTHING_COST, 0.0) ** 0.5
    size = np.hypot(SHARE_PER_RPM * speed / DEG_S_PER_RPM, seen) * rise
    return np.asarray(shape * size[:, None, None], np.float64)
