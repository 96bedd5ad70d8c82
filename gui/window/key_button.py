"""What stands for an action on the screen? A button with its keycap, or a spot over a painting."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QWidget

from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.window import ink

TARGET_PX = 44
"""No target of finger or mouse is smaller in either direction: WCAG 2.1, criterion 2.5.5."""
TYPE_PX = 16.0
"""Type of a button's words: read at arm's length."""
CAP_GAP, SIDE = 6.0, 9.0
"""Between keycap and words, and to either side of both, in pixels."""
CAP_HEIGHT = 24.0
LIST_WORDS_PX = 14.0
HOVER = 0.10


def scale_of(widget: QWidget) -> float:
    """Return by how much all that is read at arm's length is larger, on a screen of many pixels."""
    return max(1.0, ink.steady(widget.window().height()) / ink.READ_FROM)


class Spot(QAbstractButton):
    """A place over a painting that can be clicked, reached with Tab and read out."""

    def __init__(self, parent: QWidget, name: str, said: str = "") -> None:
        super().__init__(parent)
        self.colours = LIGHT
        self.setAccessibleName(name)
        self.setAccessibleDescription(said)
        self.setToolTip(name)
        # A click leaves the keyboard where it was: letters stay keys.
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: D102
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
        else:
            super().keyPressEvent(event)

    def enterEvent(self, event: QEvent) -> None:  # noqa: D102
        self.update()

    def leaveEvent(self, event: QEvent) -> None:  # noqa: D102
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        self.paint_state(painter)
        painter.end()

    def paint_state(self, painter: QPainter) -> None:
        """Paint that it is under the mouse, pressed, or has the keyboard."""
        if self.isDown() or self.underMouse():
            shade = 2 * HOVER if self.isDown() else HOVER
            painter.fillRect(self.rect(), ink.translucent(self.colours.ink, shade))
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(self.colours.target), 3))
            painter.drawRect(self.rect().adjusted(1, 1, -2, -2))


class KeyButton(Spot):
    """A keycap with words beside it.

    Parameters
    ----------
    key : str
        On the keycap.
    name : str
        What a screen reader says.
    lines : int
        In how many lines the words may be set.
    """

    def __init__(self, parent: QWidget, key: str, words: str, name: str, *, lines: int = 1) -> None:
        super().__init__(parent, name, f"key {key}")
        self.key, self.words, self._lines = key, words, lines
        self.setMinimumSize(TARGET_PX, TARGET_PX)

    def show_words(self, words: str, colours: Palette) -> None:
        """Show other words, or in other colours; nothing is painted where nothing has changed."""
        if words != self.words or colours is not self.colours:
            self.words, self.colours = words, colours
            self.update()

    @property
    def cap_width(self) -> float:
        """Width of the keycap."""
        scale = scale_of(self)
        wide = ink.width_of(self.key, ink.font(TYPE_PX * scale, bold=True)) + 10.0 * scale
        return max(CAP_HEIGHT * scale, wide)

    def sizeHint(self) -> QSize:  # noqa: D102
        scale = scale_of(self)
        words = ink.width_of(self.words, ink.font(TYPE_PX * scale)) if self._lines == 1 else 0.0
        wide = self.cap_width + words + scale * (CAP_GAP + 2 * SIDE)
        return QSize(round(wide) + 1, round(TARGET_PX * scale))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        chosen, colours = self.isChecked(), self.colours
        paper, letters = (colours.ink, colours.sheet) if chosen else (colours.sheet, colours.ink)
        painter.fillRect(self.rect(), QColor(paper))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        scale = scale_of(self)
        high = CAP_HEIGHT * scale
        cap = QRectF(SIDE * scale, (self.height() - high) / 2, self.cap_width, high)
        painter.setPen(QPen(QColor(letters), 1.5))
        painter.drawRoundedRect(cap, 3, 3)
        ink.text(painter, cap, self.key, ink.font(TYPE_PX * scale, bold=True), letters, ink.CENTRE)
        left = cap.right() + CAP_GAP * scale
        room = QRectF(left, 0, self.width() - left - 2, self.height())
        self._paint_words(painter, room, letters)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)
        self.paint_state(painter)
        painter.end()

    def _paint_words(self, painter: QPainter, room: QRectF, colour: str) -> None:
        scale = scale_of(self)
        if self._lines == 1:
            type_ = ink.fitted(self.words, TYPE_PX * scale, room.width())
            ink.text(painter, room, self.words, type_, colour)
            return
        type_ = ink.font(LIST_WORDS_PX * scale)
        lines = ink.wrapped(self.words, type_, room.width(), self._lines)
        step = LIST_WORDS_PX * scale * 1.25
        top = room.center().y() - step * len(lines) / 2
        for i, line in enumerate(lines):
            ink.text(
                painter,
                QRectF(room.left(), top + i * step, room.width(), step),
                line,
                type_,
                colour,
            )
