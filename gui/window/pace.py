"""When is a picture drawn? On news, as often as the eye gains by, and as a silence lasts."""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtCore import QObject, Qt, QTimer, Signal

AGE_MS = 50
"""How often it is asked whether the board has fallen silent."""
PICTURE_EVERY_S = 1 / 30
"""A picture is drawn so often at the most: the eye gains nothing by more, the battery does."""


class Pace(QObject):
    """Brings the news of a run's thread into the window's, no faster than pictures are drawn.

    Parameters
    ----------
    draw : callable
        Draws the newest moment, and calls :meth:`drawn`.
    aged : callable
        Asked again and again: silence brings no news.
    """

    news = Signal()

    def __init__(
        self, parent: QObject, draw: Callable[[], object], aged: Callable[[], object]
    ) -> None:
        super().__init__(parent)
        self._draw = draw
        self._last_drawn_s = float("-inf")
        self.news.connect(self._come)
        self._later = QTimer(self)
        self._later.setTimerType(Qt.TimerType.PreciseTimer)  # a coarse one is late by milliseconds
        self._later.setSingleShot(True)
        self._later.timeout.connect(draw)
        self._clock = QTimer(self)
        self._clock.timeout.connect(aged)
        self._clock.start(AGE_MS)

    def drawn(self) -> None:
        """Take note that a picture is being drawn now."""
        self._later.stop()
        self._last_drawn_s = time.monotonic()

    def _come(self) -> None:
        """Draw at once, or as soon as the last picture is old enough."""
        age = time.monotonic() - self._last_drawn_s
        if age >= PICTURE_EVERY_S:
            self._draw()
        elif not self._later.isActive():
            self._later.start(max(1, round((PICTURE_EVERY_S - age) * 1000)))
