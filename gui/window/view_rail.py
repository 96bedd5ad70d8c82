"""Which views are there? A button for each, beside the picture."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QWidget

from strokewise.gui.models.keys import KEYS
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.window.key_button import TARGET_PX, KeyButton, scale_of

MOST_PX = 56
"""So high is a button at the most: the views stay together."""


class ViewRail(QWidget):
    """The list of the views, one below the other; in two columns where the window is low.

    Parameters
    ----------
    do : callable
        Called with the action of the view that was pressed.
    """

    def __init__(self, parent: QWidget, do: Callable[[str], object]) -> None:
        super().__init__(parent)
        self._colours = LIGHT
        self._chosen = ""
        self.buttons: dict[str, KeyButton] = {}
        for key in KEYS:
            if key.group == "views":
                button = KeyButton(self, key.keys[0], key.short, key.name)
                button.setCheckable(True)
                button.clicked.connect(lambda _=False, action=key.action: do(action))
                self.buttons[key.action] = button
        self.setAccessibleName("Views")
        self._set_out()

    def show_chosen(self, view: str, colours: Palette) -> None:
        """Show which view is open."""
        for action, button in self.buttons.items():
            # A click has checked it already; the view that is open decides.
            button.setChecked(action == f"view_{view}")
            button.show_words(button.words, colours)
        if colours is not self._colours:
            self._colours = colours
            self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        self._set_out()

    def _set_out(self) -> None:
        wide = max(button.sizeHint().width() for button in self.buttons.values())
        count, scale = len(self.buttons), scale_of(self)
        least = round(TARGET_PX * scale)
        columns = 1 if self.height() >= count * least else 2
        rows = -(-count // columns)
        high = max(least, min(self.height() // rows, round(MOST_PX * scale)))
        self.setFixedWidth(columns * wide + 1)
        for i, button in enumerate(self.buttons.values()):
            button.setGeometry(i // rows * wide, i % rows * high, wide, high)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._colours.sheet))
        painter.setPen(QPen(QColor(self._colours.rule), 1))
        painter.drawLine(self.width() - 1, 0, self.width() - 1, self.height())
        painter.end()
