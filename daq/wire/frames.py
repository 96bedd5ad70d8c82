"""What does a board send? Hellos, blocks of samples and latched events, frozen.

The binary and the line form both become these, so nothing behind the decoder knows which it was.
Times and counts are raw here: they wrap as the board's own integers do.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strokewise.analysis.samples import Board

WIRE_FORMAT = 1
"""The version of the wire format that a hello states."""

MAX_RECORDS = 64
MAX_CHANNELS = 4

SAMPLE_HEADER = struct.Struct("<BBIiHBB")
"""Type, sequence, t_us, count, period_us, n, channels: in front of the records."""

EVENT = struct.Struct("<BBIiB")
"""Type, sequence, t_us, count, input."""

HELLO_TYPE, SAMPLES_TYPE, EVENT_TYPE = b"HSE"

SAMPLE_SIZES: dict[bytes, int] = {
    bytes((n, channels)): SAMPLE_HEADER.size + n * (2 + 2 * channels)
    for n in range(1, MAX_RECORDS + 1)
    for channels in range(1, MAX_CHANNELS + 1)
}
"""Payload size for each allowed pair of bytes (n, channels)."""

SHAPE = slice(SAMPLE_HEADER.size - 2, SAMPLE_HEADER.size)
"""Where a sample payload says n and channels."""


@dataclass(frozen=True, slots=True)
class Hello:
    """The board says what it is."""

    board: Board
    sequence: int | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """An edge at an input, latched with the board's time and count."""

    t_us: int
    count: int
    input: int
    sequence: int | None = None


@dataclass(frozen=True, slots=True)
class Loss:
    """At this place bytes are missing, and no sequence number will tell."""


class SampleBlock(NamedTuple):
    """A block of up to 64 samples, kept as its payload until many are opened at once.

    A named tuple, which is made in half the time of a dataclass: this is the hot path.

    Attributes
    ----------
    payload : bytes
        The checked payload of an ``S`` frame: type, sequence and body.
    sequence : int or None
        None for a line, which carries no number.
    """

    payload: bytes
    sequence: int | None = None

    @classmethod
    def pack(
        cls,
        t_us: int,
        period_us: int,
        counts: ArrayLike,
        readings: ArrayLike,
        sequence: int | None = None,
    ) -> SampleBlock:
        """Pack samples into a block, wrapping time and count as a board does.

        Parameters
        ----------
        t_us, period_us : int
            Sample k was taken at ``t_us + k * period_us``.
        counts : (n,) int
            Encoder count of every sample, unwrapped or not.
        readings : (n, channels) or (n,) int
            Analogue readings, 0 to 65535.

        Raises
        ------
        ValueError
            When there are not 1 to 64 samples of 1 to 4 channels, or a value does not fit.
        """
        count = np.asarray(counts, np.int64)
        adc = np.asarray(readings, np.int64)
        adc = adc[:, np.newaxis] if adc.ndim == 1 else adc
        if count.ndim != 1 or adc.ndim != 2 or len(adc) != len(count):
            raise ValueError(f"counts {count.shape} do not go with readings {adc.shape}")
        if not (1 <= adc.shape[0] <= MAX_RECORDS and 1 <= adc.shape[1] <= MAX_CHANNELS):
            raise ValueError(f"a block holds 1 to 64 samples of 1 to 4 channels, not {adc.shape}")
        steps = np.diff(count, prepend=count[:1])
        if not 0 <= period_us <= 0xFFFF:
            raise ValueError(f"a period of {period_us} µs does not fit 16 bits")
        if np.any((steps < -0x8000) | (steps > 0x7FFF)) or np.any((adc < 0) | (adc > 0xFFFF)):
            raise ValueError("a step of the count, or a reading, does not fit 16 bits")
        records = np.column_stack([steps, adc]).astype("<u2")  # int16 wraps into the same bits
        header = SAMPLE_HEADER.pack(
            SAMPLES_TYPE, (sequence or 0) & 0xFF, t_us & 0xFFFFFFFF, wrap_count(int(count[0])),
            period_us, *adc.shape,
        )  # fmt: skip
        return cls(header + records.tobytes(), sequence)

    @classmethod
    def single(cls, t_us: int, count: int, readings: Sequence[int]) -> SampleBlock:
        """Return the block of one sample without a number: what a line carries.

        Raises
        ------
        struct.error
            When a value does not fit, unlike :meth:`pack`, which wraps time and count.
        """
        head = SAMPLE_HEADER.pack(SAMPLES_TYPE, 0, t_us, count, 0, 1, len(readings))
        return cls(head + struct.pack(f"<h{len(readings)}H", 0, *readings))

    @property
    def start_us(self) -> int:
        """Board time of the first sample."""
        return int.from_bytes(self.payload[2:6], "little")

    @property
    def start_count(self) -> int:
        """Encoder count of the first sample."""
        return int.from_bytes(self.payload[6:10], "little", signed=True)

    @property
    def period_us(self) -> int:
        """Time between samples."""
        return int.from_bytes(self.payload[10:12], "little")

    @property
    def n(self) -> int:
        """How many samples the block holds."""
        return self.payload[12]

    @property
    def channels(self) -> int:
        """How many readings each sample has."""
        return self.payload[13]

    @property
    def counts(self) -> NDArray[np.int64]:
        """Count of every sample, shape (n,), from the block's own first count on."""
        steps = self._open()["records"]["dcount"].astype(np.int64)
        counts: NDArray[np.int64] = self.start_count + np.cumsum(steps)
        return counts

    @property
    def readings(self) -> NDArray[np.uint16]:
        """Analogue readings, shape (n, channels)."""
        readings: NDArray[np.uint16] = self._open()["records"]["adc"].astype(np.uint16)
        return readings

    def _open(self) -> np.void:
        opened: np.void = np.frombuffer(self.payload, block_dtype(self.payload[SHAPE]))[0]
        return opened


Frame = Hello | SampleBlock | Event | Loss


@cache
def block_dtype(shape: bytes) -> np.dtype[Any]:
    """Return how numpy sees the payload of a sample block of shape ``bytes((n, channels))``."""
    n, channels = shape
    record = np.dtype([("dcount", "<i2"), ("adc", "<u2", (channels,))])
    return np.dtype(
        [
            ("type", "u1"), ("sequence", "u1"), ("t_us", "<u4"), ("count", "<i4"),
            ("period_us", "<u2"), ("n", "u1"), ("channels", "u1"), ("records", record, (n,)),
        ]
    )  # fmt: skip


def wrap_count(count: int) -> int:
    """Return the count as a board's int32 would show it."""
    return (count + 2**31) % 2**32 - 2**31


def sample_blocks(
    t_us: int,
    period_us: int,
    counts: ArrayLike,
    readings: ArrayLike,
    *,
    per_block: int = 16,
) -> Iterator[SampleBlock]:
    """Cut an even run of samples into blocks, without sequence numbers.

    Parameters
    ----------
    t_us, period_us : int
        Sample k was taken at ``t_us + k * period_us``; the time may be unwrapped.
    counts : (n,) int
        Encoder counts.
    readings : (n, channels) or (n,) int
        Analogue readings.
    """
    count = np.asarray(counts, np.int64)
    adc = np.asarray(readings, np.int64)
    for first in range(0, len(count), per_block):
        part = slice(first, first + per_block)
        yield SampleBlock.pack(t_us + first * period_us, period_us, count[part], adc[part])
