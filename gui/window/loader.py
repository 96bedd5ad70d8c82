"""How is a recording read without the window waiting? In a thread, by the same deck."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from strokewise.analysis.errors import StrokewiseError
from strokewise.gui.models.figures.views import Subject
from strokewise.gui.models.run.fault import fault_words

if TYPE_CHECKING:
    from strokewise.gui.models.run.replay import ReplayRun
    from strokewise.gui.window.workbench import Workbench

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
        from strokewise.gui.models.run.sources import open_deck

        try:
            deck = open_deck(self._path)
            deck.seek(float("inf"))
            deck.follower.judge()
            self._done.emit(deck.snapshot().subject(self._path.name), "")
        except Exception as error:
            self._done.emit(None, fault_words("reading it", error))


def lay_over(window: Workbench, path: Path) -> None:
    """Read a second recording aside and lay it over the window's own."""

    def loaded(subject: Subject | None, trouble: str) -> None:
        if subject is None:
            window.say(trouble)
            return
        window.other = subject
        window.bar.clear()
        window.show_view("overlay")

    window.loader = Loader(path, loaded)
    window.say(f"Reading {path.name} …", stays=True)


class Opener(QObject):
    """Opens one large recording for a window that is there already."""

    _opened = Signal(object, object)

    def __init__(
        self,
        open_run: Callable[[], ReplayRun],
        done: Callable[[ReplayRun | None, StrokewiseError | None], None],
    ) -> None:
        super().__init__()
        self._open_run = open_run
        self._opened.connect(done)
        self._thread = threading.Thread(target=self._open, name="opener", daemon=True)
        self._thread.start()

    def _open(self) -> None:
        try:
            self._opened.emit(self._open_run(), None)
        except Exception as error:
            known = isinstance(error, StrokewiseError)
            self._opened.emit(
                None, error if known else StrokewiseError(fault_words("opening it", error))
            )
