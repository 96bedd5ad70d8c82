"""How is something read without the window waiting? Aside, and handed to the window's thread."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from typing import TYPE_CHECKING, Generic, TypeVar

from PySide6.QtCore import QObject, Qt, Signal

from strokewise.gui.models.run.aside import aside
from strokewise.gui.models.run.fault import fault_words
from strokewise.gui.models.run.going import Going, StoppedError

if TYPE_CHECKING:
    from strokewise.gui.window.workbench import Workbench

Loaded = TypeVar("Loaded")


class _Bell(QObject):
    rung = Signal(object)


class Loader(Generic[Loaded]):
    """Works something out aside; ``done`` gets the future in the thread that made the loader."""

    def __init__(self, work: Callable[[], Loaded], done: Callable[[Future[Loaded]], None]) -> None:
        self._bell = _Bell()
        self._bell.rung.connect(done, Qt.ConnectionType.QueuedConnection)
        aside(work, "loader").add_done_callback(self._bell.rung.emit)


def load(
    window: Workbench,
    words: str,
    work: Callable[[Going], Loaded],
    done: Callable[[Loaded], object],
    failed: Callable[[BaseException], object] | None = None,
) -> None:
    """Work something out aside, with its progress in the window and a button that stops it.

    Parameters
    ----------
    words : str
        What is done: ``"Reading bench.swr"``.
    done, failed : callable
        Called in the window's own thread with what came of it, or with why nothing did; left out,
        that is said in passing. What was stopped fails, too.
    """
    going = Going(words)

    def ended(future: Future[Loaded]) -> None:
        window.work.end(going)
        error = future.exception()
        if error is None and going.stopped:  # too late for the work to notice
            error = StoppedError(f"{words}: stopped")
        if error is None:
            done(future.result())
        elif failed is not None:
            failed(error)
        else:
            window.say(fault_words(words, error))

    window.work.show_work(going, window.colours)
    window.work.held.append(Loader(lambda: work(going), ended))
