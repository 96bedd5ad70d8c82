"""How does another program get at the simulated board? Through a serial line or a network port.

Both are opened by pyserial, and so by every command: a pseudo terminal by the name of its far end,
a network port as ``socket://127.0.0.1:PORT``. The board talks whether anybody listens or not; what
nobody takes is lost, as it is with a real one.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import sys
import time
from collections.abc import Callable
from types import TracebackType
from typing import Protocol, Self

from strokewise.analysis.errors import PortError
from strokewise.daq.closing import Closing
from strokewise.daq.recording.container import Chunk
from strokewise.daq.sources import Source

POLL_S = 0.05
OPENED_S = 0.1  # a host that has just opened a port still sets it up and flushes it
LOCAL = "127.0.0.1"  # nobody but this computer


class ServedLine(Protocol):
    """The board's end of a line."""

    @property
    def port(self) -> str:
        """What the other program names it."""

    def connected(self) -> bool:
        """Tell whether somebody has the other end open now."""

    def send(self, data: bytes) -> None:
        """Send as much as the line takes at once; the rest is lost."""

    def close(self) -> None:
        """Give the line up."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None: ...


class TerminalLine(Closing):
    """A pseudo terminal, where there are any (not on Windows)."""

    def __init__(self) -> None:
        import tty  # only where there are terminals

        self._near, far = os.openpty()
        tty.setraw(far)
        self.port = os.ttyname(far)
        os.close(far)  # from here on the line tells whether a host has it open
        os.set_blocking(self._near, False)

    def connected(self) -> bool:
        """Tell whether a host has the far end open."""
        poll = select.poll()
        poll.register(self._near, select.POLLIN)
        return not any(event & select.POLLHUP for _, event in poll.poll(0))

    def send(self, data: bytes) -> None:
        """Send what the line takes; nothing while nobody listens."""
        if self.connected():
            with contextlib.suppress(BlockingIOError, OSError):  # full, or gone this moment
                os.write(self._near, data)

    def close(self) -> None:
        """Close it; a host finds its port gone."""
        os.close(self._near)


class SocketLine(Closing):
    """A network port of this computer, for one host at a time.

    Parameters
    ----------
    number : int
        0 takes a free one.

    Raises
    ------
    PortError
        When it is taken.
    """

    def __init__(self, number: int = 0) -> None:
        self._listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            if sys.platform != "win32":  # there it would let two boards share one port
                self._listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            self._listener.bind((LOCAL, number))
        except (OSError, OverflowError) as error:
            self._listener.close()
            why = getattr(error, "strerror", None) or str(error)
            raise PortError(
                f"network port {number} cannot be used ({why}); without one a free one is taken"
            ) from None
        self._listener.listen(1)
        self._listener.setblocking(False)
        self._host: socket.socket | None = None
        self.port = f"socket://{LOCAL}:{self._listener.getsockname()[1]}"

    def connected(self) -> bool:
        """Tell whether a host is connected, and let one in that waits."""
        if self._host is not None and self._gone(self._host):
            self._host.close()
            self._host = None
        if self._host is None:
            with contextlib.suppress(BlockingIOError):
                self._host, _ = self._listener.accept()
                self._host.setblocking(False)
        return self._host is not None

    def send(self, data: bytes) -> None:
        """Send what the connection takes; nothing while nobody listens."""
        if self.connected() and self._host is not None:
            with contextlib.suppress(BlockingIOError, OSError):  # full, or gone this moment
                self._host.send(data)

    def close(self) -> None:
        """Close the connection and stop listening."""
        if self._host is not None:
            self._host.close()
        self._listener.close()

    @staticmethod
    def _gone(host: socket.socket) -> bool:
        try:
            return host.recv(4096) == b""  # a host has nothing to say to a board
        except BlockingIOError:
            return False
        except OSError:
            return True


def open_line(number: int | None) -> TerminalLine | SocketLine:
    """Return a network port of that number, or where None a terminal if the system has any."""
    if number is None and sys.platform != "win32":
        return TerminalLine()
    return SocketLine(number or 0)


def serve(
    source: Source,
    line: ServedLine,
    *,
    seconds: float | None = None,
    sleep: Callable[[float], None] = time.sleep,
) -> None:
    """Send what a source delivers down a line, from the first host on until the source ends.

    Parameters
    ----------
    seconds : float, optional
        Stop so long after the first host came.
    """
    while not line.connected():
        sleep(POLL_S)
    sleep(OPENED_S)
    for item in source:
        if isinstance(item, Chunk) and item.data:
            line.send(item.data)
        if seconds is not None and source.now_us() >= seconds * 1e6:
            source.stop()
