"""What happens to a file that is dropped on the window? It is played or opened, by its kind."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject
from PySide6.QtGui import QDropEvent

from strokewise.analysis.errors import StrokewiseError
from strokewise.daq.recording.container import RECORDING_SUFFIX
from strokewise.gui.job.store import HEAD_FILE
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.sources import LARGE_BYTES, open_replay, reading_words, size_of

if TYPE_CHECKING:
    from strokewise.gui.window.workbench import Workbench

PROFILE_SUFFIX = ".toml"


class Drops(QObject):
    """Takes files dropped on a window."""

    def __init__(self, window: Workbench) -> None:
        super().__init__(window)
        self._window = window
        window.setAcceptDrops(True)
        window.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: D102
        if event.type() not in (QEvent.Type.DragEnter, QEvent.Type.Drop):
            return super().eventFilter(watched, event)
        assert isinstance(event, QDropEvent)
        files = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        known = [each for each in files if each.suffix in (RECORDING_SUFFIX, PROFILE_SUFFIX)]
        if not known:
            return False
        event.acceptProposedAction()
        if event.type() == QEvent.Type.Drop:
            self.take(known[0])
        return True

    @property
    def played(self) -> str:
        """The recording that is played; empty where none is, or nobody knows which file."""
        replay = self._window.replay
        return "" if replay is None or replay.file is None else str(replay.file)

    def take(self, path: Path, engine: str | None = None) -> None:
        """Play a recording, open a job, or open a profile on the set-up page.

        Parameters
        ----------
        engine : str, optional
            The profile that a recording is played with, where that is not its own.
        """
        window = self._window
        if path.name == HEAD_FILE:
            window.rooms.desk.open(str(path))
            return
        if path.suffix == PROFILE_SUFFIX:
            window.show_page("setup")
            window.pages["setup"].open_profile(str(path))  # type: ignore[attr-defined]
            return
        if window.run.snapshot.link.recording:
            window.say("Still recording: stop that first, then drop the other one")
            return
        if size_of(path) < LARGE_BYTES:
            try:
                self._play(path, open_replay(path, engine=engine))
            except StrokewiseError as error:
                window.say(str(error))
            return

        from strokewise.gui.window.loader import load

        load(
            window,
            reading_words(path),
            lambda going: open_replay(path, engine=engine, going=going),
            lambda run: self._play(path, run),
        )

    def _play(self, path: Path, run: ReplayRun) -> None:
        self._window.remember_recording(str(path.absolute()))
        self._window.change_run(run)
        self._window.show_view("chart")
