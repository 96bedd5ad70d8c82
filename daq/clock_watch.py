"""Did this computer sleep, or was its clock set, while it was recording? Told by three clocks.

Times of a recording come from a clock that nobody sets, so neither moves them; what the board sent
meanwhile beyond what the system kept is lost, and counted as any other loss.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator

from strokewise.daq.recording.container import Item, Jotting
from strokewise.daq.sources import Source, SourceAround

CLOCKS_APART_S = 2.0
"""Between two clocks: reading them takes no time, and time servers move a clock by less."""

STOOD_STILL_S = 10.0
"""A port gives a sign of life ten times a second; no busy machine keeps a program waiting so long.
Also how sleep shows where no clock stands still in it."""


def _through_sleep_s() -> float:
    """Return a clock that runs on while the computer sleeps, where the system has one."""
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


class ClockWatch:
    """Compares the clocks each time it is asked.

    Parameters
    ----------
    running : callable
        Seconds that the host's times of a recording come from; never set.
    through_sleep : callable
        Seconds, never set, that run on through sleep.
    of_day : callable
        Seconds of the clock that a person sets.
    """

    def __init__(
        self,
        running: Callable[[], float] = time.monotonic,
        through_sleep: Callable[[], float] = _through_sleep_s,
        of_day: Callable[[], float] = time.time,
    ) -> None:
        self._clocks = (running, through_sleep, of_day)
        self._last = self._read()

    def _read(self) -> tuple[float, float, float]:
        running, through_sleep, of_day = self._clocks
        return running(), through_sleep(), of_day()

    def look(self) -> list[str]:
        """Return what befell since the last look, a line each; ask several times a second."""
        now = self._read()
        ran_s, passed_s, day_s = (new - old for new, old in zip(now, self._last, strict=True))
        self._last = now
        slept_s, set_s = passed_s - ran_s, day_s - passed_s
        told = []
        if slept_s > CLOCKS_APART_S:
            told.append(f"this computer slept for {slept_s:.0f} s; what came meanwhile is lost")
        if ran_s > STOOD_STILL_S:
            told.append(
                f"this program stood still for {ran_s:.0f} s (the computer slept, or was too busy);"
                " what came meanwhile may be lost"
            )
        if abs(set_s) > CLOCKS_APART_S:
            way = "forward" if set_s > 0 else "back"
            told.append(
                f"this computer's clock was set {way} by {abs(set_s):.0f} s; times in the"
                " recording run on unmoved"
            )
        return told


class ClockWatched(SourceAround):
    """A source into which a note is put where the computer slept or its clock was set.

    Parameters
    ----------
    look : callable
        As :meth:`ClockWatch.look`; each line is told once.
    tell : callable
        Is told each line as well.
    """

    def __init__(
        self, source: Source, look: Callable[[], list[str]], tell: Callable[[str], None]
    ) -> None:
        super().__init__(source)
        self._look, self._tell = look, tell

    def __iter__(self) -> Iterator[Item]:
        """Deliver what the source does, and the notes."""
        for item in self._source:
            for words in self._look():
                self._tell(words)
                yield Jotting(self.now_us(), note=words)
            yield item
