"""Does the last compression alone stand off the others? Then live no answer is sure until the next.

It may be the clamp that slipped just now, or samples that were lost: one compression does not tell
which, and a recording that ends there is answered without it. But whoever turns a crank by what
stands on the screen must not be told something that this compression contradicts.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.median import median
from strokewise.analysis.remark import remark
from strokewise.analysis.trace.passes import Hump
from strokewise.analysis.trace.spacing import FAST_RPM, one_each
from strokewise.analysis.trace.steady import MOVED_FAST_DEG, MOVED_LAG_DEG_RPM, SPEED_NODES
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.analysis.verdict.judge import RIPE_DEG, Judgement
from strokewise.analysis.verdict.verdict import Verdict

OTHERS_LEAST, OTHERS_MOST = 2, 5
"""Compressions before it that the last one is held against."""

SUSPECT_SCATTERS = 3.0
"""Off by more than so many times what the others scatter. A slip is concluded from more; here an
answer is only held back for one compression."""


def held_back(verdict: Verdict, judgement: Judgement | None) -> Verdict:
    """Return the verdict, undecided where the last whole compression contradicts it."""
    off_deg = 0.0 if judgement is None or not verdict.decided else last_off_deg(judgement)
    if not off_deg:
        return verdict
    return replace(
        verdict,
        decided=False,
        firing_deg=None,
        tdc=None,
        reason=remark("last-compression-off", off_deg=off_deg),
    )


def last_off_deg(judgement: Judgement) -> float:
    """Return by how much the last whole compression stands off those before; 0 where it fits."""
    nodes = judgement.nodes
    humps = [h for h in one_each(judgement.humps) if h.moving]
    if len(humps) <= OTHERS_LEAST:
        return 0.0
    last = humps[-1]
    if (float(nodes.angle_deg[-1]) - last.angle_deg) * last.direction < RIPE_DEG:
        return 0.0  # not over yet, or the crank fell back from it
    others = [h for h in humps[:-1] if h.direction == last.direction][-OTHERS_MOST:]
    speeds = [_speed_rpm(judgement, h) for h in (*others, last)]
    if len(others) < OTHERS_LEAST or min(speeds) < FAST_RPM:
        return 0.0
    first = others[-1].angle_deg
    places = np.array([nearest(h.angle_deg - first, 360.0) for h in others])
    usual = median(places)
    scatter = median(np.abs(places - usual))
    lag = MOVED_LAG_DEG_RPM * abs(1.0 / speeds[-1] - 1.0 / median(speeds[:-1]))
    off = nearest(last.angle_deg - first - usual, 360.0)
    return off if abs(off) > max(MOVED_FAST_DEG[0], SUSPECT_SCATTERS * scatter) + lag else 0.0


def _speed_rpm(judgement: Judgement, hump: Hump) -> float:
    part = judgement.nodes.speed_deg_s[max(hump.at - SPEED_NODES, 0) : hump.at + SPEED_NODES + 1]
    return median(np.abs(part)) / DEG_S_PER_RPM
