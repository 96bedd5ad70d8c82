"""Which frames came one behind the other without a fault? Thousands taken apart at once.

A board that is well sends blocks of one shape, an event here and there, and a hello every two
seconds. Such stretches are unstuffed, proven and opened as rows of one array. Whatever is anything
else, or damaged, is left as it came for :mod:`strokewise.daq.wire.binary`, which looks at one frame
after the other: what comes of the bytes is the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from cobs import cobs
from numpy.typing import NDArray

from strokewise.analysis.samples import BoolArray, IntArray
from strokewise.daq.wire.crc_rows import proven
from strokewise.daq.wire.frames import (
    EVENT_TYPE,
    SAMPLE_SIZES,
    SAMPLES_TYPE,
    SHAPE,
    Event,
    SampleBlock,
    block_dtype,
)
from strokewise.daq.wire.framing import CRC_BYTES, JUNK, MAX_FRAME

WORTH_IT = 1 << 13
"""Bytes at once below which one frame after the other is quicker."""

LEAST_ROWS = 16
"""Frames of one length, or in one run, below which they are."""

Rows = NDArray[np.void]
"""Frames of one shape with their CRC; the fields of a block are named in ``block_dtype``."""

_EVENT_ROW = np.dtype(
    [
        ("type", "u1"), ("sequence", "u1"), ("t_us", "<u4"), ("count", "<i4"), ("input", "u1"),
        ("crc", "<u2"),
    ]
)  # fmt: skip
_BLOCK_LENGTHS = frozenset(SAMPLE_SIZES.values())

_EVENT_KIND = 1
"""Kind of a piece: 0 is none of these, above are blocks, a number for each shape."""


@dataclass(frozen=True)
class FrameRun:
    """Blocks of one shape and events, each proven, with nothing else between them.

    Attributes
    ----------
    blocks : (b,) structured
        Payloads of the blocks.
    events : (e,) structured
        Payloads of the events.
    is_block : (f,) bool
        Which of all frames are blocks, in the order in which they came.
    """

    blocks: Rows
    events: Rows
    is_block: BoolArray

    def __len__(self) -> int:
        return len(self.is_block)

    @cached_property
    def sequence(self) -> IntArray:
        """Number of every frame, (f,)."""
        return self._of_all("sequence")

    @cached_property
    def t_us(self) -> IntArray:
        """Raw time of every frame, (f,)."""
        return self._of_all("t_us")

    @cached_property
    def count(self) -> IntArray:
        """Raw count of every frame, (f,)."""
        return self._of_all("count")

    @cached_property
    def block_at(self) -> IntArray:
        """Which block each frame is, or for an event is behind, (f,); -1 in front of the first."""
        at: IntArray = np.cumsum(self.is_block) - 1
        return at

    @property
    def size(self) -> int:
        """Samples in each block."""
        return int(self.blocks.dtype["records"].shape[0])

    def frames(self, start: int, stop: int) -> list[SampleBlock | Event]:
        """Return some of the frames one by one."""
        return [self.frame(at) for at in range(max(start, 0), stop)]

    def frame(self, at: int) -> SampleBlock | Event:
        """Return one of the frames."""
        block = int(self.block_at[at])
        if self.is_block[at]:
            payload = self.blocks[block].tobytes()[:-CRC_BYTES]
            return SampleBlock(payload, payload[1])
        event = self.events[at - block - 1]
        return Event(
            int(event["t_us"]), int(event["count"]), int(event["input"]), int(event["sequence"])
        )

    def _of_all(self, name: str) -> IntArray:
        values = np.empty(len(self), np.int64)
        values[self.is_block] = self.blocks[name]
        values[~self.is_block] = self.events[name]
        return values


@cache
def _with_crc(payload: np.dtype[Any]) -> np.dtype[Any]:
    return np.dtype([*payload.descr, ("crc", "<u2")])


def runs_and_rest(whole: bytes) -> Iterator[FrameRun | bytes]:
    """Return the runs among many pieces, and in their place all others as they stand.

    Parameters
    ----------
    whole : bytes
        Pieces, each ended by a zero.

    Yields
    ------
    FrameRun or bytes
        A piece too long to be a frame comes as ``JUNK``, an empty one not at all.
    """
    ends = np.flatnonzero(np.frombuffer(whole, np.uint8) == 0)
    sizes = np.diff(ends, prepend=-1) - 1
    ends, sizes = ends[sizes > 0], sizes[sizes > 0]
    if not len(sizes):
        return
    kind = np.zeros(len(sizes), np.int16)
    rows_of: dict[int, Rows] = {}
    bodies, starts, lengths = _unstuffed(whole, ends, sizes)
    there = np.bincount(lengths)
    there[_EVENT_ROW.itemsize :][:1] *= LEAST_ROWS  # a single event would part a run
    for length in np.flatnonzero(there >= LEAST_ROWS).tolist():
        members = np.flatnonzero(lengths == length)
        opened = _proven_rows(_windows(bodies, length)[starts[members]])
        if opened is not None:
            rows, good = opened
            own = _EVENT_KIND if rows.dtype == _EVENT_ROW else _EVENT_KIND + 1 + len(rows_of)
            kind[members[good]], rows_of[own] = own, rows if good.all() else rows[good]
    rows_of.setdefault(_EVENT_KIND, np.empty(0, _EVENT_ROW))
    yield from _in_order(whole, ends, sizes, kind, rows_of)


def _unstuffed(whole: bytes, ends: IntArray, sizes: IntArray) -> tuple[bytes, IntArray, IntArray]:
    """Return what the pieces hold, end to end, where each begins in it and how long it is.

    Unstuffing keeps places: what was a code becomes a zero. So all of them can be unstuffed as if
    they were one, and each was whole if a code stood where the next begins. Codes of 255, which
    stand for no zero, and damage leave nothing in its place; then each is unstuffed by itself.
    """
    codes = whole.translate(None, b"\0")
    starts = np.cumsum(sizes) - sizes
    try:
        bodies = cobs.decode(codes) + b"\0"
    except cobs.DecodeError:
        bodies = b""
    unstuffed = np.frombuffer(bodies, np.uint8)
    if len(bodies) == len(codes) and not unstuffed[starts + sizes - 1].any():
        return bodies, starts, sizes - 1
    spans = zip((ends - sizes).tolist(), ends.tolist(), strict=True)
    each = [_unstuffed_alone(whole[start:end]) for start, end in spans]
    lengths = np.fromiter(map(len, each), np.int64, len(each))
    return b"".join(each), np.cumsum(lengths) - lengths, lengths


def _unstuffed_alone(piece: bytes) -> bytes:
    try:
        body: bytes = cobs.decode(piece)
    except cobs.DecodeError:
        return b""
    return body


def _windows(bodies: bytes, length: int) -> Rows:
    """Return every stretch of so many bytes as one value."""
    return np.ndarray((len(bodies) - length + 1,), f"V{length}", bodies, strides=(1,))


def _proven_rows(rows: Rows) -> tuple[Rows, BoolArray] | None:
    """Return rows with their fields, and which are frames of one kind; None where none can be."""
    raw = rows.view(np.uint8).reshape(len(rows), -1)
    if raw.shape[1] == _EVENT_ROW.itemsize:
        return rows.view(_EVENT_ROW), proven(raw) & (raw[:, 0] == EVENT_TYPE)
    if raw.shape[1] - CRC_BYTES not in _BLOCK_LENGTHS:
        return None
    good = proven(raw) & (raw[:, 0] == SAMPLES_TYPE)
    shape = raw[int(np.argmax(good)), SHAPE]
    if SAMPLE_SIZES.get(shape.tobytes()) != raw.shape[1] - CRC_BYTES:
        return None
    opened = rows.view(_with_crc(block_dtype(shape.tobytes())))
    good &= (raw[:, SHAPE] == shape).all(axis=1) & (opened["records"]["dcount"][:, 0] == 0)
    return opened, good


def _in_order(
    whole: bytes,
    ends: IntArray,
    sizes: IntArray,
    kind: NDArray[np.int16],
    rows_of: dict[int, Rows],
) -> Iterator[FrameRun | bytes]:
    """Return runs and single pieces as they came."""
    is_event = kind == _EVENT_KIND
    behind = np.maximum.accumulate(np.where(is_event, 0, np.arange(len(kind))))
    group = kind[behind]  # an event belongs to what it came behind
    cuts = [0, *(np.flatnonzero(np.diff(group)) + 1).tolist(), len(kind)]
    events = 0
    blocks = dict.fromkeys(rows_of, 0)
    for start, stop in pairwise(cuts):
        own = int(group[start])
        of_run = ~is_event[start:stop]
        held = int(np.count_nonzero(of_run))
        first, events = events, events + stop - start - held
        if own > _EVENT_KIND:
            at, blocks[own] = blocks[own], blocks[own] + held
            if stop - start >= LEAST_ROWS:
                rows = rows_of[own][at : at + held]
                yield FrameRun(rows, rows_of[_EVENT_KIND][first:events], of_run)
                continue
        for end, size in zip(ends[start:stop].tolist(), sizes[start:stop].tolist(), strict=True):
            yield whole[end - size : end] if size <= MAX_FRAME else JUNK
