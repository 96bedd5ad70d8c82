"""Which bytes does a board send for a frame? For simulated boards, and to check the decoder."""

from __future__ import annotations

from typing import Any

from strokewise.analysis.samples import Board
from strokewise.daq.frames import (
    EVENT,
    EVENT_TYPE,
    FORMAT,
    HELLO_TYPE,
    Event,
    Hello,
    SampleBlock,
)
from strokewise.daq.framing import wrap
from strokewise.daq.jsontext import write_object
from strokewise.daq.lines import checksum

Sendable = Hello | SampleBlock | Event


class Encoder:
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
            payload = EVENT.pack(EVENT_TYPE, number, frame.t_us, frame.count, frame.input)
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
    match frame:
        case Hello(board=board):
            texts = ["H," + write_object(_said(board), ascii_only=True).decode()]
        case Event():
            texts = [f"E,{frame.t_us},{frame.count},{frame.input}"]
        case SampleBlock():
            texts = _sample_lines(frame)
    lines = [text.encode("ascii") for text in texts]
    return b"".join(b"%b*%02X\n" % (x, checksum(x)) if checked else x + b"\n" for x in lines)


def _sample_lines(block: SampleBlock) -> list[str]:
    return [
        ",".join(map(str, ["S", (block.start_us + k * block.period_us) % 2**32, count, *readings]))
        for k, (count, readings) in enumerate(
            zip(block.counts.tolist(), block.readings.tolist(), strict=True)
        )
    ]


def _said(board: Board) -> dict[str, Any]:
    """Return the hello's object; what the board does not know it does not say."""
    said: dict[str, Any] = {
        "format": FORMAT,
        "device": board.device,
        "counts_per_rev": board.counts_per_rev,
        "adc_bits": board.adc_bits,
        "adc": list(board.adc),
        "boot": board.boot,
        "marks": list(board.marks) or None,
    }
    return {key: value for key, value in said.items() if value is not None}
