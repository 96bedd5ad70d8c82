"""What should the person who rocks the crank do next? How far, how fast, and when it is enough.

From the compressions met so far, whichever window or terminal shows it. Turning back is the risky
part of it, so the profile's word on that comes first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.estimate import Interval, Notice
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile
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

WHY_ONE_WAY = (
    "this engine must never be turned back, so do not rock it: turn two full turns its own way by"
    " hand, brisk and without a pause near the top, or crank it in short bursts (method 'fit')"
)


@dataclass(frozen=True, slots=True)
class RockingGuidance:
    """Where the rocking stands and what comes next.

    Attributes
    ----------
    refused : bool
        The profile forbids turning back; ``instruction`` then names the way to go instead.
    enough : bool
        The middle is known well enough.
    instruction : str
        One sentence in plain words.
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
    instruction: str
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
    cautions = [
        Notice(
            "crank-bolt",
            "turning back by the crank's bolt can undo it (a left-hand one comes loose turning"
            " forwards): feel that it bites, and check its torque afterwards",
        ),
        Notice(
            "chain-and-belt",
            "turned back, a chain with a ratchet tensioner or a toothed belt can slacken and jump a"
            " tooth: only where the maker's manual allows it, gently, never against a resistance",
        ),
        Notice(
            "rocking-by-hand",
            "ignition off, battery disconnected, out of gear; a charge under compression can throw"
            " the crank back: hold the spanner so that it cannot hit you, and take it off after",
        ),
    ]
    if profile.turning_back is None:
        cautions.insert(
            0,
            Notice(
                "turning-back-unknown",
                "nobody said whether this engine may be turned back: look it up in the maker's"
                " manual first, and say so in the profile (turning_back)",
            ),
        )
    return tuple(cautions)


def guide(passes: tuple[Pass, ...], profile: Profile) -> RockingGuidance:
    """Return the next instruction.

    Parameters
    ----------
    passes : tuple of Pass
        Compressions of the sensed cylinder so far, oldest first; none at the start.
    """
    if profile.turning_back == "never":
        return RockingGuidance(True, False, WHY_ONE_WAY)
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
) -> tuple[str, bool]:
    """Return the instruction, and whether it is enough; the first thing amiss comes first."""
    if not forward and not backward:
        return (
            "turn forwards through the compression, brisk and even, until the pressure has risen"
            f" and fallen and you are {ROCKING_REACH_DEG:.0f}° or more past its top",
            False,
        )
    if not forward or not backward:
        way = "back" if forward else "forwards"
        return (
            f"now turn {way} through the same compression, as fast as you came, to"
            f" {ROCKING_REACH_DEG:.0f}° or more on its other side",
            False,
        )
    done, enough = _more(len(forward), len(backward), interval)
    if enough:
        return done, True
    for amiss in (_too_short(forward, backward), _speed(forward, backward)):
        if amiss:
            return amiss, False
    return done, False


def _too_short(forward: tuple[Pass, ...], backward: tuple[Pass, ...]) -> str:
    wanted = {
        "after": max(ROCKING_REACH_DEG, _peak_deg(backward) + PAST_PEAK_DEG),
        "before": max(ROCKING_REACH_DEG, _peak_deg(forward) + PAST_PEAK_DEG),
    }
    for side, reached in (("after", _reach(forward)), ("before", _reach(backward))):
        goal = min(wanted[side], ROCKED_REACH_DEG)
        if reached < goal:
            return f"go farther: {reached:.0f}° {side} TDC so far, {goal:.0f}° are wanted there"
    return ""


def _speed(forward: tuple[Pass, ...], backward: tuple[Pass, ...]) -> str:
    rpm = _rpm(forward[-2:]), _rpm(backward[-2:])
    if min(rpm) < SLOWEST_ROCKED_RPM:
        slow = "forwards" if rpm[0] < rpm[1] else "back"
        return (
            f"turn {slow} faster through the top, a turn in {60 / SLOWEST_ROCKED_RPM:.0f} s or"
            f" less: at {min(rpm):.0f} rev/min the charge leaks away before it is there"
        )
    if max(rpm) > 2.0 * BRISK_RPM:
        return f"gently: {max(rpm):.0f} rev/min is a jerk; {BRISK_RPM:.0f} at most will do"
    if max(rpm) > UNEVEN * min(rpm):
        fast, other = ("forwards", "back") if rpm[0] > rpm[1] else ("back", "forwards")
        return (
            f"turn both ways alike: {max(rpm):.0f} rev/min {fast} and {min(rpm):.0f} {other};"
            " the next two swings at one pace"
        )
    return ""


def _more(forward: int, backward: int, interval: Interval | None) -> tuple[str, bool]:
    fewest = min(forward, backward)
    if fewest < SWINGS_EACH_WAY:
        missing = SWINGS_EACH_WAY - fewest
        return f"good: the same again, {missing} more each way", False
    if interval is None:
        return "no peak could be placed: a little faster, and right through to both sides", False
    if interval.half_width <= ENOUGH_HALF_DEG:
        text = f"enough: TDC is known to ±{interval.half_width:.2f}°, if the clamp has no play"
        return f"{text}; take the spanner off", True
    if fewest >= MOST_EACH_WAY:
        return (
            f"more of the same no longer helps (±{interval.half_width:.2f}°): check that clamp and"
            " hose are tight, squirt a little oil into the cylinder against leaking, rock again",
            False,
        )
    return (
        f"±{interval.half_width:.2f}° so far: go on, both ways alike, two more each way",
        False,
    )


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
