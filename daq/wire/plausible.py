"""Can a board have measured this? Readings, counts and times against what it says of itself.

What a converter cannot give and no shaft can do is left out and counted, never believed: a frame
may come whole and proven from a board whose memory or firmware is damaged.
"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.samples import Board, BoolArray, IntArray, Samples

MOST_REV_S = 500.0
"""Turns a second of an encoder's shaft: 30,000 rev/min, past any bearing such encoders have."""

LEAST_COUNTS_PER_REV = 2400
"""A board that states fewer may be mistaken about it; its count is held against this many."""

UNKNOWN_COUNTS_PER_REV = 65_536
"""While nothing is stated: the finest encoders that are met."""

DISAGREE_COUNTS = 256
"""Two frames may disagree by this whatever the time between: an event that waited on its way, a
clock read a moment before the count."""

FRAMES_TO_BELIEVE = 3
"""Frames in a row that agree with each other, and not with what came before: the board counts
anew."""


def counts_a_us(board: Board | None) -> float:
    """Return the most counts in a microsecond that the board's encoder can give."""
    stated = None if board is None else board.counts_per_rev
    per_rev = UNKNOWN_COUNTS_PER_REV if stated is None else max(stated, LEAST_COUNTS_PER_REV)
    return MOST_REV_S * per_rev * 1e-6


def can_turn(counts: int, within_us: int, most_a_us: float) -> bool:
    """Tell whether a shaft can have turned by so many counts within a time."""
    return abs(counts) <= DISAGREE_COUNTS + most_a_us * abs(within_us)


def possible(samples: Samples, sizes: IntArray, board: Board | None) -> BoolArray | None:
    """Return which samples a board can have measured, (n,) bool; None where all of them are.

    Parameters
    ----------
    sizes : (m,) int
        How many samples each block holds, in order: within a block a count is held against that of
        its first sample.
    """
    if not len(samples):
        return None
    sound = readable(samples, board)
    most = counts_a_us(board)
    if _leaps(samples, most):
        first = np.repeat(np.cumsum(sizes) - sizes, sizes)
        turned = _within(samples.count, first)
        near = turned <= DISAGREE_COUNTS + most * _within(samples.time_us, first)
        sound = near if sound is None else sound & near
    return None if sound is None or bool(sound.all()) else sound


def _leaps(samples: Samples, most_a_us: float) -> bool:
    step = np.abs(np.diff(samples.count))
    if step.max(initial=0) <= DISAGREE_COUNTS:
        return False
    within_us = np.maximum(np.diff(samples.time_us), 0)
    return bool((step > DISAGREE_COUNTS + most_a_us * within_us).any())


def readable(samples: Samples, board: Board | None) -> BoolArray | None:
    """Return which samples the board's converter can give, (n,) bool; None where all of them."""
    bits = None if board is None else board.adc_bits
    if not bits or not len(samples) or int(samples.readings.max()) < 1 << bits:
        return None
    return np.asarray((samples.readings < 1 << bits).all(axis=1))


def _within(values: IntArray, first: IntArray) -> IntArray:
    within: IntArray = np.abs(values - values[first])
    return within
