"""A short run of a board, as frames: what most tests of this room start from."""

from collections.abc import Callable

import numpy as np
import pytest

from strokewise.analysis.samples import Board
from strokewise.daq.wire.encoder import Sendable
from strokewise.daq.wire.frames import Event, Hello, sample_blocks

BoardRun = Callable[..., list[Sendable]]


@pytest.fixture(scope="session")
def board_run() -> BoardRun:
    """Return a maker of runs: a hello, blocks of samples, an event behind every third block."""

    def make(
        blocks: int = 12,
        *,
        t_us: int = 1000,
        count: int = 0,
        boot: int | None = None,
        per_block: int = 8,
        channels: int = 1,
        period_us: int = 500,
        seed: int = 0,
    ) -> list[Sendable]:
        rng = np.random.default_rng(seed)
        n = blocks * per_block
        counts = count + np.cumsum(rng.integers(-3, 20, n))
        readings = rng.integers(0, 4096, (n, channels))
        names = ("pressure", "manifold", "oil", "spare")[:channels]
        frames: list[Sendable] = [Hello(Board("bench board", 2400, 12, names, boot))]
        cut = sample_blocks(t_us, period_us, counts, readings, per_block=per_block)
        for number, block in enumerate(cut):
            frames.append(block)
            if number % 3 == 2:
                at = number * per_block
                when = (t_us + at * period_us + 7) % 2**32
                frames.append(Event(when, int(counts[at]), number % 2))
        return frames

    return make
