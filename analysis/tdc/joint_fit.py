"""Which compressions make the answer? A joint fit of those since the encoder last moved.

A slip too small to show in the angles of the peaks shows in what each compression by itself makes
of TDC; the fit is then made again of what came after it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.remark import Notice, Remark, notice
from strokewise.analysis.tdc.attempt import Attempt, again, attempt
from strokewise.analysis.tdc.coarse import (
    UNKNOWN_REACH,
    Reach,
    SensorTrace,
    best_passes,
    reach_of,
)
from strokewise.analysis.tdc.doubts import doubts, held, refusal_of
from strokewise.analysis.tdc.fit import FAR, NEAR, SHAPED, Fit
from strokewise.analysis.tdc.modes import (
    ENGINE_RAN_RPM,
    NO_OTHER,
    PLACES_DEG,
    OtherAnswers,
    other_answers,
    other_places,
)
from strokewise.analysis.tdc.pass_tdc import PassTdc, step_in, tdc_of_each
from strokewise.analysis.tdc.priors import priors_for
from strokewise.analysis.tdc.second_opinion import second_opinion
from strokewise.analysis.tdc.shut_window import release_notices
from strokewise.analysis.trace.burning import likely_burning
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.trace.steady import TDC_DRIFT_PASSES, slip_notice

MOST_SLIPS = 3
"""Slips looked for one after the other; more is a clamp that never held."""

ODD_COST = 2.5
"""Two compressions whose joint residuals are so large may not stand about one TDC …"""

SOUND_SHARE = 0.5
"""… which they do not when the last by itself leaves under this share of them."""

FEW_AFTER = 2
"""So few compressions after a slip are all used, the first of them as well."""

SLIP_SHARE = 0.5
"""A slip under this share of the interval of its size is none that its two sides show: half, since
much of their intervals, the losses, is common to both."""

NEW_SHARE = 2.0
"""With so many times the compressions other answers are sought anew; until then those found stay
in the interval."""

OPENED_WIDER = 2.0
"""A cylinder that shut later than its valves had TDC outside of its interval in 16 of 51 (bench
engines 780000 to 780069, a compression release): what comes through near the end of that is not
all left out. So much wider it held in 50."""

DRIFT_SEEN_SHARE = 0.5
"""A drift of the peaks of which the fitted compressions show less than this is none of TDC."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """The joint fit that the answer rests on.

    Attributes
    ----------
    passes : tuple of Pass
        All compressions since the encoder last moved, about the fitted TDC.
    notices : tuple of Notice
        What was found of slips.
    drift_deg : float
        By how much TDC moves with every turn.
    second_opinion : Notice or None
        What another method has against it.
    doubt : str
        Why the model is not believed, and TDC refused; empty where it is.
    best : tuple of Pass
        What the fit was made of; empty where its interval must hold another already.
    other : OtherAnswers
        How far answers that fit as well reach.
    """

    passes: tuple[Pass, ...]
    fit: Fit
    notices: tuple[Notice, ...] = ()
    drift_deg: float = 0.0
    second_opinion: Notice | None = None
    reach: Reach = UNKNOWN_REACH
    doubt: Remark | None = None
    best: tuple[Pass, ...] = ()
    other: OtherAnswers = NO_OTHER


def joint_fit(
    shown: SensorTrace, *, drift_deg: float = 0.0, earlier: Fitted | None = None
) -> Fitted | None:
    """Return the fit of the compressions since the encoder last moved; None where none can be made.

    Parameters
    ----------
    drift_deg : float
        How the peaks drift with every turn: only the last compressions are then of use.
    earlier : Fitted, optional
        One of fewer compressions, to go on from: a third of the work.
    """
    fitted = _fitted(shown, drift_deg, earlier)
    if fitted is None:
        return None
    fitted = _shaped(shown, fitted, earlier)
    profile, sensor = shown.profile, shown.sensor
    each = _each(shown, fitted.fit)
    priors = priors_for(
        profile,
        sensor,
        zero_sigma_bar=shown.zero_sigma_bar,
        speed_rpm=fitted.fit.runs.speed_rpm,
    )
    hose_unknown = shown.burned and sensor.response_time_s is None
    outside_bar = profile.atmosphere.pressure_bar
    against = doubts(fitted.fit, each, priors, outside_bar, hose_unknown=hose_unknown)
    fitted = replace(
        fitted,
        fit=replace(fitted.fit, tdc_deg=held(_reaching(fitted, reach_of(profile)), against)),
        doubt=refusal_of(against),
    )
    released = release_notices(fitted.reach, reach_of(profile))
    return replace(
        fitted,
        notices=(*likely_burning(fitted.doubt), *released, *fitted.notices),
        second_opinion=second_opinion(fitted.fit, fitted.passes, profile, sensor),
    )


def _reaching(fitted: Fitted, stated: Reach) -> Interval:
    """Return the interval of TDC, wider where compression began later than the valves let it."""
    tdc_deg = fitted.fit.tdc_deg
    return tdc_deg.widened(OPENED_WIDER) if fitted.reach.before_deg < stated.before_deg else tdc_deg


def _each(shown: SensorTrace, fit: Fit) -> PassTdc:
    """Return what each fitted pass by itself makes of TDC."""
    return tdc_of_each(fit, shown.profile, shown.sensor, shown.zero_sigma_bar)


def _fitted(shown: SensorTrace, drift_deg: float, earlier: Fitted | None) -> Fitted | None:
    if drift_deg:
        last = attempt(shown, most=TDC_DRIFT_PASSES)
        if last is None:
            return None
        if _drifts(last.best, _each(shown, last.fit), drift_deg):
            return Fitted(last.passes, last.fit, (), drift_deg, reach=last.reach, best=last.best)
        # Then the peaks alone drift, by speed and loss, or they slipped once.
    gone_on = None if earlier is None else again(shown, earlier.fit, earlier.reach)
    found = gone_on or attempt(shown)
    return None if found is None else _since_slips(shown, found)


def _shaped(shown: SensorTrace, fitted: Fitted, earlier: Fitted | None) -> Fitted:
    """Return the fit with the shapes of leak and loss free, holding others that fit as well."""
    best = fitted.best
    if not best:
        return fitted
    fit = shown.fit(best, fitted.fit, SHAPED)
    fitted = replace(fitted, fit=fit)
    stated = shown.sensor.response_time_s is not None
    flanks = any(item.nodes.clipped.any() for item in best)
    if not flanks and (stated or fit.runs.speed_rpm < ENGINE_RAN_RPM):
        return fitted
    if earlier is not None and len(best) < NEW_SHARE * earlier.other.sought_in:
        return replace(fitted, fit=earlier.other.held_by(fit), other=earlier.other)
    if flanks:
        places = (_begun_at(shown, fitted, fit.tdc_deg.value + by) for by in PLACES_DEG)
        found = [fitted, *(place for place in places if place is not None)]
        at, other = other_places([each.fit for each in found])
        fitted, fit = found[at], found[at].fit
    else:
        fit, other = other_answers(fit, lambda start: shown.fit(best, start, SHAPED))
    return replace(fitted, fit=other.held_by(fit), other=other)


def _begun_at(shown: SensorTrace, fitted: Fitted, tdc_deg: float) -> Fitted | None:
    """Fit the same compressions, taken about another TDC; None where none are left there."""
    since_s = float(fitted.best[0].time_s.mean())
    found, fit = None, None
    for stage in (FAR, NEAR, SHAPED):
        all_there = shown.passes(tdc_deg % 360.0, fitted.reach)
        passes = tuple(item for item in all_there if item.time_s[-1] > since_s)
        best = best_passes(passes, len(fitted.best))
        if not best:
            return None
        fit = shown.fit(best, fit, stage)
        tdc_deg = fit.tdc_deg.value
        found = replace(fitted, passes=passes, fit=fit, best=best)
    return found


@dataclass(frozen=True, slots=True)
class _Stretch:
    """What lies between two slips: where its compressions alone put TDC, and since when."""

    tdc_deg: Interval
    since_s: float


def _since_slips(shown: SensorTrace, found: Attempt) -> Fitted:
    """Return the fit of what came after the last slip."""

    def node_at(time_s: float) -> int:
        return int(np.searchsorted(shown.nodes.time_s, time_s))

    def between(start: int, stop: int) -> Attempt | None:
        return attempt(shown.part(start, stop))

    end, start = len(shown.nodes), 0
    left: tuple[_Stretch, ...] = ()

    def since_s() -> float:
        return float(shown.nodes.time_s[start] - shown.nodes.time_s[0])

    def slips(last: Fit) -> tuple[Notice, ...]:
        return _slips((*left, _Stretch(last.tdc_deg, since_s())))

    for _ in range(MOST_SLIPS):
        each = _each(shown, found.fit)
        at = _first_after(found, each)
        if at is None:
            break
        begin, cut = node_at(found.begin_s), node_at(float(found.best[at].time_s[0]))
        # The clamp may have slipped within the first: it speaks for neither side.
        sound = at + 1 if len(found.best) - at > FEW_AFTER else at
        before = between(begin, cut)
        after = between(node_at(float(found.best[sound].time_s[0])), end)
        if 1 < at == len(found.best) - 1:
            several = before or found
            by_deg = each.moved_deg(at) if after is None else _apart_deg(after, several)
            moved = (*slips(several.fit), notice("tdc-moved", by_deg=by_deg))
            return _either(shown, several, after, by_deg, moved)
        if after is None or (before is not None and _agree(before, after)):
            break
        if len(found.best) == 2:
            if before is None or after.fit.cost > SOUND_SHARE * found.fit.cost:
                break
            by_deg = _apart_deg(after, before)
            moved = (*slips(before.fit), notice("tdc-moved", by_deg=by_deg))
            return _either(shown, after, before, -by_deg, moved)
        by_passes = found.fit.tdc_deg.shifted(each.middle_deg(at))
        first = by_passes if before is None else before.fit.tdc_deg
        left = (*left, _Stretch(first, since_s()))
        found, start = after, cut
    return Fitted(found.passes, found.fit, slips(found.fit), reach=found.reach, best=found.best)


def _slips(stretches: tuple[_Stretch, ...]) -> tuple[Notice, ...]:
    """Return every slip between stretches, each of which was fitted by itself."""
    notices = []
    for before, after in pairwise(stretches):
        by_deg, half_deg = _moved(before.tdc_deg, after.tdc_deg)
        notices.append(slip_notice(by_deg, after.since_s, half_deg))
    return tuple(notices)


def _moved(before: Interval, after: Interval) -> tuple[float, float]:
    """Return how far TDC moved, each side fitted by itself, and half of that one's interval."""
    by_deg = nearest(after.value - before.value, 360.0)
    return by_deg, float(np.hypot(after.half_width, before.half_width))


def _agree(before: Attempt, after: Attempt) -> bool:
    """Return whether what lies before a slip and after it, fitted apart, shows none."""
    by_deg, half_deg = _moved(before.fit.tdc_deg, after.fit.tdc_deg)
    return abs(by_deg) < SLIP_SHARE * half_deg


def _apart_deg(after: Attempt, before: Attempt) -> float:
    """Return how far TDC moved: a fit of both sides speaks for neither."""
    return _moved(before.fit.tdc_deg, after.fit.tdc_deg)[0]


def _either(
    shown: SensorTrace,
    ruling: Attempt,
    other: Attempt | None,
    by_deg: float,
    notices: tuple[Notice, ...],
) -> Fitted:
    """Return what to make of a last compression that alone stands elsewhere: it may be either.

    A starter that gives up lets the crank fall back from it, and a slip has just begun with it.
    Several outweigh it; of one against one the later tells more of where the crank stands now.
    Where the other could not be fitted it lies ``by_deg`` away.
    """
    fit = shown.fit(ruling.best, ruling.fit, SHAPED)
    own = fit.tdc_deg
    beside = own.shifted(by_deg)
    if other is not None:
        its = shown.fit(other.best, other.fit, SHAPED).tdc_deg
        beside = its.shifted(own.value + nearest(its.value - own.value, 360.0) - its.value)
    fit = replace(fit, tdc_deg=own.holding(beside))
    return Fitted(ruling.passes, fit, notices, reach=ruling.reach)


def _first_after(found: Attempt, each: PassTdc) -> int | None:
    """Return the first pass after a slip, None without one."""
    step = step_in(each)
    if step is not None:
        return step.at
    return 1 if len(found.best) == 2 and found.fit.cost > ODD_COST else None


def _drifts(best: tuple[Pass, ...], each: PassTdc, drift_deg: float) -> bool:
    """Return whether the fitted compressions themselves drift as their peaks are said to."""
    turn = np.array([p.turn for p in best], np.float64)
    if len(turn) < TDC_DRIFT_PASSES or np.ptp(turn) < 1.0:
        return True
    slope = float(np.polyfit(turn, each.off_deg, 1)[0])
    return slope / drift_deg > DRIFT_SEEN_SHARE
