"""What pressure should a cylinder show while one of its valves shuts, or opens?

A lumped cylinder and one orifice that narrows with the valve's last lift: the piston squeezes, the
gas passes the valve to a port of steady pressure. With p in the cylinder, p_port behind the valve
and y = ln(p / p_port),

    d ln p = d ln p_shut - t d ln V - γ F lift'(e) / (V / V_displaced) · √(2|y|) sgn(y) dt

from mass balance and the orifice law for small pressure differences (Heywood, Internal Combustion
Engine Fundamentals, ch. 6 and app. C). lift'(e) = e + bend · e² is the valve's lift over its speed
at the seat, e degrees before it touches the seat; F gathers throat, discharge and speed of sound.
p_shut is the pressure with the valve shut all through: a polytrope while a fresh charge is taken
in, the fitted closed cycle after a compression. The tilt t, an exponent near zero, stands for what
heat and leakage do otherwise over the few tens of degrees that are looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.crank.kinematics import stroke_ratio, travel
from strokewise.analysis.samples import BoolArray
from strokewise.analysis.trade import AIR_GAMMA

SUB_STEPS = 3
"""Steps between two nodes: half a degree, in which a valve's lift hardly changes."""

RISE_OVER_DEG = 50.0

MOST_LIFT_DEG = 80.0
"""So far from its seat a valve is wide open; more lift passes no more gas."""


@dataclass(frozen=True, slots=True)
class Spans:
    """Stretches of nodes about one valve event, side by side, padded to the longest.

    Attributes
    ----------
    time_s, angle_deg, pressure_bar, sigma_bar : (spans, k) float64
        ``angle_deg`` is the true crank angle after TDC. Padding repeats the last node.
    log_shut : (spans, k) float64
        ln of the pressure with the valve shut, but for a constant.
    used : (spans, k) bool
    """

    time_s: FloatArray
    angle_deg: FloatArray
    log_shut: FloatArray
    pressure_bar: FloatArray
    sigma_bar: FloatArray
    used: BoolArray


@dataclass(frozen=True, slots=True)
class Cylinder:
    """What is known of the cylinder from the closed part of the cycle."""

    rod_ratio: float
    pin_offset_ratio: float
    clearance_share: float
    """Clearance volume over displaced volume, 1 / (compression ratio - 1)."""
    lag_s: float


@dataclass(frozen=True, slots=True)
class Passage:
    """The parameters, as arrays that broadcast to (variants, spans).

    Attributes
    ----------
    seat_deg : crank angle at which the valve touches its seat, or leaves it.
    log_flow : ln F, 1/(s·deg).
    log_bend : ln of the bend of the lift curve, 1/deg.
    tilt : t.
    zero_bar : the sensor's zero error.
    log_port : ln of the port's pressure at the seat, bar.
    port_rise : its change over ``RISE_OVER_DEG``; other cylinders and the throttle move it.
    log_start : ln of the true pressure at the span's first node, bar.
    """

    seat_deg: FloatArray
    log_flow: FloatArray
    log_bend: FloatArray
    tilt: FloatArray
    zero_bar: FloatArray
    log_port: FloatArray
    port_rise: FloatArray
    log_start: FloatArray


def passage_pressures(
    spans: Spans, cylinder: Cylinder, passage: Passage, open_side: int
) -> FloatArray:
    """Return what the sensor should read at each node, bar, (variants, spans, k).

    Parameters
    ----------
    open_side : int
        -1 where the valve is open at angles before the seat (it shuts), +1 after it (it opens).
    """
    angle = _finer(spans.angle_deg)
    step_s = np.diff(_finer(spans.time_s), axis=1)
    shape = {"rod_ratio": cylinder.rod_ratio, "pin_offset_ratio": cylinder.pin_offset_ratio}
    filled = travel(angle, **shape) / stroke_ratio(**shape) + cylinder.clearance_share
    squeeze = -np.diff(np.log(filled), axis=1)
    shut = np.diff(_finer(spans.log_shut), axis=1)
    middle = 0.5 * (angle[:, 1:] + angle[:, :-1])
    lifted = np.clip(open_side * (middle[None] - passage.seat_deg[..., None]), 0, MOST_LIFT_DEG)
    lift = lifted + np.exp(passage.log_bend)[..., None] * lifted**2
    share = AIR_GAMMA * np.exp(passage.log_flow)[..., None] * lift
    rise = passage.port_rise[..., None] / RISE_OVER_DEG
    pushed = shut[None] + passage.tilt[..., None] * squeeze[None] - rise * np.diff(angle, axis=1)
    passing = share * np.sqrt(2.0) * step_s / (0.5 * (filled[:, 1:] + filled[:, :-1]))
    port = passage.log_port[..., None] + rise * (spans.angle_deg - passage.seat_deg[..., None])
    over = np.empty((angle.shape[1], *pushed.shape[:2]))
    here = passage.log_start - port[..., 0]
    over[0] = here
    for k in range(angle.shape[1] - 1):
        here = _eased(here + pushed[..., k], passing[..., k])
        over[k + 1] = here
    log_p = np.moveaxis(over[::SUB_STEPS], 0, 2) + port
    true_bar = np.exp(log_p)
    return _seen(true_bar, spans.time_s, cylinder.lag_s) + passage.zero_bar[..., None]


def _eased(over: FloatArray, passing: FloatArray) -> FloatArray:
    """Return y after a step whose orifice flow is taken at its end: z + passing √z = |over|.

    Implicit, so that a wide open valve, which empties the cylinder within a step, is no trouble.
    """
    root = 0.5 * (np.sqrt(passing**2 + 4.0 * np.abs(over)) - passing)
    return np.asarray(np.sign(over) * root**2)


def _finer(values: FloatArray) -> FloatArray:
    """Put ``SUB_STEPS - 1`` points between every two, on straight lines."""
    parts = np.linspace(0.0, 1.0, SUB_STEPS, endpoint=False)
    steps = np.diff(values, axis=1)
    between = values[:, :-1, None] + parts * steps[..., None]
    return np.concatenate([between.reshape(len(values), -1), values[:, -1:]], axis=1)


def _seen(true_bar: FloatArray, time_s: FloatArray, lag_s: float) -> FloatArray:
    """Return the pressure a first-order sensor shows, for a lag short against the nodes."""
    step_s = np.diff(time_s, axis=1)[None]
    slope = np.diff(true_bar, axis=2) / np.maximum(step_s, 1e-6)
    behind = np.concatenate([slope[..., :1], slope], axis=2)
    node_s = np.maximum(np.concatenate([step_s[..., :1], step_s], axis=2), 1e-6)
    keep = lag_s / (lag_s + node_s)
    # the slope that a sensor shows settles within a node or two: the mean of this and the last
    settled = (1.0 - keep) * behind + keep * np.concatenate(
        [behind[..., :1], behind[..., :-1]], axis=2
    )
    return np.asarray(true_bar - lag_s * settled)
