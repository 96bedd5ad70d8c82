"""Does another method agree with the fit? A warning where one that ought to hold does not.

Only two of the methods are trusted with that. Rocking, where compressions were met from both
sides: its middle needs hardly any model. Heat-release shaping, where a starter turned an engine
with sound rings: it knows nothing of leakage, so it stands early by about as much in every sound
engine, and an answer that lies elsewhere is odd. Under a spanner, or with worn rings, the published
methods are tens of degrees out, and their warning would be worth nothing.
"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.crank.angle import short_way
from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import Notice, remark
from strokewise.analysis.tdc import baselines, rocking
from strokewise.analysis.tdc.fit import Fit
from strokewise.analysis.tdc.priors import LAG_KNOWN_SHARE, LAG_UNKNOWN_S
from strokewise.analysis.tdc.volume_baselines import heat_shape
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.trade import DEG_S_PER_RPM

SHAPE_LEAST_RPM = 100.0
"""Slower than a starter with a fair battery, leakage rules and the shape says little."""

SHAPE_MOST_LOSS_DEG = 4.5
"""A peak farther before the fitted TDC than this is a worn engine's, or a wrong fit's with one."""

SHAPE_EARLY_DEG, SHAPE_SPREAD_DEG = 1.2, 1.5
"""How far before TDC heat-release shaping stands once the lag is taken out, and how far from that
is still no disagreement. In 57 random sound engines: median 1.25°, 95 % within 0.1° to 2.4°; so
set, it contradicted one good fit in 80 (tests/benchmarks/second_opinion_rate.py)."""

SHAPE_MOST_HALF_DEG = 1.0
"""Passes that disagree by more among themselves (hum, noise) have no opinion."""

SHAPE_PASSES = 6
"""The last few: the spread between engines is far larger than what more passes would take off."""

ROCKING_AT = 1.5
"""Two honest 95 % intervals differ by more than their joint width once in twenty; by half as much
again, once in three hundred."""


def second_opinion(
    fit: Fit, passes: tuple[Pass, ...], profile: Profile, sensor: Sensor
) -> Notice | None:
    """Return a warning where rocking or heat-release shaping contradicts the fit.

    Parameters
    ----------
    passes : tuple of Pass
        All compressions of the sensed cylinder.

    Returns
    -------
    Notice or None
        None where they agree, or where neither method is meant to hold.
    """
    middle = rocking.centre(passes)
    if middle is not None:
        return _rocking_against(fit.tdc_deg, middle)
    return _shape_against(fit.tdc_deg, baselines.own_way(passes)[-SHAPE_PASSES:], profile, sensor)


def _rocking_against(fitted: Interval, middle: Interval) -> Notice | None:
    apart = float(short_way(middle.value - fitted.value, 360.0))
    allowed = ROCKING_AT * float(np.hypot(middle.half_width, fitted.half_width))
    if abs(apart) <= allowed:
        return None
    return Notice(
        "second-opinion", remark("middle-against-fit", apart_deg=apart, allowed_deg=allowed)
    )


def _shape_against(
    fitted: Interval, passes: tuple[Pass, ...], profile: Profile, sensor: Sensor
) -> Notice | None:
    if not passes or not passes[0].forward:
        return None
    speed_deg_s = DEG_S_PER_RPM * median([p.speed_rpm for p in passes])
    shape, top = heat_shape(passes, profile), baselines.peak(passes)
    if speed_deg_s < DEG_S_PER_RPM * SHAPE_LEAST_RPM or shape is None or top is None:
        return None
    if shape.half_width > SHAPE_MOST_HALF_DEG:
        return None
    lag_s, lag_sigma_s = LAG_UNKNOWN_S
    if sensor.response_time_s is not None:
        lag_s, lag_sigma_s = sensor.response_time_s, LAG_KNOWN_SHARE * sensor.response_time_s
    lag_deg = lag_s * speed_deg_s
    loss = -float(short_way(top.value - lag_deg - fitted.value, 360.0))
    if not 0.0 < loss < SHAPE_MOST_LOSS_DEG:
        return None
    opinion = shape.value - lag_deg + SHAPE_EARLY_DEG
    apart = float(short_way(opinion - fitted.value, 360.0))
    allowed = float(
        np.linalg.norm(
            [
                SHAPE_SPREAD_DEG,
                Z_95 * lag_sigma_s * speed_deg_s,
                shape.half_width,
                fitted.half_width,
            ]
        )
    )
    if abs(apart) <= allowed:
        return None
    shape_says = remark(
        "shape-against-fit", early_deg=SHAPE_EARLY_DEG, apart_deg=apart, allowed_deg=allowed
    )
    return Notice("second-opinion", shape_says)
