"""How does a valve leave its seat and come back? Priors of the last lift, and what clearance does.

An own engineering model, for a cam of which only timing and clearance are known: near the end of
its lobe a cam lifts by q e², e degrees from the end (the end of any smooth lobe), and the valve
meets its seat where the cam has come down to the clearance c. So the valve has v e + q e² of lift
at e degrees from its seat, with v = 2 √(q c).

Sizes that nobody states are common practice, no source: full lift a tenth of the bore, heads 0.45
(inlet) and 0.39 (exhaust) of it, a discharge coefficient near 0.65 on the curtain; lobes lie
between a versine and one with soft ends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.profile import Profile
from strokewise.analysis.trade import AIR_GAS_CONSTANT, USUAL_BORE_MM, USUAL_STROKE_MM, WARM_AIR_K
from strokewise.analysis.valves.base_circle import Kind

LIFT_OF_BORE = 0.10
HEAD_OF_BORE: dict[Kind, float] = {"inlet": 0.45, "exhaust": 0.39}
DISCHARGE = 0.65
USUAL_HALF_DURATION_DEG = 120.0
SOUND_M_S = sqrt(AIR_GAS_CONSTANT * WARM_AIR_K)  # √(R T) of the gas that passes, close to the air's

LOBE_END = 3.0
"""q is so many full lifts over the square of half the lobe: 2.5 for a versine, 4 for soft ends."""

CURVE_SIGMA = 0.25
"""Sigma of ln v: lift, lobe and duration of a cam that nobody measured."""

PASSAGE_SIGMA = 0.25
"""Sigma of ln of the flow for each mm of lift: head and discharge."""

SIZE_SIGMA = 0.35
"""Added in square to it where bore and stroke are unknown."""

USUAL_CLEARANCE_MM, HYDRAULIC_RAMP_MM = 0.30, 0.08
"""Where nobody said; and what a hydraulic lifter's leak-down and compliance amount to."""


@dataclass(frozen=True, slots=True)
class Ramp:
    """Priors of one valve's last lift.

    Attributes
    ----------
    speed_mm : float
        v, mm of lift for each crank degree at the seat.
    bend : float
        q / v, 1/deg.
    flow : float
        F of :mod:`strokewise.analysis.cam.valve_flow`, 1/(s·deg).
    flow_sigma : float
        Sigma of its logarithm.
    clearance_mm : float
    """

    speed_mm: float
    bend: float
    flow: float
    flow_sigma: float
    clearance_mm: float

    def off_seat_deg(self, lift_mm: float) -> float:
        """Return how far from its seat the valve has a lift, crank degrees."""
        if lift_mm <= 0.0:
            return 0.0
        half = 1.0 / (2.0 * self.bend)
        return sqrt(half**2 + lift_mm / (self.speed_mm * self.bend)) - half

    def shorter_deg(self, wider_mm: FloatArray) -> FloatArray:
        """Return by how much each end comes nearer the lobe's middle for so much more clearance.

        Negative for a tighter gap; as far as the lobe's own end where none is left.
        """
        ratio = np.maximum(1.0 + wider_mm / self.clearance_mm, 0.0)
        return np.asarray(2.0 * self.clearance_mm / self.speed_mm * (np.sqrt(ratio) - 1.0))

    def off_seat_sigma_deg(self, lift_mm: float) -> float:
        """Return the sigma of :meth:`off_seat_deg`: lobes differ."""
        steeper = replace(self, speed_mm=self.speed_mm * float(np.exp(CURVE_SIGMA)))
        return abs(self.off_seat_deg(lift_mm) - steeper.off_seat_deg(lift_mm))


def ramp_of(profile: Profile, kind: Kind) -> Ramp:
    """Return the ramp of a kind of valve, from what the profile says of it."""
    clearance = _clearance_mm(profile, kind)
    lift = LIFT_OF_BORE * (profile.bore_mm or USUAL_BORE_MM)
    timing = profile.valve_timing
    half = USUAL_HALF_DURATION_DEG
    if timing is not None and kind == "inlet":
        half = 90.0 + (timing.intake_opens_btdc_deg + timing.intake_closes_abdc_deg) / 2
    elif timing is not None:
        half = 90.0 + (timing.exhaust_opens_bbdc_deg + timing.exhaust_closes_atdc_deg) / 2
    lift += clearance
    # the lobe outlasts the valve by the way in which it takes up the clearance
    half += sqrt(clearance * half**2 / (LOBE_END * lift))
    curve = LOBE_END * lift / half**2
    speed = 2.0 * sqrt(curve * clearance)
    bore_m = (profile.bore_mm or USUAL_BORE_MM) * 1e-3
    stroke_m = (profile.stroke_mm or USUAL_STROKE_MM) * 1e-3
    displaced = pi / 4.0 * bore_m**2 * stroke_m
    curtain = DISCHARGE * pi * HEAD_OF_BORE[kind] * bore_m * 1e-3  # m² for each mm of lift
    known = profile.bore_mm is not None and profile.stroke_mm is not None
    sigma = sqrt(CURVE_SIGMA**2 + PASSAGE_SIGMA**2 + (0.0 if known else SIZE_SIGMA**2))
    return Ramp(
        speed_mm=speed,
        bend=curve / speed,
        flow=curtain / displaced * SOUND_M_S * speed,
        flow_sigma=sigma,
        clearance_mm=clearance,
    )


def _clearance_mm(profile: Profile, kind: Kind) -> float:
    valves = profile.valves
    if valves is not None and valves.lifters == "hydraulic":
        return HYDRAULIC_RAMP_MM
    if valves is None:
        return USUAL_CLEARANCE_MM
    said = valves.clearance_inlet_mm if kind == "inlet" else valves.clearance_exhaust_mm
    return USUAL_CLEARANCE_MM if said is None else max(said, HYDRAULIC_RAMP_MM)
