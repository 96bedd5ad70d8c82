"""What do the plain lines of the simplest boards say?

One ASCII line a message, as ``S,1000,10,100``; an optional ``*HH`` is the XOR of all characters in
front of the star, as in NMEA 0183.
"""

from __future__ import annotations

import re
from functools import reduce
from operator import xor

from strokewise.daq.wire.binary import parse_board
from strokewise.daq.wire.frames import Event, Frame, Hello, Loss, SampleBlock
from strokewise.daq.wire.framing import Splitter

_CHECKED = re.compile(rb"(.*)\*([0-9A-Fa-f]{2})", re.DOTALL)
_SAMPLE = re.compile(rb"S,([0-9]{1,10}),(-?[0-9]{1,10})((?:,[0-9]{1,5}){1,4})")
_EVENT_LINE = re.compile(rb"E,([0-9]{1,10}),(-?[0-9]{1,10}),([0-9]{1,3})")

LONGEST_STEP_US = 10_000_000
"""Lines further apart are no neighbours: nothing can be said of the one from the other."""

MAX_TIME = 2**32 - 1
MAX_READING = 2**16 - 1
MAX_INPUT = 2**8 - 1


class LineReader:
    """Turns lines into the same frames as the binary form, and counts what is none.

    Lines carry no sequence number, so a dropped one leaves a ``Loss`` in its place. A sample
    without a checksum waits for the next one: a digit lost from its time would otherwise look
    like a new start of the board.

    Attributes
    ----------
    good, bad, unchecked : int
        Lines decoded; lines dropped; lines decoded that carried no checksum.
    """

    def __init__(self) -> None:
        self._splitter = Splitter(b"\n")
        self._waiting_frames: list[Frame] = []
        self._before_us: int | None = None
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
                self.good += 1
                self.unchecked += text == line
                frames += self._in_turn(frame, proven=text != line)
            elif line and not joining:
                self.bad += 1
                frames += self._in_turn(Loss())
            joining = False
        return frames

    def skip(self) -> list[Frame]:
        """Bytes are missing here: what comes next does not follow on what came before."""
        self._splitter.skip()
        return [*self.finish(), Loss()]

    def finish(self) -> list[Frame]:
        """Return what still waits for a next sample."""
        return self._release(None)

    def _in_turn(self, frame: Frame, *, proven: bool = True) -> list[Frame]:
        """Return what may be passed on now that this frame is here."""
        if isinstance(frame, SampleBlock):
            released = self._release(frame.start_us)
            if not proven:
                self._waiting_frames = [frame]
                return released
            self._before_us = frame.start_us
            return [*released, frame]
        if self._waiting_frames:
            self._waiting_frames.append(frame)
            return []
        return [frame]

    def _release(self, next_us: int | None) -> list[Frame]:
        """Return the sample that waits and what came behind it, unless it cannot be true."""
        released, self._waiting_frames = self._waiting_frames, []
        first = released[0] if released else None
        if not isinstance(first, SampleBlock) or next_us is None:
            return released
        if stands_alone(self._before_us, first.start_us, next_us):
            released[0] = Loss()
            self.good -= 1
            self.unchecked -= 1
            self.bad += 1
        elif self._before_us is not None or follows(first.start_us, next_us):
            self._before_us = first.start_us  # the first of all must be borne out by its next
        return released


def stands_alone(before_us: int | None, time_us: int, next_us: int) -> bool:
    """Tell whether a time contradicts its neighbours while these agree with each other."""
    if before_us is None or not follows(before_us, next_us):
        return False
    return not (follows(before_us, time_us) and follows(time_us, next_us))


def follows(before_us: int, time_us: int) -> bool:
    """Tell whether a time can be that of the next line, across a wrap too."""
    return (time_us - before_us) % 2**32 <= LONGEST_STEP_US


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
    elif found := _EVENT_LINE.fullmatch(text):
        t_us, count, number = int(found[1]), int(found[2]), int(found[3])
        if t_us <= MAX_TIME and is_int32(count) and number <= MAX_INPUT:
            return Event(t_us, count, number)
    return None


def is_int32(value: int) -> bool:
    """Tell whether a count can have come from a board."""
    return -(2**31) <= value < 2**31
