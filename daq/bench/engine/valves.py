"""How far is a valve open, and how much gas passes it?

Lift follows the cam less the clearance: the cam lifts by (1 - x²)² over its whole duration, and
the valve begins to move where the cam has taken up the clearance. So a wide clearance opens late
and shuts early, none opens early and shuts late, and a negative one never shuts.
"""

from __future__ import annotations

from math import pi, sqrt

from strokewise.daq.bench.engine.compiled import inlined
from strokewise.daq.bench.engine.gas import AIR_J_KG_K

#: Below this relative pressure difference the flow runs smoothly through zero; the square root of
#: the orifice law has an infinite slope there, real gaps turn laminar. 20 Pa at one bar.
_SMOOTH_BELOW = 2e-4

#: Above this pressure ratio no gas chokes (the critical ratio of gamma = 1 is 0.607).
_MAY_CHOKE = 0.61


def cam_half_duration_deg(
    valve_half_deg: float, at_lift_mm: float, lift_mm: float, clearance_mm: float
) -> float:
    """Return half the cam's duration for a valve that has ``at_lift_mm`` at its stated timing.

    Parameters
    ----------
    valve_half_deg : float
        Half the stated duration of the valve, crank degrees.
    at_lift_mm, lift_mm, clearance_mm : float
        Valve lift the timing belongs to, highest valve lift (0: it never opens), nominal clearance.
    """
    if lift_mm == 0.0:
        return valve_half_deg
    share = (at_lift_mm + clearance_mm) / (lift_mm + clearance_mm)
    return valve_half_deg / sqrt(1.0 - sqrt(share))


@inlined
def valve_lift(
    from_middle_deg: float, half_duration_deg: float, cam_lift: float, clearance: float
) -> float:
    """Return the valve lift (unit of ``cam_lift``) at an angle from the cam's middle."""
    x = from_middle_deg / half_duration_deg
    cam = cam_lift * (1.0 - x * x) ** 2 if abs(x) < 1.0 else 0.0
    return max(0.0, cam - clearance)


@inlined
def valve_area(lift_m: float, diameter_m: float, discharge: float) -> float:
    """Return the effective area: the curtain, until the throat is the smaller, m²."""
    return discharge * pi * diameter_m * min(lift_m, 0.25 * diameter_m)


@inlined
def flow_function(ratio: float, gamma: float) -> float:
    """Return mass flow over area · p / √(R T) for a pressure ratio down over up (Heywood, app. C).

    Choked below the critical ratio (2/(γ+1))^(γ/(γ-1)).
    """
    if ratio < _MAY_CHOKE:
        ratio = max(ratio, (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0)))
    root = ratio ** (1.0 / gamma)
    return sqrt(2.0 * gamma / (gamma - 1.0) * max(root * (root - ratio), 0.0))


@inlined
def orifice_flow(
    area_m2: float, up_pa: float, down_pa: float, up_k: float, gamma: float
) -> tuple[float, float, float]:
    """Return the mass flow through an orifice from the higher to the lower pressure.

    Returns
    -------
    flow : float
        kg/s, not negative; ``down_pa`` must not exceed ``up_pa``.
    per_up, per_down : float
        About how the flow grows with the upper and falls with the lower pressure, kg/(s Pa), both
        not negative; the linearly implicit step needs them, its order does not rest on them.
    """
    conductance = area_m2 / sqrt(AIR_J_KG_K * up_k)
    gap = 1.0 - down_pa / up_pa
    if gap < _SMOOTH_BELOW:
        y = gap / _SMOOTH_BELOW
        # The flow function at the edge, from its series: 2 x - 3 x² / gamma is its square.
        edge = conductance * sqrt(_SMOOTH_BELOW * (2.0 - 3.0 * _SMOOTH_BELOW / gamma))
        slope = edge * (1.5 - y) / _SMOOTH_BELOW
        return up_pa * edge * y * (1.5 - 0.5 * y), slope, slope
    flow = up_pa * conductance * flow_function(1.0 - gap, gamma)
    if gap > 0.5:  # choked, or nearly: only the upper pressure counts
        return flow, flow / up_pa, 0.0
    slope = 0.5 * flow / (gap * up_pa)
    return flow, slope, slope
