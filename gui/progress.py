"""How far has long work come, and how long is the rest? One line, where somebody looks on."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TextIO

SAID_AFTER_S = 2.0
"""What is over by then needs no telling."""
SAID_EVERY_S = 0.5
MINUTES_FROM_S = 90.0
STOPS = "Ctrl-C stops"


class Progress:
    """Says on a terminal how far work has come; says nothing into a file or a pipe.

    Examples
    --------
    >>> from strokewise.gui.progress import Progress
    >>> with Progress("Reading") as progress:
    ...     for share in (0.5, 1.0):
    ...         progress(share)
    """

    def __init__(
        self,
        words: str,
        stream: TextIO | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._words, self._clock = words, clock
        self._stream = sys.stderr if stream is None else stream
        self._began_s = self._said_s = clock()
        self._wide = 0

    def __call__(self, share: float) -> None:
        """Take note of the share that is done, 0 to 1."""
        now_s = self._clock()
        took_s = now_s - self._began_s
        if took_s < SAID_AFTER_S or now_s - self._said_s < SAID_EVERY_S or share <= 0:
            return
        if not self._stream.isatty():
            return
        self._said_s = now_s
        self._say(f"{self._words}: {share:.0%}{time_left(took_s, share)}. {STOPS}.")

    def __enter__(self) -> Progress:
        """Begin."""
        return self

    def __exit__(self, *_: object) -> None:
        """Take the line away: what comes of the work stands alone."""
        if self._wide:
            self._say("")
            self._stream.write("\r")
            self._stream.flush()

    def _say(self, line: str) -> None:
        self._stream.write("\r" + line.ljust(self._wide))
        self._stream.flush()
        self._wide = len(line)


def time_left(took_s: float, share: float, told_from_s: float = 1.0) -> str:
    """Return how long the rest will take if it goes on as it did; nothing where it is soon over."""
    left_s = took_s * (1 - share) / share
    if left_s < told_from_s:
        return ""
    if left_s < MINUTES_FROM_S:
        return f", some {left_s:.0f} s left"
    return f", some {left_s / 60:.0f} min left"
