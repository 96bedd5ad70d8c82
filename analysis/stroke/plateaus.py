"""Which of the two TDCs drives the sensor to the end of its range?

Cut off at both feet, a compression leaves no rise to weigh, but where the sensor stands tells.
"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.median import median
from strokewise.analysis.stroke.passages import Visit

PLATEAU_ABOVE_BAR = 0.04
"""A sensor at its end shows a compression only if the other TDC stays so far under it: exhaust does
not."""

PLATEAU_SHARE, NO_PLATEAU_SHARE = 0.5, 0.2
"""Shares of the way near TDC at the sensor's end, from which and up to which a kind of turn counts
as cut off and as not: a charge that has leaked away leaves the end soon after TDC."""

PLATEAU_STEPS = 5.0
"""And it stands so many steps of the converter over the other TDC: a coarse one's own steps are
flat."""

PLATEAU_LOG_ODDS = 7.0
"""What one kind of turns with the sensor at its end, beside one without, is worth: e^7 each."""

AT_END_SHARE, AT_END_OFTEN, FEWEST_AT_END = 0.01, 0.8, 2
"""A sensor was at its end for more than this share of the way near TDC, in so large a share of the
turns of one kind, of at least so many of each."""

HAND_ABOVE_RPM, HAND_ABOVE_BAR = 100.0, 0.02
"""No hand turns an engine faster, and slower the other TDC, breathing without resistance, stays by
so much under the sensor's end."""


def plateau_evidence(
    kinds: list[tuple[Visit, ...]],
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Weigh a sensor that stands at the end of its range through one kind of turns.

    The likelihoods of rises know nothing of it: cut off at both feet, there is no rise left.
    """
    nothing = np.zeros(4)
    if not kinds[0] or not kinds[1]:
        return nothing
    alone = _end_reached(kinds)
    if alone is not None and _alternate(*kinds):
        nothing[alone] = 2.0 * PLATEAU_LOG_ODDS * min(len(kinds[0]), len(kinds[1]), 2)
        return nothing
    shares = [median([v.top_share for v in kind]) for kind in kinds]
    levels = [median([v.level_bar for v in kind]) for kind in kinds]
    high = int(np.argmax(levels))
    if shares[high] < PLATEAU_SHARE or shares[1 - high] > NO_PLATEAU_SHARE:
        return nothing
    least = max(PLATEAU_ABOVE_BAR, PLATEAU_STEPS * max(v.step_bar for v in kinds[high]))
    if levels[high] - levels[1 - high] < least or not _alternate(*kinds):
        return nothing
    repeats = min(len(kinds[0]), len(kinds[1]), 2)
    nothing[high] = 2.0 * PLATEAU_LOG_ODDS * repeats
    return nothing


def _end_reached(kinds: list[tuple[Visit, ...]]) -> int | None:
    """Return the kind of turns that alone drives the sensor to its end, by hand; None if none does.

    With leaking rings a sensor of small range comes off its end soon after TDC, and so stands there
    for a small share of the way only. By hand nothing but a compression brings it there.
    """
    if any(len(kind) < FEWEST_AT_END for kind in kinds):
        return None
    if max(v.speed_rpm for kind in kinds for v in kind) > HAND_ABOVE_RPM:
        return None
    often = [sum(v.top_share > AT_END_SHARE for v in kind) / len(kind) for kind in kinds]
    high = int(np.argmax(often))
    never = max(v.top_share for v in kinds[1 - high]) <= AT_END_SHARE
    least = max(HAND_ABOVE_BAR, PLATEAU_STEPS * max(v.step_bar for v in kinds[high]))
    highest = max(v.top_bar for v in kinds[1 - high])
    apart = median([v.top_bar for v in kinds[high]]) - highest >= least
    return high if often[high] >= AT_END_OFTEN and never and apart else None


def _alternate(one: tuple[Visit, ...], other: tuple[Visit, ...]) -> bool:
    """Return whether one kind was seen between two of the other: a drift goes one way only."""
    return any(
        around[0].time_s < visit.time_s < around[-1].time_s
        for around, within in ((one, other), (other, one))
        for visit in within
    )
