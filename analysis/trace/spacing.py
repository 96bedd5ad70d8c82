"""Do compressions come as the profile says that they do? Their spacing, and which way they are met.

Counts or a drive ratio that are stated wrongly move every compression by the same.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.median import median
from strokewise.analysis.remark import Remark, remark
from strokewise.analysis.trace.passes import Hump

FAST_RPM = 70.0
"""Faster than this the peak's angle is steady to a degree or two."""

SAME_COMPRESSION_DEG = 170.0
"""Peaks closer than this in one direction belong to one compression, in which the crank paused, or
to what leaks back in after it. Compressions lie a turn apart; a wrong ratio of 4 leaves 180°."""

BURNING_MOVES_DEG = 60.0
"""A burning charge peaks up to 40° after TDC, one that misses fire some degrees before it."""

RATIO_HUMPS, RATIO_TWICE_HUMPS = 4, 3
"""Compressions in a row that it takes to tell a wrong ratio from a slip; fewer where each comes a
cycle late by it, which no slip does twice."""

RATIO_OFF_DEG = 6.0
"""Spacing of compressions off a whole turn by more, and by more than it scatters, is no lost count
here and there."""

RATIO_SCATTER_DEG = 6.0
"""A wrong ratio moves every compression by the same, within this at starter speed …"""

RATIO_SCATTER_SHARE = 0.01
"""… and this share of what lies between them."""

LEAST_SPACING_DEG, MOST_SPACING_DEG = 60.0, 1080.0
"""Closer than the first, humps are no compressions of a cylinder at any ratio that is met; further
apart than the second, the ratio is wrong though they come in whole turns."""

HAND_MOST_RPM = 100.0
"""No hand turns an engine through compressions faster than this; a starter turns it one way
only."""


def one_each(humps: tuple[Hump, ...]) -> tuple[Hump, ...]:
    """Return the highest peak of each compression; pauses make several in one."""
    kept: list[Hump] = []
    for hump in humps:
        if (
            kept
            and kept[-1].direction == hump.direction
            and abs(hump.angle_deg - kept[-1].angle_deg) < SAME_COMPRESSION_DEG
        ):
            if hump.pressure_bar > kept[-1].pressure_bar:
                kept[-1] = hump
        else:
            kept.append(hump)
    return tuple(kept)


def backwards_by_starter(humps: tuple[Hump, ...], speeds: list[float]) -> Remark | None:
    """Return why nothing holds where all compressions were met backwards, and too fast for it."""
    backwards = [s for h, s in zip(humps, speeds, strict=True) if h.direction < 0]
    if len(backwards) < len(humps) or median(backwards) < HAND_MOST_RPM:
        return None
    return why_not_backwards(median(backwards))


def why_not_backwards(speed_rpm: float) -> Remark:
    """Say that a crank cannot have been turned backwards so fast."""
    return remark("backwards-too-fast", speed_rpm=speed_rpm)


def wrong_ratio(humps: tuple[Hump, ...], speeds: list[float]) -> Remark | None:
    """Return why nothing holds where a spacing is wrong by the same every time."""
    last = humps[-RATIO_HUMPS:]
    if len(last) < RATIO_TWICE_HUMPS or len({h.direction for h in last}) > 1:
        return None
    if min(speeds[-RATIO_HUMPS:]) < FAST_RPM or not all(h.moving for h in last):
        return None
    spacing = np.abs(np.diff([h.angle_deg for h in last]))
    middle = median(spacing)
    if len(last) < RATIO_HUMPS and float(spacing.min()) <= MOST_SPACING_DEG:
        return None
    if (
        np.ptp(spacing) > RATIO_SCATTER_DEG + RATIO_SCATTER_SHARE * middle
        or middle < LEAST_SPACING_DEG
    ):
        return None
    off = nearest(middle, 360.0)
    twice = middle > MOST_SPACING_DEG
    if abs(off) < max(RATIO_OFF_DEG, 2.0 * float(np.ptp(spacing))) and not twice:
        return None
    return _come_otherwise(middle)


def burning_otherwise(humps: tuple[Hump, ...]) -> Remark | None:
    """Return what refuses burning compressions that do not come at one angle of the crank.

    Counts or a ratio that are wrong bend the flanks as burning does; and of what burned, neither a
    slip nor a ratio is looked for.
    """
    each = one_each(humps)
    if len(each) < 2:
        return None
    every_deg = median([abs(b.angle_deg - a.angle_deg) for a, b in pairwise(each)])
    if abs(nearest(every_deg, 360.0)) < BURNING_MOVES_DEG and every_deg <= MOST_SPACING_DEG:
        return None
    return _come_otherwise(every_deg)


def _come_otherwise(every_deg: float) -> Remark:
    return remark("compressions-come-otherwise", every_deg=every_deg)
