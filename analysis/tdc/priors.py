"""What is known before the first compression?

Each parameter of the fit with its prior and its reason.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc.closed_cycle import Surroundings
from strokewise.analysis.trade import (
    PIN_OFFSET_SIGMA,
    USUAL_ROD_RATIO,
    USUAL_STROKE_MM,
    ZERO_CELSIUS_K,
)

LAG_UNKNOWN_S = (0.45e-3, 0.30e-3)
"""Response time when nobody gave one: sensor and a short hose, 0 to 1 ms, mean and sigma."""

LAG_KNOWN_SHARE = 0.115
"""Sigma of a stated response time: taken as right to ±20 %, any value in it as likely."""

LAG_KNOWN_LEAST_S = 0.02e-3
"""But no surer than this: one step of a fast sampling board."""


HOSE_SHARE = "hose"
HOSE = (0.0, 0.3)
"""Share of the response time that only delays, as a hose does that rings rather than chokes: none,
or most of it with a long one before a quick sensor. A guess, wide on purpose."""

GIVE = (2.5e-5, 1.2e-5)
"""Share of the stroke by which a bar presses the piston down. A steel rod of a thirtieth of the
piston's area, 1.6 strokes long, gives 2.3e-5 by Hooke's law with 210 GPa (calculated); gasket,
bearings and crank add, a stouter rod takes off. At a diesel's 50 bar it is a hundredth of the space
left at TDC; it moves no TDC, but its flatter top would pass for a slow sensor's."""

SEATING = (0.15, 0.15)
"""Share of the leak that pressure shuts by pressing the rings on to the wall; the rest is the gap
at their ends, a fixed hole. A guess, wide on purpose."""

COOLED = (0.5, 0.4)
"""Whether gas leaks as hot as it is in the cylinder or as cool as the wall of a narrow gap; models
of ring packs take the latter (Heywood, ch. 8, from memory)."""

RING_MOTION = (0.03, 0.12)
"""Share by which each m/s of the piston widens the leak: a guess, wide on purpose."""

CREVICE = (0.010, 0.009)
"""Volume of the crevices, of the clearance volume: one or two hundredths (Heywood, Internal
Combustion Engine Fundamentals, ch. 8, from memory), the gasket's and the plug's thread with it."""

OUTSIDE = (-0.02, 0.05)
"""ln of the pressure outside where nobody stated it, over the sea level's: weather, and up to a
thousand metres of height."""

OUTSIDE_STATED_SIGMA = 0.01

FREED_LAST = ("seating", "cooled", "ring_motion", "crevice", "log_outside")
"""What shapes leak and loss beyond their size: small, and freed last of all."""

DRIFT_SHARE_PER_S = 2.0
"""How fast a zero may wander, of how far it may be off: cheap charge and strain sensors were seen
to wander by 1 bar/s while they warm up."""


@dataclass(frozen=True, slots=True)
class Prior:
    """A normal prior of one parameter of :class:`closed_cycle.Gas`.

    ``step`` is the change used for its derivative; ``per_pass`` tells what belongs to a pass
    (trapped state, drift of zero) from what belongs to engine and rig.
    """

    name: str
    mean: float
    sigma: float
    step: float
    per_pass: bool = False
    low: float = -np.inf
    high: float = np.inf


RAN_FROM_RPM, RAN_SURE_RPM = 300.0, 600.0
"""Up to the first a starter or a cord may turn an engine; past the second it has run a moment ago,
or still does."""

COLD_WALL_K, HOT_WALL_K = (5.0, 10.0), (75.0, 50.0)
"""How much warmer than the air outside the walls are, mean and sigma: of cranked metal that stood
in the sun, say, and of an engine that ran, or is motored cold."""

COLD_WARM, HOT_WARM = 0.05, 0.10
"""Sigma of ln of the trapped charge's temperature: hot ports and what is left of a burnt charge
warm it by some tens of kelvin."""


def priors_for(
    profile: Profile, sensor: Sensor, *, zero_sigma_bar: float, speed_rpm: float = 0.0
) -> tuple[Prior, ...]:
    """Return the prior of every parameter, shared ones first.

    Parameters
    ----------
    zero_sigma_bar : float
        How far the sensor's zero may be off from pass to pass; large for one that wanders.
    speed_rpm : float
        At which the compressions were passed: an engine that turns faster than a starter makes it
        has run, and is hot.
    """
    ran = float(np.clip((speed_rpm - RAN_FROM_RPM) / (RAN_SURE_RPM - RAN_FROM_RPM), 0.0, 1.0))
    wall_over_k, wall_sigma_k = (
        cold + ran * (hot - cold) for cold, hot in zip(COLD_WALL_K, HOT_WALL_K, strict=True)
    )
    warm_sigma = COLD_WARM + ran * (HOT_WARM - COLD_WARM)
    clearance = (
        (np.log(8.0), 0.45)  # less one; 4:1 to 23:1 within two sigma: old side valve to diesel
        if profile.compression_ratio is None
        else (np.log(profile.compression_ratio - 1.0), 0.12)  # gasket, skimmed head, sensor adaptor
    )
    if sensor.response_time_s is None:
        lag = LAG_UNKNOWN_S
    else:
        known = sensor.response_time_s
        lag = (known, max(LAG_KNOWN_SHARE * known, LAG_KNOWN_LEAST_S))
    rod = (
        (np.log(profile.rod_ratio), 0.01)
        if profile.rod_ratio is not None
        else (np.log(USUAL_ROD_RATIO), 0.15)
    )
    offset_known = profile.stroke_mm is not None and profile.pin_offset_mm != 0.0
    offset = -profile.pin_offset_mm / (profile.stroke_mm / 2) if profile.stroke_mm else 0.0
    outside_k = profile.atmosphere.temperature_c + ZERO_CELSIUS_K
    outside = (0.0, OUTSIDE_STATED_SIGMA) if profile.atmosphere.stated else OUTSIDE
    gain_sigma = 0.02 if sensor.points else 1.0  # a calibrated sensor, or any range at all
    return (
        Prior("tdc_deg", 0.0, 60.0, 0.02),
        Prior("log_clearance", *clearance, 0.004, low=np.log(2.0), high=np.log(30.0)),
        # Effective leak over displacement: 0.3 mm² in half a litre with good rings, 3 mm² worn.
        Prior("log_leak", np.log(1.0e-6 / 5.0e-4), 1.3, 0.02, low=-14.0, high=-3.5),
        # Published correlations differ three- to fourfold at these speeds: 10 to 60 W/(m² K).
        Prior("log_heat", np.log(25.0), 0.8, 0.02, low=-2.0, high=5.5),
        Prior("heat_power", 0.76, 0.04, 0.02, low=0.5, high=1.0),
        Prior("log_swirl", np.log(0.4), 1.3, 0.1, low=-5.0, high=3.0),
        Prior("wall_k", outside_k + wall_over_k, wall_sigma_k, 2.0, low=240.0, high=550.0),
        Prior("log_still", np.log(5.0), 0.8, 0.02, low=-3.0, high=4.5),
        # Conduction across a gap has power 1, free convection none.
        Prior("gap_power", 0.4, 0.3, 0.05, low=-0.5, high=1.5),
        Prior("lag_s", *lag, 1e-5, low=0.0, high=5e-3),
        Prior(HOSE_SHARE, *HOSE, 0.02, low=0.0, high=1.0),
        Prior("delay_s", 0.0, 0.03e-3, 1e-5),
        Prior("give", *GIVE, 2e-6, low=0.0, high=1e-4),
        Prior("seating", *SEATING, 0.02, low=-0.2, high=0.8),
        Prior("cooled", *COOLED, 0.05, low=-0.5, high=1.5),
        Prior("ring_motion", *RING_MOTION, 0.05, low=-0.5, high=1.0),
        Prior("crevice", *CREVICE, 0.002, low=0.0, high=0.08),
        Prior("log_outside", *outside, 0.004),
        Prior("log_rod", *rod, 0.004, low=np.log(2.2), high=np.log(8.0)),
        Prior(
            "pin_offset",
            offset,
            0.002 if offset_known else PIN_OFFSET_SIGMA,
            0.001,
            low=-0.1,
            high=0.1,
        ),
        Prior("wobble_deg", 0.0, 0.10, 0.02),
        # A clamp's play, some hundredths, and what losses look like it.
        Prior("backlash_deg", 0.0, 0.10, 0.02),
        Prior("log_gain", 0.0, gain_sigma, 0.004),
        Prior("drift_bar_s", 0.0, DRIFT_SHARE_PER_S * zero_sigma_bar, 0.01),
        Prior("log_start", 0.0, 2.0, 0.004, per_pass=True, low=-5.0, high=5.0),
        Prior("log_warm", 0.0, warm_sigma, 0.004, per_pass=True, low=-0.5, high=0.7),
        Prior("zero_bar", 0.0, zero_sigma_bar, 0.01, per_pass=True),
    )


def surroundings_of(profile: Profile) -> Surroundings:
    """Return what lies around the gas, from the profile where it says."""
    stroke = profile.stroke_mm or USUAL_STROKE_MM  # only the size of the losses hangs on it
    return Surroundings(
        atmosphere_bar=profile.atmosphere.pressure_bar,
        atmosphere_k=profile.atmosphere.temperature_c + ZERO_CELSIUS_K,
        stroke_m=stroke * 1e-3,
        bore_over_stroke=(profile.bore_mm or stroke) / stroke,
    )
