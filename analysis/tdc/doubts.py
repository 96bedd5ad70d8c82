"""Should the fitted model be believed? Named checks of it, and what each makes of the answer.

A closed cylinder of air that leaks and loses heat can be bent to look like much that is none: a
burning charge, a release that lets go late, a clamp that creeps. Then residuals stay, parameters
go where no engine has them, or parts of the trace put TDC elsewhere than the whole. What disagrees
goes into the interval; where the model is not the engine's at all, TDC is refused.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.estimate import TAILS_95, Interval
from strokewise.analysis.remark import Remark, remark
from strokewise.analysis.tails import student_at
from strokewise.analysis.tdc.closed_cycle import Runs
from strokewise.analysis.tdc.coarse import SLOW_PEAK_RPM
from strokewise.analysis.tdc.fit import Fit
from strokewise.analysis.tdc.pass_tdc import PassTdc
from strokewise.analysis.tdc.priors import HOSE_SHARE, Prior
from strokewise.analysis.trace.burning import HEAT_GIVEN
from strokewise.analysis.trade import DEG_S_PER_RPM, ZERO_CELSIUS_K

MOST_COST, MOST_COST_SLOW = 6.0, 15.0
"""Residuals beyond this are not those of a closed cylinder: sound ones left 0.3 to 2 by starter and
up to 5 by hand, where losses rule; a release or a burning charge that dragged the fit left 9 to 30
at 500 rev/min and more."""

STRANGE_SIGMAS = 8.0
"""No parameter of a sound engine lay so far from what is known before, with a stated geometry as
wrong as workshops get it; one dragged off lay 11 away …"""

STRANGE_RUNNING, RUNNING_RPM = 5.0, 450.0
"""Where the engine runs by itself or is driven as fast, and more is left than a good fit leaves: of
seven measured runs none had a parameter more than 2.2 away; a diesel that burned weakly, with TDC
7.7° off at ± 2.3°, had one 6.1 away (a bench, 713485). No starter turns so fast."""

STRANGE_TOGETHER = 150.0
"""… nor all together, as a sum of squares: about one reached 50 where the physics was another."""

FITS_WELL = 2.0
"""With residuals as small, parameters that are strange together say that the losses are of another
shape, not that there is no closed cylinder: then the interval holds what every part says."""

NO_MEASURE = ("tdc_deg", "delay_s", "drift_bar_s", "backlash_deg")
"""What is not known before, or not of the engine: a hose of 10 cm alone delays pressure by 0.3 ms,
and an engine that runs down tells it by its speeds."""

GAIN_SIGMA = 0.06
"""A sensor's gain is asked no more: its points come from a data sheet or a gauge, it may
be warm, and TDC does not hang on it."""

PART_SIGMAS = 3.0
"""A part of the trace that differs by more than it should scatter disagrees."""

MIDDLE_LEVELS: FloatArray = np.array([0.85, 0.7, 0.55])
"""Of the rise: the charge there is warmer than any wall, and well above the crankcase."""

MIDDLE_SIGMAS, MIDDLE_LEAST_DEG = 3.0, 0.05
"""Noise of a middle, and the encoder's own width, that the bound allows for."""

HOTTEST_K = 545.0
"""Walls as hot as this were fitted to charges that burned, and to them alone: the fit would have
them hotter still, for only that gives heat."""

RUNS_DOWN = 1.15
"""An engine that is so many times slower in the last compression is not driven any more; one that
runs by itself wanders by some hundredths."""

HOSE_LATE_S = 0.6e-3
"""By so much a hose may delay pressure and leave no trace in its shape: sound takes 0.6 ms for 20
cm, and one that rings is late by that and as sharp (calculated)."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """What one check has against the answer.

    Attributes
    ----------
    holds_deg : float
        TDC, against the fitted one, that the interval must hold too.
    refusal : Remark or None
        Why the model is not believed at all; None where it may be.
    """

    holds_deg: float = 0.0
    refusal: Remark | None = None


def doubts(
    fit: Fit,
    each: PassTdc,
    priors: tuple[Prior, ...],
    outside_bar: float,
    *,
    hose_unknown: bool = False,
) -> tuple[Doubt, ...]:
    """Return everything that the named checks have against a fit.

    Parameters
    ----------
    outside_bar : float
        Pressure of the air outside, and in the crankcase.
    hose_unknown : bool
        The engine ran by itself, before a sensor of which nobody stated the response time.
    """
    found = (
        heat_given(fit),
        residuals_too_large(fit),
        parameters_strange(fit, priors),
        *parts_disagree(fit, strange=strange_but_fits(fit, priors)),
        *passes_scatter(fit, each),
        below_the_bound(fit, outside_bar),
        delayed_unseen(fit) if hose_unknown else None,
    )
    return tuple(doubt for doubt in found if doubt is not None)


def held(interval: Interval, against: tuple[Doubt, ...]) -> Interval:
    """Return the interval widened to hold what disagrees with it."""
    offs = [interval.value + doubt.holds_deg for doubt in against]
    return Interval(interval.value, min([interval.low, *offs]), max([interval.high, *offs]))


def refusal_of(against: tuple[Doubt, ...]) -> Remark | None:
    """Return the first reason to refuse TDC; None where there is none."""
    return next((doubt.refusal for doubt in against if doubt.refusal), None)


def heat_given(fit: Fit) -> Doubt | None:
    """Doubt a fit whose walls warm the charge as none do: so looks one that burns weakly.

    Not of an engine that runs down: nothing drives it, and from full load its piston may be as hot.
    """
    runs, wall_k = fit.runs, float(fit.values["wall_k"][0])
    if runs.cut_off or runs.speed_rpm < SLOW_PEAK_RPM or wall_k < HOTTEST_K:
        return None
    if _runs_down(fit):
        return None
    return Doubt(refusal=remark(HEAT_GIVEN, wall_c=wall_k - ZERO_CELSIUS_K))


def _runs_down(fit: Fit) -> bool:
    speeds = fit.runs.speeds_deg_s
    return bool(speeds[0] > RUNS_DOWN * speeds[-1])


def residuals_too_large(fit: Fit) -> Doubt | None:
    """Doubt a fit that leaves far more than noise and what models of cylinders fall short of."""
    slow = fit.runs.speed_rpm < SLOW_PEAK_RPM
    if fit.runs.cut_off or fit.cost <= (MOST_COST_SLOW if slow else MOST_COST):
        return None  # of flanks alone no more is asked
    return Doubt(refusal=remark("no-closed-cylinder", times=fit.cost**0.5))


def strangeness(fit: Fit, priors: tuple[Prior, ...]) -> dict[str, float]:
    """Return how many sigmas each shared parameter lies from what was known before."""
    return {
        p.name: (float(fit.values[p.name][0]) - p.mean)
        / (max(p.sigma, GAIN_SIGMA) if p.name == "log_gain" else p.sigma)
        for p in priors
        if not p.per_pass and p.name not in NO_MEASURE
    }


def parameters_strange(fit: Fit, priors: tuple[Prior, ...]) -> Doubt | None:
    """Doubt a fit whose parameters no engine has, singly or all together."""
    off = strangeness(fit, priors)
    name, most = max(off.items(), key=lambda item: abs(item[1]))
    together = _together(off)
    driven = fit.runs.speed_rpm > RUNNING_RPM and not _runs_down(fit) and fit.cost > FITS_WELL
    at_most = STRANGE_RUNNING if driven else STRANGE_SIGMAS
    if abs(most) <= at_most and (together <= STRANGE_TOGETHER or fit.cost <= FITS_WELL):
        return None
    if fit.runs.cut_off or fit.runs.speed_rpm < SLOW_PEAK_RPM:
        return None  # flanks hardly tell the parameters, and by hand losses rule, of any shape
    return Doubt(refusal=remark("no-such-engine", parameter=name, sigmas=abs(most)))


def strange_but_fits(fit: Fit, priors: tuple[Prior, ...]) -> bool:
    """Return whether the parameters are strange together though little is left over."""
    return _together(strangeness(fit, priors)) > STRANGE_TOGETHER and fit.cost <= FITS_WELL


def _together(off: dict[str, float]) -> float:
    return sum(sigmas**2 for sigmas in off.values())


def parts_disagree(fit: Fit, *, strange: bool = False) -> tuple[Doubt, ...]:
    """Doubt where one side of TDC, or a narrower window about it, puts it elsewhere.

    Parameters
    ----------
    strange : bool
        By however little: the model is not to be trusted with what should scatter.
    """
    return tuple(
        Doubt(holds_deg=part.off_deg)
        for part in fit.parts
        if strange or abs(part.off_deg) > PART_SIGMAS * part.sigma_deg
    )


def passes_scatter(fit: Fit, each: PassTdc) -> tuple[Doubt, ...]:
    """Doubt by the scatter of what each compression makes of TDC: its mean is no surer than that.

    Turned both ways the passes of one direction are off one way and those of the other the other.
    """
    off, count = each.off_deg, len(each.off_deg)
    if count < 2 or fit.runs.both_ways:
        return ()
    sigma = float(np.std(off, ddof=1) / np.sqrt(count))
    half = student_at(count - 1, TAILS_95[1]) * sigma if count > 2 else 0.5 * float(np.ptp(off))
    return (Doubt(holds_deg=half), Doubt(holds_deg=-half))


def below_the_bound(fit: Fit, outside_bar: float) -> Doubt | None:
    """Doubt a TDC before the middle of points of equal pressure: losses only bring it early.

    Between them a charge above the crankcase's pressure and warmer than the wall has only lost,
    so it comes down early, and TDC lies no earlier than their middle once what sensor and encoder
    delay has been taken off.
    """
    bounds = [_bound_deg(fit, fit.runs, at, outside_bar) for at in range(len(fit.runs.time_s))]
    known = [bound for bound in bounds if bound is not None]
    if not known:
        return None
    later = float(np.median(known))
    return Doubt(holds_deg=later) if later > 0.0 else None


def delayed_unseen(fit: Fit) -> Doubt | None:
    """Doubt a TDC at one speed: what a hose delays without blunting it is in it, and not seen."""
    if HOSE_SHARE in fit.sigmas:
        return None  # several speeds have told
    way = float(fit.runs.turning[0])
    late_deg = HOSE_LATE_S * fit.runs.speed_rpm * DEG_S_PER_RPM
    return Doubt(holds_deg=-way * (fit.tdc_deg.half_width + late_deg))


def _bound_deg(fit: Fit, runs: Runs, at: int, outside_bar: float) -> float | None:
    """Return by how much the bound of one run lies after the fitted TDC; before it is negative."""
    used = runs.used[at]
    way = float(runs.turning[at])
    angle = way * (runs.angle_deg[at][used] - fit.values["tdc_deg"][at])
    pressure, speed = runs.pressure_bar[at][used], np.abs(runs.speed_deg_s[at][used])
    if len(angle) < 8:
        return None
    top = int(np.argmax(pressure))
    foot, rise = float(pressure.min()), float(np.ptp(pressure))
    late_s = float(fit.values["lag_s"][at] + way * fit.values["delay_s"][at])
    found = []
    outside = float(fit.values["zero_bar"][at] + np.exp(fit.values["log_gain"][at]) * outside_bar)
    for level in foot + MIDDLE_LEVELS * rise:
        if level < outside:
            continue  # air leaks in
        under = pressure < level
        if not under[:top].any() or not under[top:].any():
            continue
        up = top - 1 - int(under[:top][::-1].argmax())
        down = top + int(under[top:].argmax())
        ends = []
        for low, high in ((up, up + 1), (down, down - 1)):
            share = (level - pressure[low]) / (pressure[high] - pressure[low])
            steep = abs((pressure[high] - pressure[low]) / max(abs(angle[high] - angle[low]), 1e-6))
            place = angle[low] + share * (angle[high] - angle[low]) - late_s * speed[low]
            ends.append((place, runs.sigma_bar[at][used][low] / steep))
        (rising, rising_sigma), (falling, falling_sigma) = ends
        sigma = 0.5 * float(np.hypot(rising_sigma, falling_sigma))
        found.append(0.5 * (rising + falling) - MIDDLE_SIGMAS * sigma - MIDDLE_LEAST_DEG)
    return way * max(found) if found and way > 0 else None
