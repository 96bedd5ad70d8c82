"""What do the plain lines of the simplest boards say?

One ASCII line a message, as ``S,1000,10,100``; an optional ``*HH`` is the XOR of all characters in
front of the star, as in NMEA 0183.
"""

from __future__ import annotations

import re
from functools import reduce
from operator import xor

from strokewise.daq.binary import parse_board
from strokewise.daq.frames import Event, Frame, Hello, Loss, SampleBlock
from strokewise.daq.framing import Splitter

_CHECKED = re.compile(rb"(.*)\*([0-9A-Fa-f]{2})", re.DOTALL)
_SAMPLE = re.compile(rb"S,([0-9]{1,10}),(-?[0-9]{1,10})((?:,[0-9]{1,5}){1,4})")
_EVENT = re.compile(rb"E,([0-9]{1,10}),(-?[0-9]{1,10}),([0-9]{1,3})")

MAX_TIME = 2**32 - 1
MAX_READING = 2**16 - 1
MAX_INPUT = 2**8 - 1


class LineReader:
    """Turns lines into the same frames as the binary form, and counts what is none.

    Lines carry no sequence number, so a dropped one leaves a ``Loss`` in its place.

    Attributes
    ----------
    good, bad, unchecked : int
        Lines decoded; lines dropped; lines decoded that carried no checksum.
    """

    def __init__(self) -> None:
        self._splitter = Splitter(b"\n")
        self.good = 0
        self.bad = 0
        self.unchecked = 0

    @property
    def waiting(self) -> int:
        """Bytes held back until their line ends."""
        return self._splitter.waiting

    def feed(self, data: bytes) -> list[Frame]:
        """Take more bytes and return the frames of the lines that they complete."""
        frames: list[Frame] = []
        joining = self._splitter.joining
        for piece in self._splitter.feed(data):
            line = piece.removesuffix(b"\r")
            text = checked_text(line)
            frame = None if text is None else parse_line(text)
            if frame is not None:
                frames.append(frame)
                self.good += 1
                self.unchecked += text == line
            elif line and not joining:
                frames.append(Loss())
                self.bad += 1
            joining = False
        return frames

    def skip(self) -> None:
        """Bytes are missing here: what comes next does not follow on what came before."""
        self._splitter.skip()


def checksum(text: bytes) -> int:
    """Return the XOR of all characters."""
    return reduce(xor, text, 0)


def checked_text(line: bytes) -> bytes | None:
    """Return the line without its checksum, or None when the checksum does not hold."""
    checked = _CHECKED.fullmatch(line)
    if checked is None:
        return line
    text = checked[1]
    return text if checksum(text) == int(checked[2], 16) else None


def parse_line(text: bytes) -> Frame | None:
    """Return the frame that a line holds, or None when it does not parse."""
    if text.startswith(b"H,"):
        board = parse_board(text[2:])
        return None if board is None else Hello(board)
    if found := _SAMPLE.fullmatch(text):
        t_us, count = int(found[1]), int(found[2])
        readings = [int(reading) for reading in found[3][1:].split(b",")]
        if t_us <= MAX_TIME and is_int32(count) and max(readings) <= MAX_READING:
            return SampleBlock.single(t_us, count, readings)
    elif found := _EVENT.fullmatch(text):
        t_us, count, number = int(found[1]), int(found[2]), int(found[3])
        if t_us <= MAX_TIME and is_int32(count) and number <= MAX_INPUT:
            return Event(t_us, count, number)
    return None


def is_int32(value: int) -> bool:
    """Tell whether a count can have come from a board."""
    return -(2**31) <= value < 2**31
