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

LINES_TO_BELIEVE = 3
"""So many lines in a row must hang together before a time that runs back is a new start: with one
byte in a hundred lost two damaged neighbours are common, three that fit each other are not."""

EVENT_LATE_US = 1_000_000
"""How far an event may lie behind samples sent before it: it waited on the board."""

MAX_TIME = 2**32 - 1
MAX_READING = 2**16 - 1
MAX_INPUT = 2**8 - 1


class LineReader:
    """Turns lines into the same frames as the binary form, and counts what is none.

    Lines carry no sequence number, so a dropped one leaves a ``Loss`` in its place. A sample
    without a checksum waits for the next one: a digit lost from its time would otherwise look
    like a new start of the board. Where bytes get lost again and again two neighbours may be hit,
    so a time that runs back is believed once so many in a row hang together.

    Attributes
    ----------
    good, bad, unchecked : int
        Lines decoded; lines dropped; lines decoded that carried no checksum.
    """

    def __init__(self) -> None:
        self._splitter = Splitter(b"\n")
        self._waiting_frames: list[Frame] = []
        self._before_us: int | None = None  # of the sample that waits, or of the last proven one
        self._released_us: int | None = None  # of the one before it
        self._trusted = False  # another one bears that time out
        self._doubtful: list[Frame] = []
        self._doubtful_us: list[int] = []
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
        rest = self._settle(kept=self._trusted or not self._doubtful)
        return rest + self._take_doubtful(kept=not self._trusted)

    def _in_turn(self, frame: Frame, *, proven: bool = True) -> list[Frame]:
        """Return what may be passed on now that this frame is here."""
        if not isinstance(frame, SampleBlock):
            return self._beside(frame, proven=proven)
        if proven:
            released = self.finish()
            self._before_us = self._released_us = frame.start_us
            self._trusted = True
            return [*released, frame]
        return self._unproven(frame)

    def _beside(self, frame: Frame, *, proven: bool) -> list[Frame]:
        """Take what is no sample: it keeps its place behind the sample that waits."""
        if isinstance(frame, Event) and not proven and self._before_us is not None:
            late_us = (frame.t_us - self._before_us + EVENT_LATE_US) % 2**32
            if late_us > EVENT_LATE_US + LONGEST_STEP_US and not self._doubtful:
                frame = self._dropped()
        if self._doubtful:
            self._doubtful.append(frame)
        elif self._waiting_frames:
            self._waiting_frames.append(frame)
        else:
            return [frame]
        return []

    def _unproven(self, frame: SampleBlock) -> list[Frame]:
        """Hold a sample until the next bears it out; a restart takes several to be believed."""
        time_us = frame.start_us
        goes_on = self._before_us is None or follows(self._before_us, time_us)
        if goes_on or (self._released_us is not None and follows(self._released_us, time_us)):
            released = [*self._settle(kept=goes_on), *self._take_doubtful(kept=False)]
            self._trusted = self._trusted or self._before_us is not None
            if goes_on:
                self._released_us = self._before_us
            self._waiting_frames, self._before_us = [frame], time_us
            return released
        last_us = self._doubtful_us[-1] if self._doubtful_us else None
        dropped = []
        if last_us is not None and not follows(last_us, time_us):
            dropped = self._take_doubtful(kept=False)
        self._doubtful.append(frame)
        self._doubtful_us.append(time_us)
        self._waiting_frames += dropped
        if len(self._doubtful_us) < LINES_TO_BELIEVE:
            return []
        released = self._settle(kept=self._trusted)
        started = self._take_doubtful(kept=True)
        at = next(i for i in reversed(range(len(started))) if started[i] is frame)
        self._waiting_frames, self._before_us, self._trusted = started[at:], time_us, True
        self._released_us = last_us
        return released + started[:at]

    def _settle(self, *, kept: bool) -> list[Frame]:
        """Return the sample that waits with what came behind it, or a loss in its place."""
        released, self._waiting_frames = self._waiting_frames, []
        if not kept and released and isinstance(released[0], SampleBlock):
            released[0] = self._dropped()
        return released

    def _take_doubtful(self, *, kept: bool) -> list[Frame]:
        """Return the samples that contradict the one that waits, or losses in their places."""
        taken, self._doubtful, self._doubtful_us = self._doubtful, [], []
        if kept:
            return taken
        return [self._dropped() if isinstance(f, SampleBlock) else f for f in taken]

    def _dropped(self) -> Loss:
        """Count a line that parsed and cannot be true."""
        self.good -= 1
        self.unchecked -= 1
        self.bad += 1
        return Loss()


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
