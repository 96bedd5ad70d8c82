"""In which thread does Python let go of what refers to itself? In the window's alone.

Python looks for such garbage in whichever thread happens to ask for memory. With it may go a part
of a window that was closed, and what Qt lets go of in another thread than its own takes the program
down, at once or later.
"""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

LET_GO_MS = 250
"""How often it is looked for, where something is due: as soon as Python would by itself, about."""


class LettingGo(QObject):
    """Lets go of garbage in the thread that it is made in, and in no other until it ends."""

    def __init__(self) -> None:
        super().__init__()
        self._found = gc.isenabled()
        gc.disable()
        self._timer = QTimer(self)
        self._timer.timeout.connect(let_go)
        self._timer.start(LET_GO_MS)

    def end(self) -> None:
        """Leave it to whom it was left before: to Python, but for one within another."""
        self._timer.stop()
        if self._found:
            gc.enable()


def let_go() -> None:
    """Collect the oldest generation that is due by Python's own count."""
    for generation in (2, 1, 0):
        if gc.get_count()[generation] > gc.get_threshold()[generation]:
            gc.collect(generation)
            return
