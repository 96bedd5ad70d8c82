"""What when the port goes away while it is recorded? It is waited for, and the stream goes on.

One clock runs through, so host times never run back; a :class:`Reopened` stands where the port
came back, and whoever reads on finds out there whether the board has started anew.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import Any

from strokewise.analysis.errors import PortError
from strokewise.daq.closing import Closing
from strokewise.daq.recording.container import Chunk, Hole, Item, Reopened
from strokewise.daq.sources import Source

REOPEN_S = 0.5
"""Wait between two tries to open a port that went away: a person plugs it in within seconds."""


class PatientSource(Closing):
    """A port that survives being pulled out.

    Parameters
    ----------
    open_port : callable
        Opens the port; raises PortError when it is not there.
    tell : callable
        Is told in one line when the port has gone, and when it is back.
    clock, sleep : callable
        Seconds, rising, and how to wait for some.

    Raises
    ------
    PortError
        Only when the port is not there at first.
    """

    def __init__(
        self,
        open_port: Callable[[], Source],
        *,
        tell: Callable[[str], None] = lambda words: None,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._open_port, self._tell = open_port, tell
        self._clock, self._sleep = clock, sleep
        self._stopped = False
        self._source: Source | None = open_port()
        self._start_s = clock()

    @property
    def header(self) -> dict[str, Any]:
        """Nothing is known of a port beforehand."""
        return {}

    def now_us(self) -> int:
        """Return the time since the port was opened first."""
        return round((self._clock() - self._start_s) * 1e6)

    def __iter__(self) -> Iterator[Item]:
        """Deliver what comes until stopped; while the port is away, empty chunks."""
        while self._source is not None:
            try:
                for item in self._source:
                    yield item if isinstance(item, Hole) else item._replace(host_us=self.now_us())
                return
            except PortError as error:
                self._tell(f"{_cause(error)}; waiting for it to come back")
            gone_s = self._clock()
            self._let_go()
            while not self._stopped and not self._opened():
                yield Chunk(self.now_us(), b"")
                self._sleep(REOPEN_S)
            if self._source is not None:
                words = f"the port was away for {self._clock() - gone_s:.1f} s and is back"
                self._tell(words)
                yield Reopened(self.now_us(), words)

    def stop(self) -> None:
        """End the iteration soon, also while the port is away."""
        self._stopped = True
        if (source := self._source) is not None:
            source.stop()

    def close(self) -> None:
        """Close the port."""
        source, self._source = self._source, None
        if source is not None:
            source.close()

    def _let_go(self) -> None:
        with suppress(PortError):
            self.close()

    def _opened(self) -> bool:
        try:
            self._source = self._open_port()
        except PortError:
            return False
        if self._stopped:
            self._source.stop()
        return True


def _cause(error: PortError) -> str:
    return str(error).split(";")[0]
