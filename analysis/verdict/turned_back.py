"""Was the crank turned backwards, and what does that leave in doubt?"""

from __future__ import annotations

from typing import Final

import numpy as np

from strokewise.analysis.crank.strokes import TOGETHER_DEG, firing_offsets, nearest
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile
from strokewise.analysis.remark import Notice, Remark, notice
from strokewise.analysis.trace.spacing import HAND_MOST_RPM, why_not_backwards
from strokewise.analysis.trade import DEG_S_PER_RPM
from strokewise.analysis.verdict.judge import Judgement
from strokewise.analysis.verdict.reasons import TURNED_ENOUGH_DEG

TURNED_BACK: Final = "turned-back"
"""Code of the warning that the crank was turned backwards."""

FAST_BACK_DEG = 360.0
"""Turned backwards faster than any hand for so long: no kick-back and no slip of the clamp."""


def cranked_backwards(judgement: Judgement) -> Remark | None:
    """Return why nothing is said where a starter seems to have turned the crank backwards.

    A compression may hold a starter up until it passes no faster than a hand; between them it runs.
    """
    nodes = judgement.nodes
    step_deg = np.diff(nodes.angle_deg)
    fast = nodes.speed_deg_s[1:] < -HAND_MOST_RPM * DEG_S_PER_RPM
    back_deg = -float(step_deg[fast].sum())
    if back_deg < max(FAST_BACK_DEG, 0.5 * float(np.abs(step_deg).sum())):
        return None
    return why_not_backwards(median(-nodes.speed_deg_s[1:][fast]) / DEG_S_PER_RPM)


def direction_notices(judgement: Judgement, profile: Profile, cylinder: int) -> tuple[Notice, ...]:
    """Return a warning where the crank was turned backwards: no pressure shows whether it was.

    Turned either way a cylinder squeezes at the same TDC, so the sensed one's answer stands. Where
    the others fire follows from the direction, which is a person's word.
    """
    way = sum(
        abs(judgement.nodes.angle_deg[r.stop - 1] - judgement.nodes.angle_deg[r.start])
        * r.direction
        for r in judgement.runs
    )
    if way > -TURNED_ENOUGH_DEG / 2:
        return ()
    return (notice(TURNED_BACK, others_too=direction_matters(profile, cylinder)),)


def direction_matters(profile: Profile, cylinder: int) -> bool:
    """Return whether another cylinder would fire elsewhere with the direction turned round."""
    offsets = firing_offsets(profile.firing_order, profile.firing_intervals_deg)
    return any(
        abs(nearest(2.0 * (offset - offsets[cylinder]), profile.cycle_deg)) > TOGETHER_DEG
        for offset in offsets.values()
    )
