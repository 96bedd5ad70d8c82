"""How is something said in passing? On a slip over the picture that leaves by itself."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QLabel, QWidget

from strokewise.gui.models.palette import Palette
from strokewise.gui.window import ink
from strokewise.gui.window.key_button import TARGET_PX, scale_of

LEAST_MS, MS_A_LETTER = 5_000, 90
"""How long it stays: long enough to look up and read it twice (common practice, no source)."""
SLIP_TYPE_PX = 17
MARGIN, MARGIN_AT_TOP = 12, 6
"""To the window's edge; a page whose lower edge is full has one row of headings at its upper."""
SIDES = 60
"""Room to both sides of the words, padding and all: with less of it one line counts as two."""


class PassingNote(QLabel):
    """A slip of paper that says something and leaves; a click or Esc takes it away sooner."""

    def __init__(self, over: QWidget) -> None:
        super().__init__(over)
        self._over = over
        self._below: QWidget | None = None
        self._above: Sequence[QWidget] = ()
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setAccessibleName("Message")
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self._leaving = QTimer(self)
        self._leaving.setSingleShot(True)
        self._leaving.timeout.connect(self.clear_words)
        over.installEventFilter(self)
        self.hide()

    @property
    def words(self) -> str:
        """What it says; empty once it has left."""
        return "" if self.isHidden() else self.text()

    def say(self, words: str, colours: Palette, *, stays: bool = False) -> None:
        """Say something; ``stays`` until something else is said."""
        self.setStyleSheet(
            f"PassingNote {{ background: {colours.ink}; color: {colours.sheet};"
            f" padding: 10px 16px; }}"
        )
        self.setFont(ink.font(SLIP_TYPE_PX * scale_of(self)))
        self.setText(words)
        self.setAccessibleDescription(words)
        self.setVisible(bool(words))
        self.place()
        self.raise_()
        self._leaving.stop()
        if words and not stays:
            self._leaving.start(LEAST_MS + MS_A_LETTER * len(words))

    def clear_words(self) -> None:
        """Leave."""
        self._leaving.stop()
        self.hide()

    def stand(self, above: Sequence[QWidget], below: QWidget | None = None) -> None:
        """Stand above what is to stay in reach.

        Parameters
        ----------
        above : sequence of QWidget
            The first of them that is shown.
        below : QWidget, optional
            Stand at the upper edge of this instead: a page that has its buttons at the lower one.
        """
        self._above, self._below = above, below
        self.place()

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: D102
        self.clear_words()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: D102
        if event.type() == QEvent.Type.Resize:
            self.place()
        return super().eventFilter(watched, event)

    def place(self) -> None:
        """Go where it belongs by now."""
        if self.isHidden():
            return
        if (layout := self._over.layout()) is not None:
            layout.activate()  # a bar may just have come or gone
        most = self._over.width() - 2 * MARGIN
        wide = min(most, round(ink.width_of(self.text(), self.font())) + SIDES)
        high = max(TARGET_PX, self.heightForWidth(wide))
        shown = (each.y() for each in self._above if not each.isHidden())
        end = next(shown, self._over.height())
        top = end - high - MARGIN if self._below is None else self._below.y() + MARGIN_AT_TOP
        self.setGeometry((self._over.width() - wide) // 2, top, wide, high)
