"""What did the board measure?

Raw integers, as they came, in one segment for each start of the board.

These are the frozen things that pass from ``daq`` to ``analysis``. Nothing here is in degrees or
bar yet: that conversion happens once, in :mod:`strokewise.analysis.trace.trace`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strokewise.analysis.columns import end_to_end, rows_of

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

INDEX_INPUT = 0
"""The input of the encoder's index, by the wire format; marks are on 1 and up."""


@dataclass(frozen=True, slots=True)
class Board:
    """What a board says of itself in its hello.

    Attributes
    ----------
    counts_per_rev : int
        Counts, all four edges, for each turn of the encoder.
    adc_bits : int
        Bits of the analogue converter: readings run from 0 to ``2**adc_bits - 1``.
    adc : tuple of str
        Names of the analogue channels, in the order of the readings.
    boot : int or None
        A number that differs from one start of the board to the next.
    marks : tuple of str
        Names of the mark inputs 1, 2, …
    skipped : int or None
        Encoder states that the board saw skipped since its start, each two counts either way; None
        when it cannot tell. It rises while the board runs, so it does not make another board.
    """

    device: str = ""
    counts_per_rev: int | None = None
    adc_bits: int | None = None
    adc: tuple[str, ...] = ()
    boot: int | None = None
    marks: tuple[str, ...] = ()
    skipped: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Samples:
    """A run of samples of one segment.

    Attributes
    ----------
    time_us : (n,) int64
        Board time, unwrapped, rising.
    count : (n,) int64
        Encoder count, unwrapped. A count is a cell: the shaft stands between n and n + 1.
    readings : (n, channels) uint16
        Analogue readings.
    after_gap : (n,) bool
        True for a sample in front of which at least one frame was lost.
    """

    time_us: IntArray
    count: IntArray
    readings: NDArray[np.uint16]
    after_gap: BoolArray

    def __len__(self) -> int:
        return len(self.time_us)

    @classmethod
    def empty(cls, channels: int = 1) -> Samples:
        """Return no samples at all."""
        return cls(
            np.empty(0, np.int64),
            np.empty(0, np.int64),
            np.empty((0, channels), np.uint16),
            np.empty(0, np.bool_),
        )

    def only(self, which: slice | BoolArray) -> Samples:
        """Return some of the samples."""
        return rows_of(self, which)

    @classmethod
    def joined(cls, parts: Iterable[Samples]) -> Samples:
        """Return the samples of several blocks end to end, with the channels that all have."""
        held = [part for part in parts if len(part)] or [cls.empty()]
        channels = {part.readings.shape[1] for part in held}
        if len(channels) > 1:
            held = [replace(p, readings=p.readings[:, : min(channels)]) for p in held]
        return end_to_end(held)


@dataclass(frozen=True, slots=True)
class Events:
    """Edges latched by the board: input 0 is the encoder's index, 1, 2, … are mark inputs.

    Attributes
    ----------
    time_us, count, input : (n,) int64
        Board time and count (both unwrapped like the samples'), and which input rose.
    """

    time_us: IntArray
    count: IntArray
    input: IntArray

    def __len__(self) -> int:
        return len(self.time_us)

    def only(self, which: slice | BoolArray) -> Events:
        """Return some of the events."""
        return rows_of(self, which)

    @classmethod
    def joined(cls, parts: Iterable[Events]) -> Events:
        """Return the events of several blocks end to end."""
        return end_to_end(list(parts) or [cls.empty()])

    @classmethod
    def empty(cls) -> Events:
        """Return no events at all."""
        return cls(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.int64))


@dataclass(frozen=True, slots=True)
class Press:
    """A mark pressed on the screen by a person, placed on the board's own clock."""

    name: str
    time_us: int


@dataclass(frozen=True, slots=True)
class Segment:
    """Everything from one start of the board, or a part of it while it is still arriving.

    Segments of different ``number`` are never joined: the count starts anew with the board.
    """

    number: int = 0
    board: Board | None = None
    samples: Samples = field(default_factory=Samples.empty)
    events: Events = field(default_factory=Events.empty)
    presses: tuple[Press, ...] = ()


def parted(block: Segment, at: int) -> tuple[Segment, Segment]:
    """Return a block's samples before ``at`` and from there on, with what lies in their time."""
    samples, events, time_us = block.samples, block.events, int(block.samples.time_us[at])

    def half(part: slice, own: BoolArray, *, first: bool) -> Segment:
        return Segment(
            block.number,
            block.board,
            samples.only(part),
            events.only(own),
            tuple(p for p in block.presses if (p.time_us < time_us) is first),
        )

    before = events.time_us < time_us
    return half(slice(None, at), before, first=True), half(slice(at, None), ~before, first=False)


@dataclass(frozen=True, slots=True)
class Health:
    """How well the bytes came through.

    Attributes
    ----------
    frames : int
        Good frames (or lines) decoded.
    lost_frames : int
        Frames missing by their sequence number and the time between.
    lost_about : bool
        That number is right by and large: nothing tells it to the frame.
    left_out : int
        Samples that came whole and that no such board can have measured, or that were sent again.
    bad_frames : int
        Frames or lines that failed their checksum or did not parse, dropped.
    unchecked_lines : int
        Good lines that carried no checksum and so cannot prove themselves.
    missing_bytes : int
        Bytes of a recording that belong to a chunk cut or damaged.
    """

    samples: int = 0
    frames: int = 0
    lost_frames: int = 0
    bad_frames: int = 0
    unchecked_lines: int = 0
    missing_bytes: int = 0
    segments: int = 0
    lost_about: bool = False
    left_out: int = 0


@dataclass(frozen=True, slots=True)
class Recording:
    """A whole recording, decoded: what the batch answer is computed from.

    Attributes
    ----------
    header : dict
        The recording's first frame: ``started``, ``engine`` (a profile table), ``software``, …
        Empty when the header was lost.
    notes : tuple of str
        What the operator wrote while recording.

    Examples
    --------
    >>> from strokewise.daq import read_recording
    >>> recording = read_recording("recordings/cranked.swr")
    >>> samples = recording.segments[0].samples
    >>> samples.count.shape, samples.readings.shape, recording.health.lost_frames
    ((4001,), (4001, 1), 0)
    """

    segments: tuple[Segment, ...]
    health: Health
    header: dict[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
