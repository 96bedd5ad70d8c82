"""The board is back: is it still the same start of it, so that the encoder's frame holds?

Board and listener both have a clock. If the board's has gone on by as much as the listener's, it
has counted all the while; else its next hello tells by its boot number, and without one it counts
as started anew.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from strokewise.analysis.samples import Board, Segment
from strokewise.gui.models.run.silence import Heard, duration_words

Return = Literal["waiting", "same", "new"]

CLOCKS_S, CLOCKS_SHARE = 0.3, 0.005
"""Two clocks agree within this: what waits on its way, and a cheap oscillator."""

KNOWN_FROM_US = 2_000_000
"""A board that has run for less might by chance be where it was, started anew."""

HELLO_WITHIN_S = 2.5
"""A board says hello every two seconds; one that does not is taken to have started anew."""

WRAP = 2**32


@dataclass(slots=True)
class Rejoin:
    """Holds back what comes after a silence until it is known where it belongs.

    Attributes
    ----------
    board : Board or None
        What the board said of itself before.
    heard : Heard
        What came last before the silence, and ``count`` there.
    reopened : bool
        The port was opened anew: times and counts begin without their wraps.
    """

    board: Board | None
    heard: Heard
    count: int = 0
    number: int = 0
    reopened: bool = False
    since_s: float | None = None
    held: list[Segment] = field(default_factory=list)

    def take(self, blocks: list[Segment], now_s: float) -> Return:
        """Take what came; ``held`` is free once the answer is not "waiting"."""
        self.held += blocks
        for block in self.held:
            if not self.reopened:
                if block.number != self.number:
                    return "new"
                continue  # the board that it names may be the one known from before
            boot = None if block.board is None else block.board.boot
            before = None if self.board is None else self.board.boot
            if boot is not None and before is not None:
                return "same" if boot == before and self._goes_on() else "new"
        if self._clocks_agree(now_s):
            return "same"
        sampled = any(len(block.samples) for block in self.held)
        if sampled and self.since_s is None:
            self.since_s = now_s
        if self.since_s is not None and now_s - self.since_s > HELLO_WITHIN_S:
            return "new"
        return "waiting"

    def news(self, told: Return, now_s: float) -> str:
        """Say what the return has told."""
        gone = duration_words(now_s - (now_s if self.heard.at_s is None else self.heard.at_s))
        if told == "same":
            return f"The board was silent for {gone} and counted on: the encoder's frame holds"
        return f"The board was silent for {gone} and has started anew: no angle from before holds"

    def released(self, told: Return) -> tuple[list[Segment], int]:
        """Return what was held, with the numbers that it has, and by how much they were raised."""
        first = min((block.number for block in self.held), default=self.number)
        if told == "same":
            by = self.number - first if self.reopened else 0
            wraps = self._wraps() if self.reopened else (0, 0)
            return [_moved(block, by, *wraps) for block in self.held], by
        # A new start has a number of its own, also where nothing but its time shows it.
        by = max(0, self.number + 1 - first)
        return [_moved(block, by, 0, 0) for block in self.held], by

    def _wraps(self) -> tuple[int, int]:
        first = next((b.samples for b in self.held if len(b.samples)), None)
        if first is None:
            return 0, 0
        behind_us = self.heard.last_us - int(first.time_us[0])
        off = self.count - int(first.count[0])
        return WRAP * max(0, -(-behind_us // WRAP)), WRAP * round(off / WRAP)

    def _last_us(self) -> int | None:
        times = [b.samples.time_us[-1] for b in self.held if len(b.samples)]
        if not times:
            return None
        return int(np.max(times)) + (self._wraps()[0] if self.reopened else 0)

    def _goes_on(self) -> bool:
        last_us = self._last_us()
        return last_us is None or last_us > self.heard.last_us

    def _clocks_agree(self, now_s: float) -> bool:
        last_us, at_s = self._last_us(), self.heard.at_s
        if last_us is None or at_s is None or self.heard.last_us < KNOWN_FROM_US:
            return False
        board_s, here_s = (last_us - self.heard.last_us) * 1e-6, now_s - at_s
        late = 0.0 <= board_s < CLOCKS_S  # it was only held up on its way
        return late or abs(board_s - here_s) < CLOCKS_S + CLOCKS_SHARE * here_s


def _moved(block: Segment, number_by: int, time_by_us: int, count_by: int) -> Segment:
    """Return a block with other numbers, times and counts."""
    samples, events = block.samples, block.events
    return replace(
        block,
        number=block.number + number_by,
        samples=replace(
            samples, time_us=samples.time_us + time_by_us, count=samples.count + count_by
        ),
        events=replace(events, time_us=events.time_us + time_by_us, count=events.count + count_by),
    )
