"""Which samples belong together? Frames to growing segments, one for each start of the board.

Time and count are unwrapped here, losses counted, and a new start of the board is told from a
wrap of its clock.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field, replace

from strokewise.analysis.samples import Board, Press, Segment
from strokewise.daq.wire.blocks import events, open_blocks, rising
from strokewise.daq.wire.frames import Event, Frame, Hello, Loss, SampleBlock

HALF_RANGE = 2**31
LOW_BITS = 2**32 - 1
"""A 32-bit time or count is taken for the number nearest to the one before."""

WRAP_LIMIT_US = 60_000_000
"""Longest pause after which a time that starts over may still be a wrap.

A wrap comes without a pause unless frames were lost across it; a restart can come at any time, and
a longer limit would take more of them for wraps (a minute is 1.4 % of the 71 minutes)."""

EVENT_SLACK_US = 1_000_000
"""How far an event may lie behind samples that were sent before it: it waited on the board."""

BLOCK_SPAN_US = 64 * 65_535
"""The longest time that one block can span: so far it may begin before an event sent first."""

Place = tuple[int, int]
"""Time and count of a frame."""

_TIME_AND_COUNT = struct.Struct("<Ii")
_AT_TIME = 2  # behind type and sequence


@dataclass
class _Growing:
    """A segment while it arrives: where it stands, and what came since the last block."""

    number: int
    board: Board | None = None
    # What the next frame is unwrapped against: the last block's start, or the last event while
    # there are no samples.
    place: Place | None = None
    has_samples: bool = False
    sampled_us: int | None = None  # of the last sample
    has_news: bool = False

    blocks: list[tuple[bytes, int, int, bool]] = field(default_factory=list)
    events: list[tuple[int, int, int]] = field(default_factory=list)

    def unwrap(self, raw: Place, is_event: bool) -> Place | None:
        """Return time and count unwrapped.

        None when the time runs back and is no wrap: only a new start of the board can say that.
        """
        if self.place is None:
            return raw
        near_us, near_count = self.place
        ahead_us = (raw[0] - near_us + HALF_RANGE & LOW_BITS) - HALF_RANGE
        turned = (raw[1] - near_count + HALF_RANGE & LOW_BITS) - HALF_RANGE
        time_us = near_us + ahead_us
        if not 0 <= ahead_us <= WRAP_LIMIT_US:
            slack_us = EVENT_SLACK_US if is_event else 0 if self.has_samples else BLOCK_SPAN_US
            wraps_late = ahead_us > 0 and time_us >> 32 != near_us >> 32
            if wraps_late or ahead_us < -slack_us:
                return None
        return time_us, near_count + turned

    def add_block(self, payload: bytes, place: Place, gap: bool) -> None:
        """Add a block of samples."""
        self.place = place
        self.has_samples = self.has_news = True
        self.blocks.append((payload, *place, gap))

    def add_event(self, place: Place, number: int) -> None:
        """Add an event, which may lie before or after the samples around it."""
        if not self.has_samples:
            self.place = place
        self.has_news = True
        self.events.append((*place, number))

    def hear(self, board: Board) -> None:
        """Note what a hello says; the first that names its boot is kept, with the latest skips."""
        if self.board is None or self.board.boot is None:
            self.board = board
            self.has_news = True
        elif board.skipped is not None and board.skipped != self.board.skipped:
            self.board = replace(self.board, skipped=board.skipped)
            self.has_news = True

    def cut(self) -> Segment:
        """Return what came since the last block, and keep the place for the next."""
        samples = rising(open_blocks(self.blocks), self.sampled_us)
        block = Segment(self.number, self.board, samples, events(self.events))
        if len(samples):
            self.sampled_us = int(samples.time_us[-1])
        self.blocks.clear()
        self.events.clear()
        self.has_news = False
        return block

    @property
    def latest_us(self) -> int | None:
        """Time of the last sample, or of the last event while there are none."""
        if self.sampled_us is None and self.place is not None:
            return self.place[0]
        return self.sampled_us


class Assembler:
    """Puts the frames of one port together.

    Attributes
    ----------
    samples, lost_frames : int
        As in :class:`strokewise.analysis.samples.Health`.
    """

    def __init__(self) -> None:
        self.samples = 0
        self.lost_frames = 0
        self._growing = _Growing(0)
        self._held: list[Hello | Loss] = []
        self._last: Frame | None = None
        self._sequence: int | None = None
        self._gap = False

    @property
    def segments(self) -> int:
        """Starts of the board that any sample or event came from."""
        return self._growing.number + (self._growing.place is not None)

    @property
    def latest_us(self) -> int | None:
        """Unwrapped board time that this segment has come to, None before its first."""
        return self._growing.latest_us

    def feed(self, frames: list[Frame]) -> list[Segment]:
        """Take more frames.

        Returns
        -------
        list of Segment
            What they add, in order: one block for each start of the board among them. A hello
            waits for the first time that follows it, which tells where it belongs.
        """
        blocks: list[Segment] = []
        for frame in frames:
            if isinstance(frame, SampleBlock):
                raw = _TIME_AND_COUNT.unpack_from(frame.payload, _AT_TIME)
            elif isinstance(frame, Event):
                raw = frame.t_us, frame.count
            else:
                self._held.append(frame)
                continue
            is_event = isinstance(frame, Event)
            place = self._growing.unwrap(raw, is_event)
            if self._held or place is None:
                blocks += self._settle(runs_back=place is None)
                place = self._growing.unwrap(raw, is_event) or raw
            if not self._follows(frame):
                continue
            if isinstance(frame, SampleBlock):
                self._growing.add_block(frame.payload, place, self._gap)
                self._gap = False
            else:
                self._growing.add_event(place, frame.input)
        return blocks + self._cut()

    def finish(self) -> list[Segment]:
        """Say that no more frames come, and return what the hellos held back still tell."""
        return self._settle(runs_back=False) + self._cut()

    def place_press(self, name: str, time_us: int) -> Segment:
        """Return the block that a mark pressed at this board time belongs in."""
        return Segment(self._growing.number, presses=(Press(name, time_us),))

    def _settle(self, runs_back: bool) -> list[Segment]:
        """Give the held hellos their segment, in front of a time that may run back."""
        held, self._held = self._held, []
        new_from = _restart(held, self._growing.board, runs_back)
        blocks: list[Segment] = []
        for index, frame in enumerate(held):
            if index == new_from:
                blocks += self._start()
            if isinstance(frame, Loss):
                self._gap = True
            elif self._follows(frame):
                self._growing.hear(frame.board)
        if new_from == len(held):
            blocks += self._start()
        return blocks

    def _start(self) -> list[Segment]:
        """Begin a new segment; a board that restarts before any sample leaves none behind."""
        blocks = self._cut() if self._growing.place is not None else []
        self._growing = _Growing(self.segments)
        self._sequence = None
        self._gap = False
        return blocks

    def _follows(self, frame: Hello | SampleBlock | Event) -> bool:
        """Count what was lost in front of a frame; False for one that only repeats the last."""
        number, before = frame.sequence, self._sequence
        if number is not None and before is not None:
            lost = (number - before - 1) % 256
            if lost == 255 and frame == self._last:
                return False
            if lost:
                self.lost_frames += lost
                self._gap = True
        self._sequence, self._last = number, frame
        return True

    def _cut(self) -> list[Segment]:
        if not self._growing.has_news:
            return []
        block = self._growing.cut()
        self.samples += len(block.samples)
        return [block]


def _restart(held: list[Hello | Loss], board: Board | None, runs_back: bool) -> int | None:
    """Return where among the held frames a new start of the board begins, None for nowhere.

    A changed boot says so itself. A time that runs back says it of the hello just before, the
    first thing that a board sends, unless that is known to be one more of the old start; and
    without one of the frame that shows the time.
    """
    boot = None if board is None else board.boot
    changed: int | None = None
    just_before: int | None = None
    for index, frame in enumerate(held):
        if isinstance(frame, Loss):
            continue
        named = frame.board.boot
        known = named is not None and boot is not None
        just_before = None if known and named == boot else index
        if known and named != boot:
            changed = index
        boot = boot if named is None else named
    if changed is None and runs_back:
        return len(held) if just_before is None else just_before
    return changed
