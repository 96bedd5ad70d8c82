"""A stretch of the bench's time line without physics, and what a decoder makes of bytes."""

from types import SimpleNamespace

import numpy as np
import pytest

from strokewise.daq.bench.engine.settings import BenchEngine
from strokewise.daq.bench.engine.stretch import Stretch
from strokewise.daq.recording.container import Chunk
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join


def even_stretch(seconds=3.0, rpm=200.0, start_deg=-50.0):
    """The crank at one speed; cylinder 1 has a hump about its firing TDC, the others nothing."""
    time_s = np.linspace(0.0, seconds, round(seconds * 2000) + 1)
    crank = start_deg + rpm * 6.0 * time_s
    engine = BenchEngine()
    pressure = np.full((len(time_s), engine.cylinders), 1.013)
    from_tdc = (crank + 360.0) % 720.0 - 360.0
    pressure[:, 0] += 10.0 * np.exp(-((from_tdc / 25.0) ** 2))
    return Stretch(
        engine, time_s, crank, np.full_like(time_s, rpm), pressure, np.full_like(time_s, 0.95)
    )


def decoded(messages):
    """The segments and the health of what a board sent, (time_s, bytes) in order."""
    intake = Intake()
    chunks = [Chunk(round(when * 1e6), data) for when, data in messages]
    blocks = intake.feed(chunks)
    segments = join(blocks + intake.finish())
    return segments, intake.health


def bar(readings, points):
    (low, low_bar), (high, high_bar) = points
    return low_bar + (np.asarray(readings, float) - low) * (high_bar - low_bar) / (high - low)


@pytest.fixture(scope="session")
def bench_toys():
    return SimpleNamespace(stretch=even_stretch, decoded=decoded, bar=bar)
