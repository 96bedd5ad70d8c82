"""Which maxima stand out from their surroundings, and by how much?

As ``scipy.signal.find_peaks`` with its ``prominence`` has it, and held against it in the tests: all
of ``scipy.signal`` takes as long to load as a short recording to answer.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from strokewise.analysis.crank.angle import FloatArray
from strokewise.analysis.samples import IntArray


class Peak(NamedTuple):
    """A maximum, and the lowest places on both sides before anything higher comes.

    ``at`` is the middle of a flat top; ``prominence`` the height over the higher of the two bases.
    """

    at: int
    prominence: float
    left_base: int
    right_base: int


class Valley(NamedTuple):
    """The lowest value between two tops, and the how manieth valley it is."""

    value: float
    number: int


def peaks_of(values: FloatArray, least: float) -> list[Peak]:
    """Return the peaks of at least this prominence, in order; an end is no peak.

    Parameters
    ----------
    values : (n,) float
        Finite.
    least : float
        In the unit of the values.
    """
    at = _without_ripple(values, _tops(values), least)
    if not len(at):
        return []
    # Between two neighbouring tops lies a valley.
    cuts = [0, *at.tolist(), len(values)]
    valleys = np.minimum.reduceat(values, cuts[:-1]).tolist()
    heights = values[at].tolist()
    lefts = _lowest_before(heights, valleys)
    rights = _lowest_before(heights[::-1], valleys[::-1])[::-1]
    found = []
    for top, height, left, right in zip(at.tolist(), heights, lefts, rights, strict=True):
        prominence = height - max(left.value, right.value)
        if prominence >= least:
            before, after = left.number, len(valleys) - 1 - right.number
            fallen = values[cuts[before] : cuts[before + 1]][::-1]
            falling = values[cuts[after] : cuts[after + 1]]
            left_base = cuts[before + 1] - 1 - int(fallen.argmin())
            found.append(Peak(top, prominence, left_base, cuts[after] + int(falling.argmin())))
    return found


def _tops(values: FloatArray) -> IntArray:
    """Return the middle of each stretch of equal values that both neighbours lie below."""
    starts = np.concatenate([[0], np.flatnonzero(values[1:] != values[:-1]) + 1])
    level = values[starts]
    inner = 1 + np.flatnonzero((level[:-2] < level[1:-1]) & (level[1:-1] > level[2:]))
    tops: IntArray = (starts[inner] + starts[inner + 1] - 1) // 2
    return tops


def _without_ripple(values: FloatArray, at: IntArray, least: float) -> IntArray:
    """Return the tops that may be peaks: those from which a higher one is not reached too early.

    A top stands out by no more than its height over the valley between it and a higher neighbour.
    Where that is too little it is left out, and no base of a peak moves: whatever it held apart is
    joined by a valley higher than any peak's base there.
    """
    if len(at) <= 2:
        return at
    lowest = np.minimum.reduceat(values, at)  # from each top to the next
    while len(at) > 2:
        height, valley = values[at], lowest[:-1]
        rises, falls = height[:-1] < height[1:], height[:-1] > height[1:]
        ripple = np.zeros(len(at), np.bool_)
        ripple[:-1] = rises & (height[:-1] - valley < least)
        ripple[1:] |= falls & (height[1:] - valley < least)
        if not ripple.any():
            break
        kept = np.flatnonzero(~ripple)
        at, lowest = at[kept], np.minimum.reduceat(lowest, kept)
    return at


def _lowest_before(heights: list[float], valleys: list[float]) -> list[Valley]:
    """Return for each top the lowest valley between it and the last higher one before it.

    Of valleys as low as each other it is the nearest.
    """
    lowest = []
    open_tops: list[tuple[float, Valley]] = []  # falling heights, and the lowest in front of each
    for number, (height, value) in enumerate(zip(heights, valleys, strict=False)):
        least = Valley(value, number)
        while open_tops and open_tops[-1][0] <= height:
            farther = open_tops.pop()[1]
            least = farther if farther.value < least.value else least
        open_tops.append((height, least))
        lowest.append(least)
    return lowest
