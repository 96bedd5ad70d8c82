"""How is something read without the window waiting? Aside, and handed to the window's thread."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from typing import Generic, TypeVar

from PySide6.QtCore import QObject, Qt, Signal

from strokewise.gui.models.run.aside import aside

Loaded = TypeVar("Loaded")


class _Bell(QObject):
    rung = Signal(object)


class Loader(Generic[Loaded]):
    """Works something out aside; ``done`` gets the future in the thread that made the loader."""

    def __init__(self, work: Callable[[], Loaded], done: Callable[[Future[Loaded]], None]) -> None:
        self._bell = _Bell()
        self._bell.rung.connect(done, Qt.ConnectionType.QueuedConnection)
        aside(work, "loader").add_done_callback(self._bell.rung.emit)
