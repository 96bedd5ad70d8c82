"""Does the board speak at another rate than was said? Garbage is noticed, usual rates are tried.

Bytes at a wrong rate come as bytes, and not one whole frame is ever in them. The rate is changed
on the open port: opening it anew would restart many a board.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

from strokewise.analysis.errors import PortError
from strokewise.daq.recording.container import Chunk, Item, Reopened
from strokewise.daq.sources import Source, SourceAround
from strokewise.daq.wire.decoder import Decoder

USUAL_BAUDS = (115_200, 500_000, 1_000_000, 250_000, 230_400, 57_600)
"""In the order in which they are tried; common practice of hobby boards, no source."""

GARBAGE_BYTES = 2_048
"""Three times the longest block of samples: at the right rate several frames would be in it."""

GARBAGE_S = 2.5
"""A board says hello every two seconds, so a slow one has proven itself by then …"""

FEWEST_BYTES = 64
"""… if it said anything: a spike or two on an open line is no garbage."""

OTHER_RATE_S = 2.5
"""How long another rate is listened to where less than ``GARBAGE_BYTES`` come."""

PROVEN_FRAMES = 2
"""One CRC in 65,536 holds by chance, and garbage has many pieces."""


class Tunable(Source, Protocol):
    """A source whose rate can be changed while it runs."""

    name: str
    baud: int


class RightBaud(SourceAround):
    """A port at the rate that its board speaks.

    Whatever comes is handed on, also what comes at a wrong rate; a :class:`Reopened` stands where
    the rate was changed, and says to what. Each rate is tried once; where none is right, the one
    that was said is kept.

    Parameters
    ----------
    source : Tunable
        Open, at the rate that was said.
    tell : callable
        Is told in one line when there is garbage, and which rate is right.
    """

    def __init__(
        self,
        source: Tunable,
        *,
        tell: Callable[[str], None] = lambda words: None,
        rates: tuple[int, ...] = USUAL_BAUDS,
    ) -> None:
        super().__init__(source)
        self._port, self._tell = source, tell
        self._said = source.baud
        self._rates = [rate for rate in rates if rate != source.baud]
        self._begin(None)

    def _begin(self, since_us: int | None) -> None:
        """Listen anew, from now or from the first byte."""
        self._decoder, self._bytes, self._since_us = Decoder(), 0, since_us

    def __iter__(self) -> Iterator[Item]:
        """Deliver what comes, and change the rate while it is garbage."""
        coming = iter(self._source)
        for item in coming:
            yield item
            if not isinstance(item, Chunk):
                continue
            if self._proven(item):
                if self._port.baud != self._said:
                    self._tell(
                        f"the board speaks {self._port.baud} baud, not {self._said}; it is read"
                        f" so now, say --baud {self._port.baud} next time"
                    )
                break
            if self._garbage(item.host_us):
                words = self._turn_on()
                if words is None:
                    break
                self._tell(words)
                self._begin(item.host_us)
                yield Reopened(item.host_us, words)
        yield from coming

    def _proven(self, chunk: Chunk) -> bool:
        if chunk.data and self._since_us is None:
            self._since_us = chunk.host_us
        self._bytes += len(chunk.data)
        self._decoder.feed(chunk.data)
        return self._decoder.tally.frames >= PROVEN_FRAMES

    def _garbage(self, now_us: int) -> bool:
        if self._since_us is None:
            return False
        heard_s = (now_us - self._since_us) / 1e6
        if self._port.baud != self._said:
            return self._bytes >= GARBAGE_BYTES or heard_s >= OTHER_RATE_S
        return self._bytes >= GARBAGE_BYTES or (
            heard_s >= GARBAGE_S and self._bytes >= FEWEST_BYTES
        )

    def _turn_on(self) -> str | None:
        """Set the next rate that the port takes, and say so; None when all have been tried."""
        before = self._port.baud
        why = f"{self._port.name}: not one whole frame in {self._bytes} bytes at {before} baud"
        while self._rates:
            rate = self._rates.pop(0)
            try:
                self._port.baud = rate
            except PortError:
                continue  # this port has no such rate
            return f"{why}; trying {rate}"
        if before == self._said:
            return None
        self._port.baud = self._said
        return (
            f"{why}, nor at any usual rate; back to {self._said}: is it the right port, does the"
            " board speak this format, is the line disturbed?"
        )
