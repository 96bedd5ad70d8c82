"""What samples do these payloads hold? Many blocks opened at once, as numpy arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.samples import Events, IntArray, Samples
from strokewise.daq.wire.frames import SHAPE, block_dtype

OneBlock = tuple[bytes, int, int, bool]
"""The checked payload of a block, time and count at its start, unwrapped, and whether something
was lost in front of it."""


@dataclass(frozen=True, slots=True)
class BlockRows:
    """Many blocks of one shape that follow on each other.

    Attributes
    ----------
    rows : (m,) structured
        Their payloads.
    time_us, count : (m,) int64
        At their starts, unwrapped.
    gap : bool
        Whether something was lost in front of the first.
    """

    rows: NDArray[np.void]
    time_us: IntArray
    count: IntArray
    gap: bool


def open_blocks(arrived: Sequence[OneBlock | BlockRows]) -> tuple[Samples, IntArray]:
    """Open the payloads of sample blocks.

    Parameters
    ----------
    arrived : sequence of OneBlock or BlockRows
        Blocks of one segment, in order.

    Returns
    -------
    Samples
        With as many channels as every block has; empty when there are no blocks.
    (m,) int64
        How many samples each block holds.
    """
    if not arrived:
        return Samples.empty(), np.empty(0, np.int64)
    samples = _room(sum(map(_samples_in, arrived)), min(map(_channels, arrived)))
    at, sizes, singles = 0, list[IntArray](), list[OneBlock]()
    for block in (*arrived, None):
        if isinstance(block, tuple):
            singles.append(block)
            continue
        if singles:
            sizes.append(_put_singles(singles, samples.only(slice(at, None))))
            at, singles = at + int(sizes[-1].sum()), []
        if block is not None:
            held = samples.only(slice(at, at + _samples_in(block)))
            _put(block.rows, block.time_us, block.count, held)
            held.after_gap[0] = block.gap
            sizes.append(np.full(len(block.rows), len(held) // len(block.rows), np.int64))
            at += len(held)
    return samples, np.concatenate(sizes)


def _samples_in(block: OneBlock | BlockRows) -> int:
    if isinstance(block, tuple):
        return block[0][SHAPE.start]
    return int(block.rows["records"].size)


def _channels(block: OneBlock | BlockRows) -> int:
    if isinstance(block, tuple):
        return block[0][SHAPE][1]
    return int(block.rows["channels"][0])


def _room(length: int, channels: int) -> Samples:
    return Samples(
        np.empty(length, np.int64),
        np.empty(length, np.int64),
        np.empty((length, channels), np.uint16),
        np.zeros(length, np.bool_),
    )


def _put_singles(arrived: Sequence[OneBlock], room: Samples) -> IntArray:
    """Put blocks of any shape at the beginning of a room; returns how many samples each holds."""
    payloads, times_us, counts, gaps = zip(*arrived, strict=True)
    starts_us, start_counts = np.array(times_us, np.int64), np.array(counts, np.int64)
    sizes = np.array([payload[SHAPE.start] for payload in payloads], np.int64)
    firsts = np.cumsum(sizes) - sizes
    room.after_gap[firsts] = gaps
    for shape in {payload[SHAPE] for payload in payloads}:
        members = [i for i, payload in enumerate(payloads) if payload[SHAPE] == shape]
        rows = np.frombuffer(b"".join([payloads[i] for i in members]), block_dtype(shape))
        alike = _room(len(members) * shape[0], room.readings.shape[1])
        _put(rows, starts_us[members], start_counts[members], alike)
        where = (firsts[members, np.newaxis] + np.arange(shape[0])).ravel()
        room.time_us[where], room.count[where] = alike.time_us, alike.count
        room.readings[where] = alike.readings
    return sizes


def _put(
    rows: NDArray[np.void], starts_us: IntArray, start_counts: IntArray, room: Samples
) -> None:
    """Put blocks of one shape where there is just room for them."""
    records = rows["records"]
    time_us, count = room.time_us.reshape(records.shape), room.count.reshape(records.shape)
    # int64 first: a uint16 period times the step would wrap without a word
    period_us = rows["period_us"].astype(np.int64)[:, np.newaxis]
    np.multiply(period_us, np.arange(records.shape[1]), out=time_us)
    time_us += starts_us[:, np.newaxis]
    np.cumsum(records["dcount"], axis=1, out=count)
    count += start_counts[:, np.newaxis]
    channels = room.readings.shape[1]
    room.readings.reshape(*records.shape, channels)[...] = records["adc"][:, :, :channels]


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
