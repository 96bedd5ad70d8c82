"""How far has work aside come, and shall it go on? Told by the work, asked by whoever waits."""

from __future__ import annotations

import time
from collections.abc import Callable

from strokewise.analysis.errors import StrokewiseError
from strokewise.gui.progress import SAID_AFTER_S, time_left


class StoppedError(StrokewiseError):
    """Whoever waited for the work wants it no more."""


class Going:
    """Takes note of the share that is done; in it the work ends once it was stopped.

    One thread works and another looks on: a share is written whole, and so is the wish to stop.
    """

    def __init__(self, words: str, clock: Callable[[], float] = time.monotonic) -> None:
        self.share = 0.0
        self._words, self._clock = words, clock
        self._began_s = clock()
        self.stopped = False

    def __call__(self, share: float) -> None:
        """Take note of a share, 0 to 1.

        Raises
        ------
        StoppedError
            It was stopped.
        """
        self.share = share
        if self.stopped:
            raise StoppedError(f"{self._words}: stopped")

    def stop(self) -> None:
        """Want it no more."""
        self.stopped = True

    @property
    def long(self) -> bool:
        """Whether it goes on for so long that somebody wonders."""
        return self._clock() - self._began_s >= SAID_AFTER_S

    @property
    def words(self) -> str:
        """What is done, how much of it, and how long the rest takes."""
        if not 0 < self.share < 1:
            return f"{self._words} …"
        left = time_left(self._clock() - self._began_s, self.share)
        return f"{self._words}: {self.share:.0%}{left}"
