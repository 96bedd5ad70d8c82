"""How does a stream become nodes, however it arrives?

Samples in, nodes out, with constant work a sample.

Samples are worked on in blocks of a fixed number, each with some context on both sides, so the
nodes do not depend on how the samples were cut into frames and reads: live and batch see the same
ones.
"""

from __future__ import annotations

import numpy as np

from strokewise.analysis.columns import rows_of
from strokewise.analysis.crank.angle import LADDER_MAX
from strokewise.analysis.median import median
from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.samples import Board, Samples, Segment
from strokewise.analysis.trace.nodes import Nodes, nodes_of
from strokewise.analysis.trace.trace import trace_of

BLOCK_S = 0.2
"""A block lasts about this long: short enough for a live answer, long enough to be cheap."""

CONTEXT = LADDER_MAX // 2 + 1
"""Samples on both sides that the smoothing of the angle looks at."""

BLOCK_LEAST, BLOCK_MOST = 128, 2048
"""Samples in a block at the least and the most."""


class Gatherer:
    """Turns the samples of one segment into nodes of one sensor, as they arrive.

    ``feed`` returns the nodes that have become final; ``rest`` shows what the samples not yet
    worked on would give, without taking them, and so closes a recording.
    """

    def __init__(self, profile: Profile, sensor: Sensor) -> None:
        self._profile, self._sensor = profile, sensor
        self._board: Board | None = None
        self._kept: list[Samples] = []
        self._waiting = 0  # samples kept, context included
        self._worked = 0  # of which this many in front are context only
        self._block = 0

    def feed(self, samples: Samples, board: Board | None = None) -> tuple[Nodes, ...]:
        """Take more samples of the segment; return the nodes of every block now complete."""
        self._board = board or self._board
        if len(samples):
            self._kept = [*self._kept, samples]  # a copy may go on from the old list
            self._waiting += len(samples)
        if not self._block and self._waiting >= 16:
            self._block = _block_size(Samples.joined(self._kept))
        if not self._block or self._waiting < self._worked + self._block + CONTEXT:
            return ()
        samples = Samples.joined(self._kept)
        done = []
        start = 0
        while len(samples) - start >= self._worked + self._block + CONTEXT:
            stop = start + self._worked + self._block + CONTEXT
            done.append(self._nodes(samples.only(slice(start, stop)), self._worked, self._block))
            step = self._worked + self._block - CONTEXT
            start += max(step, 0)
            self._worked = CONTEXT if step >= 0 else self._worked + self._block
        rest = samples.only(slice(start, None))
        self._kept, self._waiting = [rest], len(rest)
        return tuple(done)

    def rest(self) -> Nodes | None:
        """Return the nodes of the samples still waiting, or None when there are none."""
        if self._waiting <= self._worked:
            return None
        samples = Samples.joined(self._kept)
        return self._nodes(samples, self._worked, len(samples) - self._worked)

    def _nodes(self, samples: Samples, skip: int, take: int) -> Nodes:
        trace = trace_of(Segment(0, self._board, samples), self._profile, self._sensor)
        return nodes_of(rows_of(trace, slice(skip, skip + take)))


def _block_size(samples: Samples) -> int:
    period_s = max(median(np.diff(samples.time_us[:16])) * 1e-6, 1e-6)
    return int(np.clip(round(BLOCK_S / period_s), BLOCK_LEAST, BLOCK_MOST))
