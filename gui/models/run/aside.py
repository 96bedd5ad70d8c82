"""How is something worked out without the picture waiting? Aside, one at a time, then a rest.

A pool of threads is waited for when the program ends. Nobody waits for what a window that closes
has left undone, so a thread here is a daemon.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, wait
from typing import Generic, TypeVar

REST_FACTOR = 2.0
"""Rest for so many times what the last one took: a third of one core at the most. Most verdicts
take some hundredths of a second, a joint fit made anew some tenths."""
REST_LEAST_S = 0.25
"""Four opinions a second: the picture moves with the crank in between, and an answer taken back is
shown within a quarter of a second."""
CLOSING_S = 0.3
"""A window that closes does not wait longer than this for what is still in work."""

T = TypeVar("T")


def aside(work: Callable[[], T], name: str) -> Future[T]:
    """Work something out in a thread of its own."""
    future: Future[T] = Future()

    def run() -> None:
        try:
            future.set_result(work())
        except Exception as error:  # handed to whoever asked
            future.set_exception(error)

    threading.Thread(target=run, name=name, daemon=True).start()
    return future


class Aside(Generic[T]):
    """Works one thing out at a time; asked and listened to from one thread.

    Parameters
    ----------
    name : str
        Of the thread.
    clock : callable
        Seconds, rising.
    """

    def __init__(self, name: str, clock: Callable[[], float] = time.monotonic) -> None:
        self._name, self._clock = name, clock
        self._future: Future[T] | None = None
        self._asked_s = 0.0
        self._next_s = float("-inf")
        self.took_s = 0.0
        """How long the last one took."""

    @property
    def busy(self) -> bool:
        """True while something is in work or waits to be collected."""
        return self._future is not None

    @property
    def free(self) -> bool:
        """True when the next may be asked for."""
        return not self.busy and self._clock() >= self._next_s

    def ask(self, work: Callable[[], T], *, at_once: bool = False) -> bool:
        """Have something worked out; False when it is not time yet.

        Parameters
        ----------
        at_once : bool
            A person waits for it, so there is no rest before it.
        """
        if self.busy or not (at_once or self.free):
            return False
        self._asked_s = self._clock()
        self._future = aside(work, self._name)
        return True

    def collect(self) -> Future[T] | None:
        """Return what was asked for once it is there, and be free for the next."""
        done = self._future
        if done is None or not done.done():
            return None
        self._future, now = None, self._clock()
        self.took_s = now - self._asked_s
        self._next_s = now + max(REST_LEAST_S, REST_FACTOR * self.took_s)
        return done

    def close(self) -> None:
        """Wait a moment for what is still in work; it is of no use any more."""
        wait(() if self._future is None else (self._future,), CLOSING_S)
