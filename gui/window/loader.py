"""How is a second recording read without the window waiting? In a thread, by the same deck."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from strokewise.analysis.errors import StrokewiseError
from strokewise.gui.models.views import Subject

Done = Callable[[Subject | None, str], None]


class Loader(QObject):
    """Reads one recording to its end; tells the window when it is done."""

    _done = Signal(object, str)

    def __init__(self, path: Path, done: Done) -> None:
        super().__init__()
        self._path = path
        self._done.connect(done)
        self._thread = threading.Thread(target=self._read, name="loader", daemon=True)
        self._thread.start()

    def _read(self) -> None:
        from strokewise.gui.models.sources import open_deck

        try:
            deck = open_deck(self._path)
            deck.seek(float("inf"))
            deck.follower.judge()
            self._done.emit(deck.snapshot().subject(self._path.name), "")
        except StrokewiseError as error:
            self._done.emit(None, str(error))
