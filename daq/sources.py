"""Where do the bytes come from? A live port, or what stands for one."""

from __future__ import annotations

import errno
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any, Protocol

import serial

from strokewise.analysis.errors import PortError
from strokewise.daq.closing import Closing
from strokewise.daq.recording.container import MAX_CHUNK, Chunk, Item

BAUD = 115_200

READ_TIMEOUT_S = 0.1
"""Longest silence before an empty chunk is delivered as a sign of life."""

GATHER_S = 0.01
"""Pause between two reads of a port. Without it a busy port is read in chunks of a few bytes, each
an append of its own; with it a chunk at 500,000 baud is 500 bytes, an eighth of what the system
holds for us."""


class Source(Protocol):
    """Anything that delivers a port's bytes: iterate over it once, then close it."""

    @property
    def header(self) -> dict[str, Any]:
        """What is known of the recording from its first frame; empty for a live port."""

    def __iter__(self) -> Iterator[Item]:
        """Deliver items as they come, until the source ends or is stopped."""

    def now_us(self) -> int:
        """Return the host's time now, on the scale of the items."""

    def stop(self) -> None:
        """End the iteration soon; may be called from another thread or a signal."""

    def close(self) -> None:
        """Let go of what is held. Not while the iteration runs."""


def _port_faults() -> tuple[type[Exception], ...]:
    """Return all that pyserial lets out when a port goes away.

    ``read`` raises SerialException, which is an OSError; ``in_waiting`` a bare OSError; on Linux
    and macOS some calls a termios.error, which is none; a port closed meanwhile a TypeError.
    """
    if sys.platform == "win32":
        return OSError, TypeError
    import termios  # only there

    return OSError, TypeError, termios.error


PORT_FAULTS = _port_faults()
OPEN_FAULTS: tuple[type[Exception], ...] = (ValueError, *PORT_FAULTS)
"""A name or a baud rate that makes no sense is a ValueError."""


class SourceAround(Closing):
    """A source that hands on what another one delivers, and adds to it in ``__iter__``."""

    def __init__(self, source: Source) -> None:
        self._source = source

    @property
    def header(self) -> dict[str, Any]:
        """What the source knows."""
        return self._source.header

    def now_us(self) -> int:
        """Return the source's time."""
        return self._source.now_us()

    def stop(self) -> None:
        """End the iteration soon."""
        self._source.stop()

    def close(self) -> None:
        """Close the source."""
        self._source.close()


class SerialSource(Closing):
    """A live port, named as pyserial names it: ``/dev/ttyUSB0``, ``COM3``, ``socket://…``.

    Parameters
    ----------
    name : str
        A device or any URL of pyserial.
    baud : int
        Symbols a second; a network port has its own.
    clock, sleep : callable
        Seconds, rising, and how to wait for some.

    Raises
    ------
    PortError
        When it cannot be opened, and while iterating when it goes away.
    """

    header: dict[str, Any] = {}  # noqa: RUF012  nobody writes into it

    def __init__(
        self,
        name: str,
        baud: int = BAUD,
        *,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.name = name
        self._clock = clock
        self._sleep = sleep
        self._stopped = False
        try:
            # Two recorders on one port would each get half of the bytes.
            self._port = serial.serial_for_url(
                name, baudrate=baud, timeout=READ_TIMEOUT_S, exclusive=True
            )
        except OPEN_FAULTS as error:
            raise PortError(_why_not_open(name, error)) from None
        self._start_s = clock()

    @property
    def baud(self) -> int:
        """Symbols a second; may be changed while it runs, what then waited to be read is dropped.

        Raises
        ------
        PortError
            When the port has no such rate.
        """
        return int(self._port.baudrate)

    @baud.setter
    def baud(self, rate: int) -> None:
        try:
            self._port.baudrate = rate
            self._port.reset_input_buffer()
        except OPEN_FAULTS as error:
            raise PortError(f"{self.name} cannot be set to {rate} baud: {error}") from None

    def now_us(self) -> int:
        """Return the time since the port was opened."""
        return round((self._clock() - self._start_s) * 1e6)

    def __iter__(self) -> Iterator[Item]:
        """Deliver chunks until stopped; one is empty when nothing came for a while."""
        while not self._stopped:
            data = self._read(1)
            yield Chunk(self.now_us(), data)
            if data:
                self._sleep(GATHER_S)
        if rest := self._read(0):
            yield Chunk(self.now_us(), rest)

    def stop(self) -> None:
        """End the iteration at the next read, with what has arrived by then."""
        self._stopped = True

    def close(self) -> None:
        """Close the port, even one that has gone away."""
        try:
            self._port.close()
        except PORT_FAULTS as error:
            raise PortError(f"{self.name} did not close: {error}") from None

    def _read(self, at_least: int) -> bytes:
        # Never ask for more than is there: a read that fails half way loses what it had. A
        # network port says 1 whatever waits, so ask it again until nothing does.
        data = bytearray()
        try:
            wanted = max(at_least, self._port.in_waiting)
            while wanted and len(data) < MAX_CHUNK:
                data += self._port.read(wanted)
                wanted = self._port.in_waiting if wanted == 1 else 0
        except PORT_FAULTS as error:
            if data:  # hand on what came; the next read fails again
                return bytes(data)
            raise PortError(
                f"{self.name} went away after {self.now_us() / 1e6:.1f} s ({error});"
                " check the plug and the cable, then start again"
            ) from None
        return bytes(data)


def _why_not_open(name: str, error: Exception) -> str:
    number = getattr(error, "errno", None)
    if number == errno.ENOENT:
        return f"no port {name}; `strokewise ports` lists those there are"
    if number in (errno.EACCES, errno.EPERM):
        return f"no permission for {name}; on Linux add yourself to its group (often dialout)"
    if number in (errno.EBUSY, errno.EAGAIN):
        return f"{name} is in use by another program; close that first"
    return f"{name} cannot be opened as a port: {error}"
