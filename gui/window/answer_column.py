"""Where does a class read what may be answered? A column of large buttons beside the picture."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from strokewise.gui.models.palette import Palette
from strokewise.gui.window import ink
from strokewise.gui.window.controls import bars_style
from strokewise.gui.window.key_button import TARGET_PX

COLUMN_SHARE = 0.30
"""Of the window's width: as much as the turn guide has, in whose place it stands."""
ANSWER_TYPE = 0.0275
"""Type of an answer, of the window's height: read from the last row at a fortieth and more."""


def _words(text: str, size: int, *, bold: bool) -> QLabel:
    label = QLabel(text)
    label.setWordWrap(True)
    label.setFont(ink.font(size, bold=bold))
    return label


class AnswerColumn(QFrame):
    """The answers to a question that has more words than a bar has room for."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAccessibleName("Answers")
        self.buttons: list[QPushButton] = []
        self._inside = QWidget()
        self._rows = QVBoxLayout(self._inside)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setWidget(self._inside)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._scroll)
        self.hide()

    def offer(
        self, answers: Sequence[str], given: str, colours: Palette, take: Callable[[str], object]
    ) -> None:
        """Offer answers; the first has the keyboard, the arrows go on to the next.

        Parameters
        ----------
        given : str
            What is known beside the picture, over the answers.
        """
        self.clear()
        size = max(14, round(self.window().height() * ANSWER_TYPE))
        self.setFixedWidth(round(self.window().width() * COLUMN_SHARE))
        self.setStyleSheet(
            f"AnswerColumn, QScrollArea, QScrollArea > QWidget > QWidget"
            f" {{ background: {colours.sheet}; }}"
            f" QPushButton {{ text-align: left; background: {colours.sheet}; border:"
            f" {max(1, size // 12)}px solid {colours.ink}; }}"
            f" QPushButton:focus {{ border: {max(3, size // 6)}px solid {colours.target}; }}"
            f" QLabel {{ color: {colours.ink}; background: transparent; }}"
            + bars_style(size, colours)
        )
        side = size // 2
        room = self.width() - 6 * side
        self._rows.setSpacing(max(2, size // 4))
        self._rows.setContentsMargins(side, side // 2, side, side // 2)
        if given:
            known = _words(given, size, bold=False)
            known.setMinimumHeight(known.heightForWidth(room))
            self._rows.addWidget(known)
        for answer in answers:
            button = QPushButton()
            button.setAutoDefault(True)
            button.setAccessibleName(answer)
            words = _words(answer, size, bold=True)  # a button breaks no line by itself
            inner = QVBoxLayout(button)
            inner.setContentsMargins(side, side // 3, side, side // 3)
            inner.addWidget(words)
            button.setMinimumHeight(max(TARGET_PX, words.heightForWidth(room) + side))
            button.clicked.connect(lambda _=False, answer=answer: take(answer))
            self._rows.addWidget(button)
            self.buttons.append(button)
        self._rows.addStretch(1)
        self.show()
        self.buttons[0].setFocus()

    def clear(self) -> None:
        """Take the answers away."""
        while (item := self._rows.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.hide()
                widget.deleteLater()
        self.buttons = []
        self.hide()

    def take_keyboard(self) -> None:
        """Give the keyboard to the first of the answers."""
        if self.buttons:
            self.buttons[0].setFocus()
