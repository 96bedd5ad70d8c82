"""How far has long work come? A bar with the time left and a button that stops it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QProgressBar, QPushButton, QWidget

from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.run.going import Going
from strokewise.gui.models.run.live import LiveRun
from strokewise.gui.models.run.replay import ReplayRun
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.window import ink
from strokewise.gui.window.key_button import TARGET_PX

WORK_LOOK_MS = 250
"""So often it is looked how far the work has come."""
WORK_TYPE_SHARE = 0.026
LOOKING = "Looking through the recording"


class WorkBar(QFrame):
    """Shows one piece of long work at a time; takes no keyboard and no room while there is none."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._going: Going | None = None
        self._looking: Going | None = None
        self._stop: Callable[[], object] = lambda: None
        self._at_once = False
        self.held: list[object] = []
        """What works, held so that it can finish."""
        self._colours = LIGHT
        self._words, self.meter = QLabel(), QProgressBar()
        self._words.setTextFormat(Qt.TextFormat.PlainText)
        self.meter.setRange(0, 100)
        self.meter.setTextVisible(False)
        self.button = QPushButton("Stop")
        self.button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.button.clicked.connect(self._stopped)
        row = QHBoxLayout(self)
        row.addWidget(self._words)
        row.addWidget(self.meter, 1)
        row.addWidget(self.button)
        self.setAccessibleName("Long work")
        self._timer = QTimer(self)
        self._timer.setInterval(WORK_LOOK_MS)
        self._timer.timeout.connect(self.look)
        self.hide()

    @property
    def words(self) -> str:
        """What it says; empty while nothing goes on that is worth telling."""
        return "" if self.isHidden() else self._words.text()

    def show_work(
        self, going: Going, colours: Palette, stop: Callable[[], object] | None = None
    ) -> None:
        """Show work from its beginning.

        Parameters
        ----------
        stop : callable, optional
            Done on the button, for work that goes on beside all else and is shown when it lasts.
            Left out, somebody waits for the work: it is shown at once, and is told to stop.
        """
        self._going, self._stop, self._colours = going, stop or (lambda: None), colours
        self._at_once = stop is None
        self._dress()
        self._timer.start()
        self.look()

    def follow(self, snapshot: Snapshot, run: LiveRun | ReplayRun, colours: Palette) -> None:
        """Show how far a recording that is played has been looked through."""
        replay = snapshot.replay
        looked = 1.0 if replay is None else replay.loaded
        if looked >= 1 or not isinstance(run, ReplayRun):
            if self._looking is not None:
                self.end(self._looking)
                self._looking = None
            return
        if self._looking is None:
            self._looking = Going(LOOKING)
        if self._going is None and not self._looking.stopped:
            self.show_work(self._looking, colours, run.stop_looking)
        self._looking.share = looked

    def end(self, going: Going) -> None:
        """Take it away, if this is the work that it shows."""
        if going is self._going:
            self._going = None
            self._timer.stop()
            self.hide()

    def look(self) -> None:
        """Show how far it has come by now; what is soon over needs no telling."""
        going = self._going
        if going is None:
            return
        self._words.setText(going.words)
        self.button.setAccessibleName(f"Stop: {going.words}")
        self.meter.setValue(round(100 * going.share))
        self.setVisible(self._at_once or going.long)

    def _stopped(self) -> None:
        going, stop = self._going, self._stop
        if going is not None:
            going.stop()
            self.end(going)
            stop()

    def _dress(self) -> None:
        colours = self._colours
        size = max(14, round(ink.steady(self.window().height()) * WORK_TYPE_SHARE))
        self._words.setFont(ink.font(size))
        self.button.setFont(ink.font(size, bold=True))
        self.setStyleSheet(
            f"WorkBar {{ background: {colours.sheet}; border-bottom: 2px solid {colours.rule}; }}"
            f" QLabel {{ color: {colours.ink}; }}"
            f" QProgressBar {{ background: {colours.paper}; border: 1px solid {colours.faint};"
            f" max-height: {size}px; }} QProgressBar::chunk {{ background: {colours.target}; }}"
            f" QPushButton {{ background: {colours.ink}; color: {colours.sheet}; border: none;"
            f" min-height: {TARGET_PX}px; padding: 0px {size}px; }}"
            f" QPushButton:focus {{ border: {max(3, size // 7)}px solid {colours.target}; }}"
        )
