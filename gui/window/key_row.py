"""What stands at the foot of the window? How the bytes come in, and the buttons used most."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QWidget

from strokewise.gui.models.keys import KeyStroke
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.window import ink
from strokewise.gui.window.key_button import TARGET_PX, TYPE_PX, KeyButton, scale_of

WORDS_SHARE, LEAST_WORDS_PX = 0.34, 120
"""What is said of the bytes has this share of the foot at most; where the buttons need the room,
never less than that."""
LEAST_TYPE_PX = 14
"""Type of what is said of the bytes, where it needs two lines."""


class KeyRow(QWidget):
    """The foot of the window.

    Parameters
    ----------
    keys : sequence of KeyStroke
        The most needed first; the last of them is never left out.
    do : callable
        Called with the action of a button that was pressed.
    """

    def __init__(
        self, parent: QWidget, keys: Sequence[KeyStroke], do: Callable[[str], object]
    ) -> None:
        super().__init__(parent)
        self._do = do
        self._left = ""
        self._colours = LIGHT
        self._alarm = False
        self._buttons: dict[str, KeyButton] = {}
        self._keys: tuple[tuple[str, str], ...] = ()
        self.setAccessibleName("State of the run")
        self.take_keys(keys)

    def take_keys(self, keys: Sequence[KeyStroke]) -> None:
        """Stand for these keys from now on."""
        for button in self._buttons.values():
            button.hide()
            button.deleteLater()
        self._buttons = {}
        for key in keys:
            button = KeyButton(self, key.keys[0], key.short, key.name)
            button.clicked.connect(lambda _=False, action=key.action: self._do(action))
            self._buttons[key.action] = button
        self._set_out()

    @property
    def words(self) -> str:
        """What it says of the bytes."""
        return self._left

    @property
    def buttons(self) -> dict[str, KeyButton]:
        """Its buttons by their action, those left out for want of room among them."""
        return self._buttons

    def settle(self) -> None:
        """Take the height and places that go with the window's size."""
        self.setFixedHeight(round(TARGET_PX * scale_of(self)) + 1)
        self._set_out()

    def show_words(self, left: str, words: dict[str, str], alarm: bool, colours: Palette) -> None:
        """Show how the bytes come in, and the words of the buttons by their action."""
        changed = False
        for action, button in self._buttons.items():
            before = button.words
            button.show_words(words.get(action, button.words), colours)
            changed |= before != button.words
        self._keys = tuple((button.key, button.words) for button in self._buttons.values())
        state = (left, alarm, colours.theme)
        if state != (self._left, self._alarm, self._colours.theme):
            self._left, self._alarm, self._colours = left, alarm, colours
            self.setAccessibleDescription(left)
            changed = True
        if changed:
            self._set_out()
            self.update()

    def _set_out(self) -> None:
        """Give every button its place; where the room ends, the least needed are left out."""
        scale = scale_of(self)
        least = LEAST_WORDS_PX * scale
        wide = ink.width_of(self._left, ink.font(TYPE_PX * scale, bold=True)) + 20
        room = self.width() - min(max(least, wide), WORDS_SHARE * self.width())
        spare = self.width() - least
        buttons = list(self._buttons.values())
        widths = [button.sizeHint().width() for button in buttons]
        if sum(widths) > room:
            room = spare
        kept = len(buttons)
        while kept > 1 and sum(widths[: kept - 1]) + widths[-1] > room:
            kept -= 1
        shown = [*range(kept - 1), len(buttons) - 1] if buttons else []
        x = float(self.width() - sum(widths[i] for i in shown))
        self._words_end = x
        for i, button in enumerate(buttons):
            button.setVisible(i in shown)
            if i in shown:
                button.setGeometry(round(x), 1, widths[i], self.height() - 1)
                x += widths[i]

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        self._set_out()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        colours, height = self._colours, float(self.height())
        painter.fillRect(self.rect(), QColor(colours.sheet))
        painter.setPen(QPen(QColor(colours.rule), 1))
        painter.drawLine(0, 0, self.width(), 0)
        room = QRectF(10, 0, self._words_end - 16, height)
        colour = colours.warning if self._alarm else colours.ink
        type_ = ink.font(TYPE_PX * scale_of(self), bold=self._alarm)
        if ink.width_of(self._left, type_) > room.width():
            self._paint_lines(painter, room, colour)
        else:
            ink.text(painter, room, self._left, type_, colour)
        painter.end()

    def _paint_lines(self, painter: QPainter, room: QRectF, colour: str) -> None:
        """In two lines, where one has no room for it."""
        type_ = ink.font(LEAST_TYPE_PX * scale_of(self), bold=self._alarm)
        lines = ink.wrapped(self._left, type_, room.width(), 2)
        step = room.height() / max(1, len(lines) + 0.2)
        for i, line in enumerate(lines):
            box = QRectF(room.left(), 3 + i * step, room.width(), step)
            ink.text(painter, box, line, type_, colour)
