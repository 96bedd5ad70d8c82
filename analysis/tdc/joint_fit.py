"""Which compressions make the answer? A joint fit of those since the encoder last moved.

A slip too small to show in the angles of the peaks shows in what each compression by itself makes
of TDC; the fit is then made again of what came after it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.remark import Notice, Remark, notice
from strokewise.analysis.tdc.coarse import (
    FINE_PASSES,
    SLOW_PEAK_RPM,
    UNKNOWN_REACH,
    Reach,
    best_passes,
    coarse_fit,
    reach_of,
    usable_passes,
)
from strokewise.analysis.tdc.doubts import doubts, held, refusal_of
from strokewise.analysis.tdc.fit import FAR, NEAR, SOUND_COST, Fit, fit_passes
from strokewise.analysis.tdc.pass_tdc import PassTdc, step_in, tdc_of_each
from strokewise.analysis.tdc.priors import priors_for
from strokewise.analysis.tdc.second_opinion import second_opinion
from strokewise.analysis.tdc.shut_window import (
    DRAGGED_COST,
    Shut,
    clear_of_valves,
    release_notices,
    shut_window,
    worst_of,
)
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump, Pass, PassRun, runs_of
from strokewise.analysis.trace.steady import TDC_DRIFT_PASSES, slip_notice

MOST_SLIPS = 3
"""Slips looked for one after the other; more is a clamp that never held."""

ODD_COST = 2.5
"""Two compressions whose joint residuals are so large may not stand about one TDC …"""

SOUND_SHARE = 0.5
"""… which they do not when the last by itself leaves under this share of them."""

MUCH_WORSE = 1.5
"""An earlier fit led astray where the residuals grow so many times by the new compressions."""

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
    """

    passes: tuple[Pass, ...]
    fit: Fit
    notices: tuple[Notice, ...] = ()
    drift_deg: float = 0.0
    second_opinion: Notice | None = None
    reach: Reach = UNKNOWN_REACH
    doubt: Remark | None = None


@dataclass(frozen=True, slots=True)
class _Attempt:
    """A fit, the passes it was made of, all that lie about its TDC, and where it was shut."""

    fit: Fit
    best: tuple[Pass, ...]
    passes: tuple[Pass, ...]
    reach: Reach

    @property
    def begin_s(self) -> float:
        """When the first of all the passes begins."""
        return float(self.passes[0].time_s[0])


@dataclass(frozen=True, slots=True)
class _Seen:
    """What was seen of one sensor, and what is known of it."""

    nodes: Nodes
    runs: tuple[PassRun, ...]
    humps: tuple[Hump, ...]
    profile: Profile
    sensor: Sensor
    zero_sigma_bar: float
    earlier: Fitted | None = None

    def node_at(self, time_s: float) -> int:
        return int(np.searchsorted(self.nodes.time_s, time_s))

    def each(self, found: _Attempt) -> PassTdc:
        return tdc_of_each(found.fit, self.profile, self.sensor, self.zero_sigma_bar)

    def again(self) -> _Attempt | None:
        """Go on from the earlier fit; None where it does not lead to one as good."""
        if self.earlier is None:
            return None
        earlier, reach = self.earlier.fit, self.earlier.reach
        tdc_deg = earlier.tdc_deg
        passes = usable_passes(self.nodes, self.runs, self.humps, tdc_deg.value, reach)
        if not passes:
            return None
        best = best_passes(passes, FINE_PASSES)
        fit = fit_passes(
            best, self.profile, self.sensor, zero_sigma_bar=self.zero_sigma_bar, start=earlier
        )
        moved = abs(nearest(fit.tdc_deg.value - tdc_deg.value, 360.0))
        as_good = fit.cost < MUCH_WORSE * max(earlier.cost, SOUND_COST)
        if not as_good or moved > tdc_deg.half_width or clear_of_valves(fit, reach) != reach:
            return None
        return _Attempt(fit, best, passes, reach)

    def attempt(
        self, start: int = 0, stop: int | None = None, most: int = FINE_PASSES
    ) -> _Attempt | None:
        """Fit the last ``most`` compressions of the nodes from ``start`` to ``stop``."""
        stop = len(self.nodes) if stop is None else stop
        nodes = self.nodes.part(start, stop)
        runs = self.runs if len(nodes) == len(self.nodes) else runs_of(nodes)
        humps = tuple(replace(h, at=h.at - start) for h in self.humps if start <= h.at < stop)
        profile, sensor, zero_bar = self.profile, self.sensor, self.zero_sigma_bar
        reach = reach_of(profile)
        fit = coarse_fit(nodes, runs, humps, profile, sensor, reach=reach, zero_sigma_bar=zero_bar)
        passes = () if fit is None else usable_passes(nodes, runs, humps, fit.tdc_deg.value, reach)
        if fit is None or not passes:
            return None
        coarse = fit

        def inside(within: Reach, about: Fit) -> tuple[Pass, ...]:
            found = usable_passes(nodes, runs, humps, about.tdc_deg.value, within)
            return best_passes(found, most)

        def near(chosen: tuple[Pass, ...], start: Fit | None) -> Fit | None:
            for stage in (FAR, NEAR) if start is None else (NEAR,):
                if chosen:
                    start = fit_passes(
                        chosen, profile, sensor, zero_sigma_bar=zero_bar, start=start, stage=stage
                    )
            return start

        best = inside(reach, coarse)
        first = near(best, coarse)
        if first is None:
            return None
        shut = Shut(first, reach)
        if first.cost > DRAGGED_COST and first.runs.speed_rpm > SLOW_PEAK_RPM:
            # Compressions that lie apart, by a slip, say, each fit a closed cylinder.
            alone = near((best[worst_of(first)],), first)
            if alone is not None and alone.cost > DRAGGED_COST:
                # Anew from the coarse one on: an open end may have dragged the near one off.
                shut = shut_window(first, reach, lambda r: near(inside(r, coarse), None))
        reach = shut.reach
        best = inside(reach, shut.fit)
        if not best:  # a fit led astray by damage: no pass lies about its TDC any more
            return None
        fit = fit_passes(best, profile, sensor, zero_sigma_bar=zero_bar, start=shut.fit)
        while (narrower := clear_of_valves(fit, reach)) != reach:
            reach = narrower
            if not (inner := inside(reach, fit)):
                break
            best = inner
            fit = fit_passes(best, profile, sensor, zero_sigma_bar=zero_bar, start=fit)
        return _Attempt(fit, best, passes, reach)


def joint_fit(
    nodes: Nodes,
    runs: tuple[PassRun, ...],
    humps: tuple[Hump, ...],
    profile: Profile,
    sensor: Sensor,
    *,
    zero_sigma_bar: float,
    drift_deg: float = 0.0,
    earlier: Fitted | None = None,
) -> Fitted | None:
    """Return the fit of the compressions since the encoder last moved; None where none can be made.

    Parameters
    ----------
    drift_deg : float
        How the peaks drift with every turn: only the last compressions are then of use.
    earlier : Fitted, optional
        One of fewer compressions, to go on from: a third of the work.
    """
    fitted = _fitted(_Seen(nodes, runs, humps, profile, sensor, zero_sigma_bar, earlier), drift_deg)
    if fitted is None:
        return None
    each = tdc_of_each(fitted.fit, profile, sensor, zero_sigma_bar)
    priors = priors_for(
        profile, sensor, zero_sigma_bar=zero_sigma_bar, speed_rpm=fitted.fit.runs.speed_rpm
    )
    against = doubts(fitted.fit, each, priors)
    fitted = replace(
        fitted,
        fit=replace(fitted.fit, tdc_deg=held(fitted.fit.tdc_deg, against)),
        doubt=refusal_of(against),
    )
    return replace(
        fitted,
        notices=(*release_notices(fitted.reach, reach_of(profile)), *fitted.notices),
        second_opinion=second_opinion(fitted.fit, fitted.passes, profile, sensor),
    )


def _fitted(seen: _Seen, drift_deg: float) -> Fitted | None:
    if drift_deg:
        last = seen.attempt(most=TDC_DRIFT_PASSES)
        if last is None:
            return None
        if _drifts(last.best, seen.each(last), drift_deg):
            return Fitted(last.passes, last.fit, (), drift_deg, reach=last.reach)
        # Then the peaks alone drift, by speed and loss, or they slipped once.
    found = seen.again() or seen.attempt()
    return None if found is None else _since_slips(seen, found)


def _since_slips(seen: _Seen, found: _Attempt) -> Fitted:
    """Return the fit of what came after the last slip."""
    notices: tuple[Notice, ...] = ()
    for _ in range(MOST_SLIPS):
        each = seen.each(found)
        at = _first_after(found, each)
        if at is None:
            break
        begin, start = seen.node_at(found.begin_s), seen.node_at(float(found.best[at].time_s[0]))
        if 1 < at == len(found.best) - 1:
            several = seen.attempt(begin, start) or found
            by_deg = each.moved_deg(at)
            return _either(several, several.fit.tdc_deg.shifted(by_deg), by_deg, notices)
        after = seen.attempt(start)
        if after is None:
            break
        if len(found.best) == 2:
            before = seen.attempt(begin, start)
            if before is None or after.fit.cost > SOUND_SHARE * found.fit.cost:
                break
            by_deg = _apart_deg(after.fit, before.fit.tdc_deg.value)
            own, its = after.fit.tdc_deg, before.fit.tdc_deg
            return _either(after, its.shifted(own.value - by_deg - its.value), by_deg, notices)
        by_deg = _apart_deg(after.fit, found.fit.tdc_deg.value + each.middle_deg(at))
        since_s = float(seen.nodes.time_s[start] - seen.nodes.time_s[0])
        notices = (*notices, slip_notice(by_deg, since_s))
        found = after
    return Fitted(found.passes, found.fit, notices, reach=found.reach)


def _apart_deg(fit: Fit, before_deg: float) -> float:
    return nearest(fit.tdc_deg.value - before_deg, 360.0)


def _either(
    ruling: _Attempt, other: Interval, by_deg: float, notices: tuple[Notice, ...]
) -> Fitted:
    """Return what to make of a last compression that alone stands elsewhere: it may be either.

    A starter that gives up lets the crank fall back from it, and a slip has just begun with it.
    Several outweigh it; of one against one the later tells more of where the crank stands now.
    """
    own = ruling.fit.tdc_deg
    both = Interval(own.value, min(own.low, other.low), max(own.high, other.high))
    fit = replace(ruling.fit, tdc_deg=both)
    moved = notice("tdc-moved", by_deg=by_deg)
    return Fitted(ruling.passes, fit, (*notices, moved), reach=ruling.reach)


def _first_after(found: _Attempt, each: PassTdc) -> int | None:
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
