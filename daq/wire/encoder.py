"""Which bytes does a board send for a frame? For simulated boards, and to check the decoder."""

from __future__ import annotations

from typing import Any

from strokewise.analysis.samples import Board
from strokewise.daq.wire.frames import (
    EVENT,
    EVENT_TYPE,
    HELLO_TYPE,
    WIRE_FORMAT,
    Event,
    Hello,
    SampleBlock,
    wrap_count,
)
from strokewise.daq.wire.framing import wrap
from strokewise.daq.wire.jsontext import write_object
from strokewise.daq.wire.lines import checksum

Sendable = Hello | SampleBlock | Event


class FrameEncoder:
    """Numbers and encodes the frames of one board, one after the other."""

    def __init__(self, sequence: int = 0) -> None:
        self._sequence = sequence % 256

    def encode(self, frame: Sendable) -> bytes:
        """Return the frame's bytes under the next sequence number, whatever it carried."""
        sent = encode_frame(frame, self._sequence)
        self._sequence = (self._sequence + 1) % 256
        return sent


def encode_frame(frame: Sendable, sequence: int | None = None) -> bytes:
    """Return the bytes of one binary frame.

    Parameters
    ----------
    sequence : int, optional
        0 to 255; the frame's own when left out.

    Raises
    ------
    ValueError
        When neither gives a sequence number.
    """
    number = frame.sequence if sequence is None else sequence
    if number is None:
        raise ValueError("a binary frame needs a sequence number")
    match frame:
        case Hello(board=board):
            payload = bytes((HELLO_TYPE, number)) + write_object(_said(board))
        case Event():
            payload = EVENT.pack(EVENT_TYPE, number, *_event_fields(frame))
        case SampleBlock(payload=block):
            payload = block[:1] + bytes((number,)) + block[2:]
    return wrap(payload)


def encode_lines(frame: Sendable, *, checked: bool = True) -> bytes:
    """Return the frame as lines: one for each sample, which carry neither number nor period.

    Parameters
    ----------
    checked : bool
        Whether each line ends with its checksum.
    """
    rows: list[tuple[object, ...]]
    match frame:
        case Hello(board=board):
            rows = [("H", write_object(_said(board), ascii_only=True).decode())]
        case Event():
            rows = [("E", *_event_fields(frame))]
        case SampleBlock():
            rows = [("S", *fields) for fields in _sample_fields(frame)]
    lines = [",".join(map(str, row)).encode("ascii") for row in rows]
    return b"".join(b"%b*%02X\n" % (x, checksum(x)) if checked else x + b"\n" for x in lines)


def _event_fields(event: Event) -> tuple[int, int, int]:
    """Return time, count and input, wrapped as a board's integers are."""
    return event.t_us % 2**32, wrap_count(event.count), event.input


def _sample_fields(block: SampleBlock) -> list[tuple[int, ...]]:
    """Return time, count and readings of each sample, wrapped as a board's integers are."""
    counts, readings = block.counts.tolist(), block.readings.tolist()
    return [
        ((block.start_us + k * block.period_us) % 2**32, wrap_count(count), *row)
        for k, (count, row) in enumerate(zip(counts, readings, strict=True))
    ]


def _said(board: Board) -> dict[str, Any]:
    """Return the hello's object; what the board does not know it does not say."""
    said: dict[str, Any] = {
        "format": WIRE_FORMAT,
        "device": board.device,
        "counts_per_rev": board.counts_per_rev,
        "adc_bits": board.adc_bits,
        "adc": list(board.adc),
        "boot": board.boot,
        "marks": list(board.marks) or None,
        "skipped": board.skipped,
    }
    return {key: value for key, value in said.items() if value is not None}
