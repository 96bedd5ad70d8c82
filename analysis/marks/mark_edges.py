"""Where do the edges, or the presses, of one mark agree that it is?

Edges that come at two places are not averaged: a step in time is something that slipped, a few
elsewhere are strays, and a mixture is two marks under one pickup.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.crank.strokes import nearest, within
from strokewise.analysis.median import median
from strokewise.analysis.remark import Notice, notice
from strokewise.analysis.trace.marks_met import MarkPress

FloatArray = NDArray[np.float64]

EDGE_SCATTER_DEG = 0.2
EDGE_SCATTER_WEIGHT = 2
"""What edges of a pickup wander from pass to pass, and how many passes that prior is worth."""

PLACE_SIGMA_DEG = 1.0
"""How near a person brings a mark to its pointer by eye, one time (common practice, no source)."""

PARALLAX_SIGMA_DEG = 0.3
"""Looking at it aslant is the same every time and does not average out (common practice)."""

REACTION_S = 0.20
REACTION_SIGMA_S = 0.08
REACTION_COMMON_S = 0.05
"""A key is pressed this long after the eye has seen it, give or take, and what of that is the same
for one person every time (simple reaction to sight, from memory)."""

APART_DEG = 5.0
"""Passes further apart than this are different marks under one pickup: no bracket moves so much."""

MOST_OF_THEM = 0.8
"""Share of the passes that must agree before the rest count as strays."""

STEP_PASSES = 2
"""A step needs this many passes on each side, or it is a stray at either end."""


@dataclass(frozen=True, slots=True)
class Agreed:
    """A mark's place in the encoder frame.

    Attributes
    ----------
    kept_deg : (n,) ndarray
        The edges that it rests on, in time order; empty for presses.
    step_deg : float or None
        How far it jumped, where it stood at one place and then at another.
    """

    centre_deg: float
    sigma_deg: float
    kept_deg: FloatArray
    step_deg: float | None = None


def edges_agree(
    name: str, angles: FloatArray, period_deg: float, cell_deg: float
) -> tuple[Agreed | None, list[Notice]]:
    """Return where edges met turning one way, in time order, place a mark.

    None for no edges, and where they come at several places.
    """
    if not len(angles):
        return None, []
    away = np.array([nearest(a - angles[0], period_deg) for a in angles])
    label = _labels(away, period_deg)
    counts = np.bincount(label)
    if len(counts) == 1:
        return _agreed(angles, period_deg, cell_deg), []
    if len(counts) == 2 and _is_step(label):
        last = _agreed(angles[label == label[-1]], period_deg, cell_deg)
        first = _agreed(angles[label == label[0]], period_deg, cell_deg)
        step_deg = nearest(last.centre_deg - first.centre_deg, period_deg)
        stepped = Agreed(last.centre_deg, last.sigma_deg, last.kept_deg, step_deg)
        return stepped, [notice("mark-stepped", mark=name, step_deg=step_deg)]
    most = int(np.argmax(counts))
    if counts[most] < MOST_OF_THEM * len(angles):
        places = tuple(within(float(angles[label == k][0]), period_deg) for k in range(len(counts)))
        return None, [notice("mark-several", mark=name, places_deg=places)]
    left_out = len(angles) - int(counts[most])
    kept = _agreed(angles[label == most], period_deg, cell_deg)
    return kept, [notice("mark-strays", mark=name, edges=left_out, of=len(angles))]


def _is_step(label: NDArray[np.int64]) -> bool:
    """One group of passes wholly before the other."""
    changes = np.flatnonzero(np.diff(label))
    least = min(np.bincount(label))
    return len(changes) == 1 and least >= STEP_PASSES


def _agreed(angles: FloatArray, period_deg: float, cell_deg: float) -> Agreed:
    away = np.array([nearest(a - angles[0], period_deg) for a in angles])
    centre = median(away)
    rest = float(np.sum((away - centre) ** 2))
    prior = EDGE_SCATTER_WEIGHT * EDGE_SCATTER_DEG**2
    scatter_square = (prior + rest) / (EDGE_SCATTER_WEIGHT + len(away) - 1)
    if len(away) > 2:
        scatter_square *= np.pi / 2  # of a median, over that of a mean
    # the width of a count is the same every time and does not average out
    sigma = sqrt(scatter_square / len(away) + cell_deg**2 / 12)
    return Agreed(float(angles[0]) + centre, sigma, angles)


def _labels(away: FloatArray, period_deg: float) -> NDArray[np.int64]:
    """Number the groups of angles whose neighbours on the circle lie near; from 0, no order."""
    order = np.argsort(away)
    ordered = away[order]
    group = np.concatenate([[0], np.cumsum(np.diff(ordered) > APART_DEG)])
    if ordered[0] + period_deg - ordered[-1] <= APART_DEG:
        group[group == group[-1]] = 0  # the last group goes on over the wrap
    label = np.empty(len(away), np.int64)
    label[order] = group
    return label


def pressed_agree(
    name: str, presses: Sequence[MarkPress], period_deg: float
) -> tuple[Agreed | None, list[Notice]]:
    """Return where presses made while creeping up or standing place a mark.

    None where all were made turning back.
    """
    own_way = [p for p in presses if p.speed_deg_s > -1.0]
    notices = []
    if len(own_way) < len(presses):
        back = len(presses) - len(own_way)
        notices.append(notice("press-backward", mark=name, presses=back))
    if not own_way:
        return None, notices
    if len(own_way) < 3:
        notices.append(notice("press-few", mark=name, presses=len(own_way)))
    speeds = np.array([max(p.speed_deg_s, 0.0) for p in own_way])
    angles = np.array([p.angle_deg for p in own_way]) - speeds * REACTION_S
    away = np.array([nearest(a - angles[0], period_deg) for a in angles])
    weights = 1 / (PLACE_SIGMA_DEG**2 + (speeds * REACTION_SIGMA_S) ** 2)
    centre = float(np.average(away, weights=weights))
    # presses that scatter more than expected widen the answer
    worse = 1.0
    if len(away) > 1:
        worse = max(1.0, float(np.sum(weights * (away - centre) ** 2)) / (len(away) - 1))
    common = hypot(PARALLAX_SIGMA_DEG, float(np.mean(speeds)) * REACTION_COMMON_S)
    sigma = hypot(sqrt(worse / float(weights.sum())), common)
    return Agreed(float(angles[0]) + centre, sigma, np.empty(0)), notices
