"""Which compressions make the answer? A joint fit of those since the encoder last moved.

A slip too small to show in the angles of the peaks shows in what each compression by itself makes
of TDC; the fit is then made again of what came after it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from strokewise.analysis.coarse import (
    FINE_PASSES,
    best_passes,
    coarse_fit,
    reach_of,
    usable_passes,
)
from strokewise.analysis.estimate import Interval, Notice
from strokewise.analysis.fit import FINAL, NEAR, Fit, fit_passes
from strokewise.analysis.nodes import Nodes
from strokewise.analysis.pass_tdc import PassTdc, step_in, tdc_of_each
from strokewise.analysis.passes import Hump, Pass, Run, runs_of
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.steady import DRIFT_PASSES, slip_notice
from strokewise.analysis.strokes import nearest

MOST_SLIPS = 3
"""Slips looked for one after the other; more is a clamp that never held."""

ODD_COST = 2.5
"""Two compressions whose joint residuals are so large may not stand about one TDC …"""

SOUND_SHARE = 0.5
"""… which they do not when the last by itself leaves under this share of them."""

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
    """

    passes: tuple[Pass, ...]
    fit: Fit
    notices: tuple[Notice, ...] = ()
    drift_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class _Attempt:
    """A fit, the passes it was made of, and all that lie about its TDC."""

    fit: Fit
    best: tuple[Pass, ...]
    passes: tuple[Pass, ...]

    @property
    def begin_s(self) -> float:
        """When the first of all the passes begins."""
        return float(self.passes[0].time_s[0])


def joint_fit(
    nodes: Nodes,
    runs: tuple[Run, ...],
    humps: tuple[Hump, ...],
    profile: Profile,
    sensor: Sensor,
    *,
    zero_sigma_bar: float,
    drift_deg: float = 0.0,
) -> Fitted | None:
    """Return the fit of the compressions since the encoder last moved; None where none can be made.

    Parameters
    ----------
    drift_deg : float
        How the peaks drift with every turn: only the last compressions are then of use.
    """

    def attempt(start: int, stop: int) -> _Attempt | None:
        part = nodes.part(start, stop)
        own = tuple(replace(h, at=h.at - start) for h in humps if start <= h.at < stop)
        part_runs = runs if len(part) == len(nodes) else runs_of(part)
        most = DRIFT_PASSES if drift_deg else FINE_PASSES
        return _attempt(part, part_runs, own, profile, sensor, zero_sigma_bar, most)

    found = attempt(0, len(nodes))
    if found is not None and drift_deg:
        each = tdc_of_each(found.fit, profile, sensor, zero_sigma_bar)
        if _drifts(found.best, each, drift_deg):
            return Fitted(found.passes, found.fit, (), drift_deg)
        drift_deg = 0.0  # the peaks' own, by speed and loss, or one slip
        found = attempt(0, len(nodes))
    notices: tuple[Notice, ...] = ()
    for _ in range(MOST_SLIPS):
        if found is None:
            return None
        each = tdc_of_each(found.fit, profile, sensor, zero_sigma_bar)
        at = _first_after(found, each)
        if at is None:
            break
        begin = int(np.searchsorted(nodes.time_s, found.begin_s))
        start = int(np.searchsorted(nodes.time_s, found.best[at].time_s[0]))
        by_deg = each.moved_deg(at)
        if 1 < at == len(found.best) - 1:  # the last by itself against several
            before = attempt(begin, start) or found
            return _either(before, before.fit.tdc_deg.shifted(by_deg), by_deg, notices)
        after = attempt(start, len(nodes))
        if after is None:
            break
        own = after.fit.tdc_deg
        if len(found.best) == 2:  # one against one
            before = attempt(begin, start)
            if before is None or after.fit.cost > SOUND_SHARE * found.fit.cost:
                break
            its = before.fit.tdc_deg
            by_deg = nearest(own.value - its.value, 360.0)
            return _either(after, its.shifted(own.value - by_deg - its.value), by_deg, notices)
        by_deg = nearest(own.value - found.fit.tdc_deg.value - np.median(each.off_deg[:at]), 360.0)
        notices = (*notices, slip_notice(by_deg, float(nodes.time_s[start] - nodes.time_s[0])))
        found = after
    return None if found is None else Fitted(found.passes, found.fit, notices)


def _either(
    ruling: _Attempt, other: Interval, by_deg: float, notices: tuple[Notice, ...]
) -> Fitted:
    """Return what to make of a last compression that alone stands elsewhere: it may be either.

    A starter that gives up lets the crank fall back from it, and a slip has just begun with it.
    Several outweigh it; of one against one the later tells more of where the crank stands now.
    """
    own = ruling.fit.tdc_deg
    both = Interval(own.value, min(own.low, other.low), max(own.high, other.high))
    text = (
        f"the last compression puts TDC {by_deg:+.1f}° from where what came before does: the"
        " encoder may have slipped on the crank, and the interval holds both; see that the clamp"
        " is tight and turn through two more compressions"
    )
    fit = replace(ruling.fit, tdc_deg=both)
    return Fitted(ruling.passes, fit, (*notices, Notice("tdc-moved", text)))


def _attempt(
    nodes: Nodes,
    runs: tuple[Run, ...],
    humps: tuple[Hump, ...],
    profile: Profile,
    sensor: Sensor,
    zero_sigma_bar: float,
    most: int,
) -> _Attempt | None:
    reach = reach_of(profile)
    fit = coarse_fit(
        nodes, runs, humps, profile, sensor, reach=reach, zero_sigma_bar=zero_sigma_bar
    )
    passes = () if fit is None else usable_passes(nodes, runs, humps, fit.tdc_deg.value, reach)
    if fit is None or not passes:
        return None
    best = best_passes(passes, most)
    for stage in (NEAR, FINAL):
        fit = fit_passes(
            best, profile, sensor, zero_sigma_bar=zero_sigma_bar, start=fit, stage=stage
        )
    return _Attempt(fit, best, passes)


def _first_after(found: _Attempt, each: PassTdc) -> int | None:
    """Return the first pass after a slip, None without one."""
    step = step_in(each)
    if step is not None:
        return step.at
    return 1 if len(found.best) == 2 and found.fit.cost > ODD_COST else None


def _drifts(best: tuple[Pass, ...], each: PassTdc, drift_deg: float) -> bool:
    """Return whether the fitted compressions themselves drift as their peaks are said to."""
    turn = np.array([p.turn for p in best], np.float64)
    if len(turn) < DRIFT_PASSES or np.ptp(turn) < 1.0:
        return True
    slope = float(np.polyfit(turn, each.off_deg, 1)[0])
    return slope / drift_deg > DRIFT_SEEN_SHARE
