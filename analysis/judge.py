"""What do the nodes of one segment say, all in all?

From humps to a fitted TDC, its phase and the reasons.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.coarse import (
    FINE_PASSES,
    Reach,
    best_passes,
    coarse_fit,
    reach_of,
    strong,
    usable_passes,
)
from strokewise.analysis.estimate import Notice
from strokewise.analysis.fit import FINAL, NEAR, Fit, fit_passes
from strokewise.analysis.nodes import Nodes
from strokewise.analysis.passes import Hump, Pass, Run, humps_of, runs_of
from strokewise.analysis.phase import Phase, visits_of, weigh
from strokewise.analysis.profile import Profile, Sensor

ZERO_SIGMA_BAR = 0.03
"""How far a sound sensor's zero wanders from pass to pass."""

ZERO_OFF_BAR = 0.35
"""An open cylinder's pressure this far from the atmosphere is a wrong zero, not a throttle."""

ZERO_LOST_SIGMA_BAR = 50.0
"""Prior of a zero that is known to be wrong: none."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one segment's nodes say.

    Attributes
    ----------
    passes : tuple of Pass
        Compressions, all of them, about the fitted TDC.
    fit : Fit or None
        None where no compression could be fitted.
    phase : Phase
        Of turns counted from ``fit.tdc_deg``.
    """

    nodes: Nodes
    runs: tuple[Run, ...]
    humps: tuple[Hump, ...]
    passes: tuple[Pass, ...]
    fit: Fit | None
    phase: Phase
    warnings: tuple[Notice, ...] = ()


NOTHING_KNOWN = Phase(0.5, 0.5, 0.0, 0.0, ())


def judge(nodes: Nodes, profile: Profile, sensor: Sensor) -> Judgement:
    """Return what the nodes of one sensor in a plug hole say.

    An empty or flat trace gives a judgement without a fit; it is never an error.
    """
    runs = runs_of(nodes)
    humps = strong(humps_of(nodes))
    blank = Judgement(nodes, runs, humps, (), None, NOTHING_KNOWN)
    if not humps:
        return blank
    reach = reach_of(profile)
    zero_sigma, warnings = _zero(nodes, profile)
    first = coarse_fit(nodes, runs, humps, profile, sensor, reach=reach, zero_sigma_bar=zero_sigma)
    if first is None:
        return replace(blank, warnings=warnings)
    tdc = first.tdc_deg.value
    passes = usable_passes(nodes, runs, humps, tdc, reach)
    if not passes:
        return replace(blank, warnings=warnings)
    best = best_passes(passes, FINE_PASSES)
    fit = first
    for stage in (NEAR, FINAL):
        fit = fit_passes(best, profile, sensor, zero_sigma_bar=zero_sigma, start=fit, stage=stage)
    visits = visits_of(nodes, runs, fit.tdc_deg.value)
    phase = weigh(visits, noise_bar=nodes.noise_bar, calibrated=bool(sensor.points))
    return Judgement(nodes, runs, humps, passes, fit, phase, warnings)


def _zero(nodes: Nodes, profile: Profile) -> tuple[float, tuple[Notice, ...]]:
    """Tell a wandering zero from a sound one by the low pressures, which an open cylinder shows."""
    low = float(np.percentile(nodes.pressure_bar, 15.0))
    outside = profile.atmosphere.pressure_bar
    if abs(low - outside) < ZERO_OFF_BAR or 0.3 < low < outside:
        return ZERO_SIGMA_BAR, ()
    text = (
        f"the sensor shows {low:.1f} bar where the cylinder must be near the atmosphere"
        f" ({outside:.2f} bar): its zero is off, so peak pressures are only differences;"
        " check the sensor's points in the profile, or let it settle and zero it"
    )
    return ZERO_LOST_SIGMA_BAR, (Notice("sensor-zero", text),)


__all__ = ["Judgement", "Reach", "judge"]
