"""What does one step of the encoder's two channels count?

Channels A and B are square waves a quarter of a period apart, so their pair of levels runs through
a Gray code in which neighbours differ in one channel. All four edges count. A step in which both
channels change at once skipped a state: it may have gone either way and counts as nothing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strokewise.analysis.samples import BoolArray, IntArray

RISING = (0b00, 0b01, 0b11, 0b10)
"""States, A in the low bit and B in the high one, in the order in which the count rises."""

STEPS: NDArray[np.int64] = np.array(
    [
        # to   00  01  10  11
        [+0, +1, -1, +0],  # from 00
        [-1, +0, +0, +1],  # from 01
        [+1, +0, +0, -1],  # from 10
        [+0, -1, +1, +0],  # from 11
    ]
)
"""Counts for a step from one state (row) to another (column)."""


def count_steps(states: ArrayLike) -> tuple[IntArray, BoolArray]:
    """Count a run of states as a board does.

    Parameters
    ----------
    states : (n,) int
        0 to 3: channel A in the low bit, B in the high bit.

    Returns
    -------
    count : (n,) int64
        0 at the first state.
    skipped : (n,) bool
        True where both channels changed at once, so that a count may be wrong from here on.

    Raises
    ------
    ValueError
        When a state is none of 0 to 3.
    """
    state = np.asarray(states, np.int64)
    if np.any((state < 0) | (state > 3)):
        raise ValueError("a state is two bits: 0 to 3")
    if not len(state):
        return np.empty(0, np.int64), np.empty(0, np.bool_)
    before = np.concatenate([state[:1], state[:-1]])
    count: IntArray = np.cumsum(STEPS[before, state])
    return count, (before ^ state) == 0b11
