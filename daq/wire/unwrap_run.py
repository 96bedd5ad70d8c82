"""Where do the frames of a run lie, and which of them follow on each other as they should?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strokewise.analysis.samples import BoolArray, IntArray
from strokewise.daq.wire.lost import LONE_BLOCKS, NUMBERS
from strokewise.daq.wire.plausible import DISAGREE_COUNTS
from strokewise.daq.wire.runs import FrameRun

HALF_RANGE = 2**31
LOW_BITS = 2**32 - 1
"""A 32-bit time or count is taken for the number nearest to the one before."""

WRAP_LIMIT_US = 60_000_000
"""Longest pause after which a time that starts over may still be a wrap.

A wrap comes without a pause unless frames were lost across it; a restart can come at any time, and
a longer limit would take more of them for wraps (a minute is 1.4 % of the 71 minutes)."""

EVENT_SLACK_US = 1_000_000
"""How far an event may lie behind samples that were sent before it: it waited on the board."""


@dataclass(frozen=True, slots=True)
class RunPlaces:
    """Places of all frames, unwrapped on from the run's first block.

    Attributes
    ----------
    time_us, count : (f,) int64
    follows : (f,) bool
        True where the frame's number, time and count go on from those before it in every way, so
        that it can be taken without a question asked. Never of the first.
    """

    time_us: IntArray
    count: IntArray
    follows: BoolArray

    def stop(self, start: int) -> int:
        """Return up to which frame all follow on each other from this one on."""
        breaks = np.flatnonzero(~self.follows[start:])
        return start + int(breaks[0]) if len(breaks) else len(self.follows)


def places_in(run: FrameRun, most_a_us: float) -> RunPlaces:
    """Unwrap a run.

    Parameters
    ----------
    most_a_us : float
        Counts in a microsecond above which no shaft turns.
    """
    is_block = run.is_block
    near = np.maximum(run.block_at - is_block, 0)  # the block in front of each frame
    first_us, first_count = run.t_us[is_block], run.count[is_block]
    ahead_us, turned = wrapped(run.t_us - first_us[near]), wrapped(run.count - first_count[near])
    lasts_us = run.blocks["period_us"].astype(np.int64)[near] * run.size
    turns = np.abs(turned) <= DISAGREE_COUNTS + most_a_us * ahead_us
    no_hole = (ahead_us - lasts_us < LONE_BLOCKS * lasts_us) | (lasts_us == 0)
    in_place = np.where(is_block, (ahead_us >= 0) & turns & no_hole, ahead_us >= -EVENT_SLACK_US)
    follows = in_place & (ahead_us <= WRAP_LIMIT_US)
    follows[0] = False
    follows[1:] &= np.diff(run.sequence) % NUMBERS == 1
    return RunPlaces(
        np.cumsum(ahead_us[is_block])[near] + ahead_us,
        np.cumsum(turned[is_block])[near] + turned,
        follows,
    )


def wrapped(differences: IntArray) -> IntArray:
    """Return differences of 32-bit numbers, each to the nearest."""
    nearest: IntArray = (differences + HALF_RANGE & LOW_BITS) - HALF_RANGE
    return nearest
