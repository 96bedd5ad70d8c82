"""Where does a segment stand while it arrives? What came since the last block, and what is next."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from strokewise.analysis.samples import Board, Segment
from strokewise.daq.wire.blocks import BlockRows, OneBlock, events, open_blocks, rising
from strokewise.daq.wire.plausible import possible
from strokewise.daq.wire.runs import FrameRun
from strokewise.daq.wire.unwrap_run import (
    EVENT_SLACK_US,
    HALF_RANGE,
    LOW_BITS,
    WRAP_LIMIT_US,
    RunPlaces,
)

BLOCK_SPAN_US = 64 * 65_535
"""The longest time that one block can span: so far it may begin before an event sent first."""

Place = tuple[int, int]
"""Time and count of a frame."""


@dataclass
class Growing:
    """A segment while it arrives: where it stands, and what came since the last block."""

    number: int
    board: Board | None = None
    # What the next frame is unwrapped against: the last block's start, or the last event while
    # there are no samples.
    place: Place | None = None
    has_samples: bool = False
    sampled_us: int | None = None  # of the last sample
    has_news: bool = False

    left_out: int = 0
    goes_on: bool = False  # the same start for certain, however long nothing came

    blocks: list[OneBlock | BlockRows] = field(default_factory=list)
    events: list[tuple[int, int, int]] = field(default_factory=list)

    def unwrap(self, raw: Place, is_event: bool) -> Place | None:
        """Return time and count unwrapped.

        None when the time runs back and is no wrap: only a new start of the board can say that.
        """
        if self.place is None:
            return raw
        near_us, near_count = self.place
        if self.goes_on:  # a wrap at the most: longer than 71 min nothing tells how many
            turned = (raw[1] - near_count + HALF_RANGE & LOW_BITS) - HALF_RANGE
            return near_us + ((raw[0] - near_us) & LOW_BITS), near_count + turned
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
        self.place, self.goes_on = place, False
        self.has_samples = self.has_news = True
        self.blocks.append((payload, *place, gap))

    def add_run(self, run: FrameRun, places: RunPlaces, start: int, stop: int, gap: bool) -> bool:
        """Add frames of a run that follow on the last one; tells whether blocks are among them.

        Parameters
        ----------
        gap : bool
            Whether something was lost in front of the first block.
        """
        assert self.place is not None
        own, is_block = slice(start, stop), run.is_block[start:stop]
        here = int(np.flatnonzero(run.is_block[:start])[-1])
        time_us = places.time_us[own] + (self.place[0] - int(places.time_us[here]))
        count = places.count[own] + (self.place[1] - int(places.count[here]))
        first, behind = int(run.block_at[start - 1]) + 1, int(run.block_at[stop - 1]) + 1
        if behind > first:
            rows = BlockRows(run.blocks[first:behind], time_us[is_block], count[is_block], gap)
            self.place = int(rows.time_us[-1]), int(rows.count[-1])
            self.blocks.append(rows)
        inputs = run.events["input"][start - first : stop - behind].tolist()
        edges_us, edges_at = time_us[~is_block].tolist(), count[~is_block].tolist()
        self.events += zip(edges_us, edges_at, inputs, strict=True)
        self.has_news = True
        return behind > first

    def stands_at(self, t_us: int, count: int) -> int | None:
        """Return the last block's time if this is its raw place and nothing is in doubt."""
        if self.place is None or self.goes_on or not self.has_samples:
            return None
        same = not (self.place[0] - t_us) & LOW_BITS and not (self.place[1] - count) & LOW_BITS
        return self.place[0] if same else None

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
        opened, sizes = open_blocks(self.blocks)
        sound = possible(opened, sizes, self.board)
        samples = rising(opened if sound is None else opened.only(sound), self.sampled_us)
        self.left_out += len(opened) - len(samples)
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
