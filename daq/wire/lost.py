"""How many frames were lost? Their numbers tell modulo 256, the time between tells the rest."""

from __future__ import annotations

import numpy as np

from strokewise.analysis.samples import BoolArray

NUMBERS = 256
"""The sequence is a byte."""

UNSURE_FRAMES = 100
"""Beside samples a board sends hellos and events, at a rate that is only known by and large: where
so many of them fall into a gap, the nearest number of frames that ends in the right byte may be
the wrong one by 256."""

LONE_BLOCKS = 100
"""Without numbers (plain lines), and where the number says that none is missing, a gap of fewer
blocks is taken for a board that paused."""


class LostFrames:
    """Counts what is missing between the frames of one start of the board.

    Attributes
    ----------
    frames : int
        Lost so far.
    about : bool
        The number of lost ones is right by and large only.
    """

    def __init__(self) -> None:
        self.frames = 0
        self.about = False
        self._sequence: int | None = None
        self._due_us: int | None = None
        self._block_us = 0
        self._since = 0  # frames since the last block, with those that the numbers say are lost
        self._blocks = 0
        self._others = 0

    def begin(self) -> None:
        """Begin another start of the board; what was lost so far stays counted."""
        self._sequence, self._due_us, self._since = None, None, 0

    def number(self, sequence: int | None) -> int:
        """Take a frame's number; returns how many are missing in front of it, modulo 256."""
        before, self._sequence = self._sequence, sequence
        if sequence is None or before is None:
            return 0
        return (sequence - before - 1) % NUMBERS

    def take(self, missing: int) -> None:
        """Count the missing in front of a frame that is no repetition."""
        self.frames += missing
        self._since += missing

    def other(self) -> None:
        """Note a frame that is no block of samples."""
        self._others += 1
        self._since += 1

    def block(self, start_us: int, block_us: int) -> bool:
        """Note a block of samples; True where the time shows that more is missing in front of it.

        Parameters
        ----------
        start_us, block_us : int
            Its first sample on the board's clock, unwrapped, and how long it lasts.
        """
        due_us, usual_us, since = self._due_us, self._block_us, self._since
        self._due_us, self._block_us, self._since = start_us + block_us, block_us, 0
        self._blocks += 1
        if due_us is None or not usual_us or start_us - due_us < LONE_BLOCKS * usual_us:
            return False
        blocks = (start_us - due_us) / usual_us
        others = blocks * self._others / self._blocks
        more = round((blocks + others - since) / NUMBERS) * NUMBERS
        if self._sequence is None:  # lines have no numbers
            more, self.about = round(blocks), True
        if more > 0:
            self.frames += more
            uneven = abs(block_us - usual_us) > 0 and blocks > NUMBERS / 4
            self.about = self.about or uneven or others > UNSURE_FRAMES
        return more > 0

    def stands_at(self, sequence: int, due_us: int) -> bool:
        """Tell whether the last frame had this number, and the next block is due then."""
        return self._sequence == sequence and self._due_us == due_us

    def run(self, is_block: BoolArray, sequence: int, due_us: int, block_us: int) -> None:
        """Note frames in front of none of which anything is missing.

        Parameters
        ----------
        is_block : (f,) bool
            Which of them are blocks of samples.
        sequence : int
            Number of the last.
        due_us, block_us : int
            When the last block among them or in front of them ends, and how long it lasts.
        """
        blocks = int(np.count_nonzero(is_block))
        behind = int(np.argmax(is_block[::-1])) if blocks else len(is_block) + self._since
        self._sequence, self._due_us, self._block_us = sequence, due_us, block_us
        self._since = behind
        self._blocks += blocks
        self._others += len(is_block) - blocks
