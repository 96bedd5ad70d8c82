"""Which samples belong together? Frames to growing segments, one for each start of the board.

Time and count are unwrapped here, losses counted, and a new start of the board is told from a
wrap of its clock.
"""

from __future__ import annotations

import struct
from collections import deque
from collections.abc import Sequence

from strokewise.analysis.samples import Board, Press, Segment
from strokewise.daq.wire.frames import Event, Frame, Hello, Loss, SampleBlock
from strokewise.daq.wire.growing import Growing, Place
from strokewise.daq.wire.lost import LostFrames
from strokewise.daq.wire.plausible import FRAMES_TO_BELIEVE, can_turn, counts_a_us
from strokewise.daq.wire.runs import LEAST_ROWS, FrameRun
from strokewise.daq.wire.unwrap_run import LOW_BITS, RunPlaces, places_in

REPEATED_FRAMES = 256
"""So many frames back a repetition is known as one: a buffer sent twice is no new start."""

REPEATED = 255
"""Missing by the numbers in front of a frame that has the number of the one before it."""

RETURN_US = 3_000_000
"""A board says hello every 2 s: one that does not, behind a port opened anew, has no start number
to be known by."""

_BLOCK_HEAD = struct.Struct("<IiHB")  # t_us, count, period_us, n
_AT_TIME = 2  # behind type and sequence


class Assembler:
    """Puts the frames of one port together.

    Attributes
    ----------
    samples, left_out, lost_frames : int
        As in :class:`strokewise.analysis.samples.Health`.
    lost : LostFrames
        Counts what is missing.
    """

    def __init__(self) -> None:
        self.samples = 0
        self.left_out = 0
        self.lost = LostFrames()
        self._growing = Growing(0)
        self._recent: deque[Frame] = deque(maxlen=REPEATED_FRAMES)
        self._doubted: list[Place] = []
        self._first: Frame | None = None
        self._back: list[Frame] | None = None
        self._held: list[Hello | Loss] = []
        self._last: Frame | None = None
        self._gap = False

    @property
    def lost_frames(self) -> int:
        """As in :class:`strokewise.analysis.samples.Health`."""
        return self.lost.frames

    @property
    def segments(self) -> int:
        """Starts of the board that any sample or event came from."""
        return self._growing.number + (self._growing.place is not None)

    @property
    def latest_us(self) -> int | None:
        """Unwrapped board time that this segment has come to, None before its first."""
        return self._growing.latest_us

    def feed(self, frames: Sequence[Frame | FrameRun]) -> list[Segment]:
        """Take more frames, one by one or in runs; what comes of them is the same.

        Returns
        -------
        list of Segment
            What they add, in order: one block for each start of the board among them. A hello
            waits for the first time that follows it, which tells where it belongs.
        """
        blocks: list[Segment] = []
        for frame in frames:
            if isinstance(frame, FrameRun):
                self._add_run(frame, blocks)
            else:
                self._add_next(frame, blocks)
        return blocks + self._cut()

    def _add_next(self, frame: Frame, blocks: list[Segment]) -> None:
        """Add one frame, or hold it back until it is known whether the board has started anew."""
        if self._back is not None:
            blocks += self._known_again(frame)
        else:
            self._add(frame, blocks)

    def _add_run(self, run: FrameRun, blocks: list[Segment]) -> None:
        """Add many frames: at once those that follow on each other, the others one by one."""
        at, places, most = 0, None, 0.0
        while at < len(run):
            if at and self._stands_at(run, at - 1):
                if places is None or most != counts_a_us(self._growing.board):
                    most = counts_a_us(self._growing.board)
                    places = places_in(run, most)
                stop = places.stop(at)
                if stop - at >= LEAST_ROWS:
                    self._take(run, places, at, stop)
                    at = stop
                    continue
            self._add_next(run.frame(at), blocks)
            at += 1

    def _stands_at(self, run: FrameRun, at: int) -> bool:
        """Tell whether this frame of a run was taken last, and nothing is in doubt."""
        if self._back is not None or self._held:
            return False
        block = run.blocks[run.block_at[at]]
        ends_us = self._growing.stands_at(int(block["t_us"]), int(block["count"]))
        if ends_us is None:
            return False
        return self.lost.stands_at(
            int(run.sequence[at]), ends_us + int(block["period_us"]) * run.size
        )

    def _take(self, run: FrameRun, places: RunPlaces, start: int, stop: int) -> None:
        """Take frames that follow on each other and on the frame in front of them."""
        if self._growing.add_run(run, places, start, stop, self._gap):
            self._gap, self._doubted = False, []
        assert self._growing.place is not None
        lasts_us = int(run.blocks[run.block_at[stop - 1]]["period_us"]) * run.size
        due_us = self._growing.place[0] + lasts_us
        self.lost.run(run.is_block[start:stop], int(run.sequence[stop - 1]), due_us, lasts_us)
        self._recent.extend(run.frames(max(start, stop - REPEATED_FRAMES), stop))
        self._last = self._recent[-1]

    def _add(self, frame: Frame, blocks: list[Segment]) -> None:
        """Add a frame where it belongs; what a new start cuts off goes to ``blocks``."""
        if isinstance(frame, SampleBlock):
            t_us, count, period_us, size = _BLOCK_HEAD.unpack_from(frame.payload, _AT_TIME)
            raw = t_us, count
        elif isinstance(frame, Event):
            raw, size = (frame.t_us, frame.count), 0
        else:
            self._held.append(frame)
            return
        is_event = isinstance(frame, Event)
        place = self._growing.unwrap(raw, is_event)
        begins = frame == self._first  # all over again from the first on: a new start
        if place is None and not begins and frame in self._recent and self._only_repeated():
            self.left_out += size
            return
        if self._held or place is None:
            blocks += self._settle(runs_back=place is None)
            place = self._growing.unwrap(raw, is_event) or raw
        if not is_event and not self._believed(place, blocks):
            self._follows(frame)
            self.left_out += size
            return
        if self._growing.place is None:
            place, self._first = raw, frame
        if not self._follows(frame):
            self.left_out += size
            return
        self._recent.append(frame)
        if isinstance(frame, SampleBlock):
            self._gap |= self.lost.block(place[0], period_us * size)
            self._growing.add_block(frame.payload, place, self._gap)
            self._gap = False
        else:
            self._growing.add_event(place, frame.input)

    def _only_repeated(self) -> bool:
        """Tell whether every hello held back came before, and forget those that did."""
        news = [f for f in self._held if isinstance(f, Hello) and f not in self._recent]
        if not news:
            self._held = [f for f in self._held if not isinstance(f, Hello)]
        return not news

    def _believed(self, place: Place, blocks: list[Segment]) -> bool:
        """Tell whether the shaft can have come to this count; a board that counts anew starts anew.

        One frame that says so may be mistaken. Several that agree with each other are not.
        """
        before, most = self._growing.place, counts_a_us(self._growing.board)
        if before is None or not self._growing.has_samples:
            return True  # an event alone shows where the count stood, not how it went on
        if can_turn(place[1] - before[1], place[0] - before[0], most):
            self._doubted = []
            return True
        self._gap = True
        last = self._doubted[-1] if self._doubted else place
        agrees = can_turn(place[1] - last[1], place[0] - last[0], most)
        self._doubted = [*self._doubted, place] if agrees else [place]
        if len(self._doubted) < FRAMES_TO_BELIEVE:
            return False
        self._doubted = []
        blocks += self._start()
        return True

    def reopened(self) -> list[Segment]:
        """Say that the port was opened anew: what follows may be another start of the board.

        Frames are held back until a hello names the same start number; without one it is a new
        start. What was lost in between is then counted as anywhere.
        """
        blocks = self._settle(runs_back=False) + self._cut()
        if self._growing.place is not None:
            self._back = []
        return blocks

    def _known_again(self, frame: Frame) -> list[Segment]:
        """Hold a frame until it is known whether the board has started anew."""
        assert self._back is not None
        self._back.append(frame)
        heard = isinstance(frame, Hello)
        if not heard and not self._waited_long():
            return []
        board, held, self._back = self._growing.board, self._back, None
        boot = None if board is None else board.boot
        same = heard and boot is not None and frame.board.boot == boot  # type: ignore[union-attr]
        blocks: list[Segment] = []
        if same:
            self._growing.goes_on = self._gap = True
        else:
            blocks = self._start()
        for each in held:
            self._add(each, blocks)
        return blocks

    def _waited_long(self) -> bool:
        timed = [f for f in self._back or () if isinstance(f, SampleBlock)]
        if not timed:
            return False
        went_us = (timed[-1].start_us - timed[0].start_us) & LOW_BITS
        return went_us > RETURN_US

    def finish(self) -> list[Segment]:
        """Say that no more frames come, and return what the hellos held back still tell."""
        blocks: list[Segment] = []
        if self._back is not None:
            held, self._back = self._back, None
            blocks += self._start()
            for each in held:
                self._add(each, blocks)
        return blocks + self._settle(runs_back=False) + self._cut()

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
                self._recent.append(frame)
                self._growing.hear(frame.board)
        if new_from == len(held):
            blocks += self._start()
        return blocks

    def _start(self) -> list[Segment]:
        """Begin a new segment; a board that restarts before any sample leaves none behind."""
        blocks = self._cut() if self._growing.place is not None else []
        self._growing = Growing(self.segments)
        self.lost.begin()
        self._gap = False
        return blocks

    def _follows(self, frame: Hello | SampleBlock | Event) -> bool:
        """Count what was lost in front of a frame; False for one that only repeats the last."""
        missing = self.lost.number(frame.sequence)
        if missing == REPEATED and frame == self._last:
            return False
        if missing:
            self.lost.take(missing)
            self._gap = True
        if not isinstance(frame, SampleBlock):
            self.lost.other()
        self._last = frame
        return True

    def _cut(self) -> list[Segment]:
        if not self._growing.has_news:
            return []
        block = self._growing.cut()
        self.samples += len(block.samples)
        self.left_out += self._growing.left_out
        self._growing.left_out = 0
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
