"""What samples do these payloads hold? Many blocks opened at once, as numpy arrays."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.samples import BoolArray, Events, IntArray, Samples, Segment
from strokewise.daq.wire.frames import SHAPE, block_dtype


def open_blocks(arrived: Sequence[tuple[bytes, int, int, bool]]) -> Samples:
    """Open the payloads of sample blocks.

    Parameters
    ----------
    arrived : (m,) of (payload, time_us, count, gap)
        Blocks of one segment, in order: the checked payload, time and count at its start,
        unwrapped, and whether something was lost in front of it.

    Returns
    -------
    Samples
        With as many channels as every block has; empty when there are no blocks.
    """
    if not arrived:
        return Samples.empty()
    payloads, times_us, counts, gaps = zip(*arrived, strict=True)
    starts_us, start_counts = np.array(times_us, np.int64), np.array(counts, np.int64)
    shapes = {payload[SHAPE] for payload in payloads}
    if len(shapes) == 1:
        return _flat(*_open_alike(payloads, starts_us, start_counts), np.array(gaps))
    channels = min(shape[1] for shape in shapes)
    sizes = np.array([payload[SHAPE.start] for payload in payloads])
    firsts = np.cumsum(sizes) - sizes
    total = int(sizes.sum())
    time_us, count = np.empty(total, np.int64), np.empty(total, np.int64)
    readings = np.empty((total, channels), np.uint16)
    after_gap = np.zeros(total, np.bool_)
    after_gap[firsts] = gaps
    for shape in shapes:
        members = [i for i, payload in enumerate(payloads) if payload[SHAPE] == shape]
        where = firsts[members, np.newaxis] + np.arange(shape[0])
        time_us[where], count[where], wide = _open_alike(
            [payloads[i] for i in members], starts_us[members], start_counts[members]
        )
        readings[where] = wide[:, :, :channels]
    return Samples(time_us, count, readings, after_gap)


def _open_alike(
    payloads: Sequence[bytes], starts_us: IntArray, start_counts: IntArray
) -> tuple[IntArray, IntArray, NDArray[np.uint16]]:
    """Open blocks of one shape: time and count (m, n), readings (m, n, channels)."""
    shape = payloads[0][SHAPE]
    opened = np.frombuffer(b"".join(payloads), block_dtype(shape))
    # int64 first: a uint16 period times the step would wrap without a word
    period_us = opened["period_us"].astype(np.int64)[:, np.newaxis]
    time_us = starts_us[:, np.newaxis] + period_us * np.arange(shape[0])
    count = np.cumsum(opened["records"]["dcount"], axis=1, dtype=np.int64)
    count += start_counts[:, np.newaxis]
    return time_us, count, opened["records"]["adc"].astype(np.uint16)


def _flat(
    time_us: IntArray, count: IntArray, readings: NDArray[np.uint16], gaps: BoolArray
) -> Samples:
    after_gap = np.zeros(time_us.shape, np.bool_)
    after_gap[:, 0] = gaps
    flat_readings = readings.reshape(-1, readings.shape[2])
    return Samples(time_us.ravel(), count.ravel(), flat_readings, after_gap.ravel())


def rising(samples: Samples, after_us: int | None) -> Samples:
    """Return the samples whose time is later than all before them.

    A repeated block, or a clock that cannot tell two samples apart, adds nothing that a speed
    could be computed from.
    """
    time_us = samples.time_us
    if not len(time_us) or (
        (after_us is None or time_us[0] > after_us) and np.all(time_us[1:] > time_us[:-1])
    ):
        return samples
    before = np.maximum.accumulate(time_us)
    late = np.ones(len(time_us), np.bool_)
    late[1:] = time_us[1:] > before[:-1]
    return samples.only(late if after_us is None else late & (time_us > after_us))


def events(rows: Sequence[tuple[int, int, int]]) -> Events:
    """Return rows of (time, count, input) as events."""
    if not rows:
        return Events.empty()
    time_us, count, number = np.array(rows, np.int64).T
    return Events(time_us, count, number)


def join(blocks: Iterable[Segment]) -> tuple[Segment, ...]:
    """Put the blocks of each segment together.

    Parameters
    ----------
    blocks : iterable of Segment
        As they arrived: parts of one segment carry the same number.

    Returns
    -------
    tuple of Segment
        One for each number, in order of number, with what the board said last.
    """
    parts: defaultdict[int, list[Segment]] = defaultdict(list)
    for block in blocks:
        parts[block.number].append(block)
    return tuple(_joined(number, parts[number]) for number in sorted(parts))


def _joined(number: int, parts: list[Segment]) -> Segment:
    return Segment(
        number,
        next((part.board for part in reversed(parts) if part.board is not None), None),
        Samples.joined(part.samples for part in parts),
        Events.joined(part.events for part in parts),
        tuple(press for part in parts for press in part.presses),
    )
