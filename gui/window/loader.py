"""How is something read without the window waiting? Aside, and handed to the window's thread."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

from PySide6.QtCore import QObject, Qt, Signal

from strokewise.gui.models.figures.views import Subject
from strokewise.gui.models.run.aside import aside
from strokewise.gui.models.run.fault import fault_words

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


def lay_over(window: Workbench, path: Path) -> None:
    """Read a second recording aside and lay it over the window's own."""

    def loaded(read: Future[Subject]) -> None:
        error = read.exception()
        if error is not None:
            window.say(fault_words("reading it", error))
            return
        window.other = read.result()
        window.bar.clear()
        window.show_view("overlay")

    window.loader = Loader(lambda: _read(path), loaded)
    window.say(f"Reading {path.name} …", stays=True)


def _read(path: Path) -> Subject:
    """Read a recording to its end, by the deck of a replay."""
    from strokewise.gui.models.run.sources import open_deck

    deck = open_deck(path)
    deck.seek(float("inf"))
    deck.follower.judge()
    return deck.snapshot().subject(path.name)
