"""What should the person who rocks the crank do next? How far, how fast, and when it is enough.

From the compressions met so far, whichever window or terminal shows it. Turning back is the risky
part of it, so the profile's word on that comes first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.estimate import Interval
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, Remark, notice, remark
from strokewise.analysis.tdc import rocking
from strokewise.analysis.trace.passes import Pass

ROCKING_REACH_DEG = 55.0
"""How far past TDC a swing goes at the least: the charge then has nearly all its expansion behind
it, and a fit has both flanks."""

PAST_PEAK_DEG = 25.0
"""And how far past the place where the pressure peaks when turned the other way."""

ROCKED_REACH_DEG = 95.0
"""Farther, a valve may open: the next charge is then another."""

SLOWEST_ROCKED_RPM = 8.0
"""Slower, the charge leaks away and the peak stands tens of degrees from TDC."""

BRISK_RPM = 40.0
"""A hand that goes faster jerks; nothing is gained."""

UNEVEN = 1.6
"""Ratio of the speeds of the two directions from which the middle begins to lean on a model."""

SWINGS_EACH_WAY = 3
"""Fewer do not show how well they repeat."""

ENOUGH_HALF_DEG = 0.25
"""Half width of the middle's interval that is good enough to time an engine by."""

MOST_EACH_WAY = 8
"""More of the same no longer helps: then something else is wrong."""


@dataclass(frozen=True, slots=True)
class RockingGuidance:
    """Where the rocking stands and what comes next.

    Attributes
    ----------
    refused : bool
        The profile forbids turning back; ``instruction`` then names the way to go instead.
    enough : bool
        The middle is known well enough.
    instruction : Remark
        The one thing to do next.
    before_deg, after_deg : float
        How far before and after TDC the swings have reached, at the least of the last on each side.
    forward, backward : int
        Compressions met so far in each direction.
    forward_rpm, backward_rpm : float
        Median speed near TDC, 0 where there was none.
    interval : Interval or None
        TDC now, by :func:`rocking.centre`.
    cautions : tuple of Notice
        To be shown with the instruction.
    """

    refused: bool
    enough: bool
    instruction: Remark
    before_deg: float = 0.0
    after_deg: float = 0.0
    forward: int = 0
    backward: int = 0
    forward_rpm: float = 0.0
    backward_rpm: float = 0.0
    interval: Interval | None = None
    cautions: tuple[Notice, ...] = ()


def cautions_for(profile: Profile) -> tuple[Notice, ...]:
    """Return what can hurt engine or person while it is rocked."""
    cautions = (notice("crank-bolt"), notice("chain-and-belt"), notice("rocking-by-hand"))
    if profile.turning_back is None:
        return (notice("turning-back-unknown"), *cautions)
    return cautions


def guide(passes: tuple[Pass, ...], profile: Profile) -> RockingGuidance:
    """Return the next instruction.

    Parameters
    ----------
    passes : tuple of Pass
        Compressions of the sensed cylinder so far, oldest first; none at the start.
    """
    if profile.turning_back == "never":
        return RockingGuidance(True, False, remark("never-rock-this"))
    forward = tuple(p for p in passes if p.forward)
    backward = tuple(p for p in passes if not p.forward)
    after, before = _reach(forward), _reach(backward)
    interval = rocking.centre(passes) if passes else None
    instruction, enough = _next(forward, backward, interval)
    return RockingGuidance(
        False,
        enough,
        instruction,
        before,
        after,
        len(forward),
        len(backward),
        _rpm(forward),
        _rpm(backward),
        interval,
        cautions_for(profile),
    )


def _next(
    forward: tuple[Pass, ...], backward: tuple[Pass, ...], interval: Interval | None
) -> tuple[Remark, bool]:
    """Return the instruction, and whether it is enough; the first thing amiss comes first."""
    if not forward and not backward:
        return remark("rock-first", reach_deg=ROCKING_REACH_DEG), False
    if not forward or not backward:
        way = "back" if forward else "forwards"
        return remark("rock-other-way", way=way, reach_deg=ROCKING_REACH_DEG), False
    done, enough = _more(len(forward), len(backward), interval)
    if enough:
        return done, True
    for amiss in (_too_short(forward, backward), _speed(forward, backward)):
        if amiss:
            return amiss, False
    return done, False


def _too_short(forward: tuple[Pass, ...], backward: tuple[Pass, ...]) -> Remark | None:
    wanted = {
        "after": max(ROCKING_REACH_DEG, _peak_deg(backward) + PAST_PEAK_DEG),
        "before": max(ROCKING_REACH_DEG, _peak_deg(forward) + PAST_PEAK_DEG),
    }
    for side, reached in (("after", _reach(forward)), ("before", _reach(backward))):
        goal = min(wanted[side], ROCKED_REACH_DEG)
        if reached < goal:
            return remark("rock-farther", side=side, reached_deg=reached, goal_deg=goal)
    return None


def _speed(forward: tuple[Pass, ...], backward: tuple[Pass, ...]) -> Remark | None:
    rpm = _rpm(forward[-2:]), _rpm(backward[-2:])
    if min(rpm) < SLOWEST_ROCKED_RPM:
        slow = "forwards" if rpm[0] < rpm[1] else "back"
        return remark("rock-faster", way=slow, speed_rpm=min(rpm), turn_s=60 / SLOWEST_ROCKED_RPM)
    if max(rpm) > 2.0 * BRISK_RPM:
        return remark("rock-gently", speed_rpm=max(rpm), most_rpm=BRISK_RPM)
    if max(rpm) > UNEVEN * min(rpm):
        fast, other = ("forwards", "back") if rpm[0] > rpm[1] else ("back", "forwards")
        return remark("rock-alike", fast=fast, fast_rpm=max(rpm), slow=other, slow_rpm=min(rpm))
    return None


def _more(forward: int, backward: int, interval: Interval | None) -> tuple[Remark, bool]:
    fewest = min(forward, backward)
    if fewest < SWINGS_EACH_WAY:
        missing = SWINGS_EACH_WAY - fewest
        return remark("rock-again", missing=missing), False
    if interval is None:
        return remark("rock-no-peak"), False
    half_deg = interval.half_width
    if half_deg <= ENOUGH_HALF_DEG:
        return remark("rocked-enough", half_width_deg=half_deg), True
    if fewest >= MOST_EACH_WAY:
        return remark("rocking-no-longer-helps", half_width_deg=half_deg), False
    return remark("rock-on", half_width_deg=half_deg), False


def _reach(passes: tuple[Pass, ...]) -> float:
    """Return how far past TDC the last two swings of one direction went, the lesser of them."""
    if not passes:
        return 0.0
    way = 1.0 if passes[0].forward else -1.0
    return float(min(np.max(way * (p.angle_deg - p.tdc_deg)) for p in passes[-2:]))


def _peak_deg(passes: tuple[Pass, ...]) -> float:
    """Return how far from TDC the pressure peaks."""
    return median([abs(p.peak_angle_deg - p.tdc_deg) for p in passes])


def _rpm(passes: tuple[Pass, ...]) -> float:
    return median([p.speed_rpm for p in passes]) if passes else 0.0
