"""What lies over the window without stopping it? Panels to read, and a bar that asks."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QObject, QRectF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.window import ink
from strokewise.gui.window.controls import Choice, bars_style

SMALLEST_PANEL_TYPE = 12
LARGEST_TYPE = 0.036
"""Type of a panel that has little to say, of the window's height."""


class Panel(QFrame):
    """A sheet of text over the picture; the run goes on behind it. Esc or Enter closes it."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._over = parent
        self._then: Callable[[], None] | None = None
        self._body = QLabel()
        self._body.setWordWrap(True)
        self._body.setTextFormat(Qt.TextFormat.RichText)
        self._body.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self._scroll = QScrollArea()
        self._scroll.setWidget(self._body)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._close = QPushButton()
        self._close.clicked.connect(self.dismiss)
        layout = QVBoxLayout(self)
        layout.addWidget(self._scroll, 1)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self._close)
        layout.addLayout(row)
        parent.installEventFilter(self)
        self.hide()

    @property
    def words(self) -> str:
        """What stands there, as rich text."""
        return self._body.text()

    def tell(
        self,
        html: str,
        colours: Palette,
        *,
        button: str = "Close (Esc)",
        then: Callable[[], None] | None = None,
    ) -> None:
        """Show text; ``then`` is called when it has been read."""
        self._then = then
        size = max(14, round(self._over.height() * 0.025))
        self.setStyleSheet(
            f"Panel, QScrollArea, QScrollArea > QWidget > QWidget, QLabel"
            f" {{ background: {colours.sheet}; color: {colours.ink}; }}"
            f" Panel {{ border: {max(2, size // 7)}px solid {colours.ink};"
            f" padding: {size // 2}px; }}"
            f" QPushButton {{ padding: {size // 2}px {size}px; font-weight: bold;"
            f" background: {colours.ink}; color: {colours.sheet}; border: none; }}"
        )
        self._close.setFont(ink.font(size))
        self._close.setText(button)
        self._body.setText(html)
        self._fit()
        self.show()
        self._shrink(round(self._over.height() * LARGEST_TYPE))
        self.raise_()
        self._close.setFocus()

    def dismiss(self) -> None:
        """Close it, and go on with what was waiting for it."""
        if self.isHidden():
            return
        self.hide()
        then, self._then = self._then, None
        if then is not None:
            then()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: D102
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.dismiss()
        else:
            super().keyPressEvent(event)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: D102
        if event.type() == QEvent.Type.Resize and not self.isHidden():
            self._fit()
        return super().eventFilter(watched, event)

    def _shrink(self, size: int) -> None:
        """Set the text in the largest type in which all of it is seen at once, if any is."""
        layout = self.layout()
        assert layout is not None
        layout.activate()
        room = self._scroll.viewport().size()
        for pixels in range(size, SMALLEST_PANEL_TYPE - 1, -1):
            self._body.setFont(ink.font(pixels))
            if self._body.heightForWidth(room.width()) <= room.height():
                self._body.setMinimumSize(1, 1)  # its own hint would have it scrolled
                return
        self._body.setFont(ink.font(size))  # then it is scrolled, and may as well be large
        self._body.setMinimumSize(1, self._body.heightForWidth(room.width()))

    def _fit(self) -> None:
        outer = self._over.rect()
        width, height = round(outer.width() * 0.86), round(outer.height() * 0.86)
        self.setGeometry(
            (outer.width() - width) // 2, (outer.height() - height) // 2, width, height
        )


class AskBar(QFrame):
    """A bar under the verdict that says or asks something; nothing waits for it but its answer."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._words = QLabel()
        self._words.setWordWrap(True)
        self._words.setTextFormat(Qt.TextFormat.PlainText)
        self._entry = QLineEdit()
        self._entry.returnPressed.connect(self._entered)
        self._row = QHBoxLayout(self)
        self._row.addWidget(self._words, 1)
        self._row.addWidget(self._entry)
        self._choice = Choice()
        self._choice.activated.connect(self._chosen)
        self._row.addWidget(self._choice)
        self._buttons: list[QPushButton] = []
        self._take: Callable[[str], None] | None = None
        self.setAccessibleName("Message")
        self.hide()

    @property
    def words(self) -> str:
        """What it says."""
        return "" if self.isHidden() else self._words.text()

    @property
    def asking(self) -> bool:
        """True while it waits for an answer."""
        waits = self._buttons or not self._entry.isHidden() or not self._choice.isHidden()
        return not self.isHidden() and bool(waits)

    def say(self, words: str, colours: Palette) -> None:
        """Say something; an open question is not talked over."""
        if not self.asking:
            self._set(words, colours, ())

    def ask(
        self,
        words: str,
        colours: Palette,
        answers: Sequence[tuple[str, Callable[[], None] | None]],
    ) -> None:
        """Ask; each answer is a button and what it does. The first has the keyboard."""
        self._set(words, colours, answers)
        if self._buttons:
            self._buttons[0].setFocus()

    def ask_text(
        self, words: str, colours: Palette, take: Callable[[str], None], given: str = ""
    ) -> None:
        """Ask for a few words or a number; Enter takes them."""
        self._set(words, colours, ())
        self._take = take
        self._entry.setText(given)
        self._entry.show()
        self._entry.setFocus()
        self._entry.selectAll()

    def ask_choice(
        self, words: str, colours: Palette, choices: Sequence[str], take: Callable[[str], None]
    ) -> None:
        """Ask for one of many choices."""
        self._set(words, colours, ())
        self._choice.clear()
        self._choice.addItems(["choose …", *choices])
        self._take = take
        self._choice.show()
        self._choice.setFocus()

    def clear(self) -> None:
        """Take it away, question and all."""
        self._set("", LIGHT, ())
        self.hide()

    def _chosen(self, index: int) -> None:
        take, text = self._take, self._choice.itemText(index)
        if index == 0:
            return
        self.clear()
        if take is not None:
            take(text)

    def _entered(self) -> None:
        take, text = self._take, self._entry.text()
        self.clear()
        if take is not None:
            take(text)

    def _set(
        self,
        words: str,
        colours: Palette,
        answers: Sequence[tuple[str, Callable[[], None] | None]],
    ) -> None:
        for button in self._buttons:
            self._row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self._buttons, self._take = [], None
        self._entry.hide()
        self._choice.hide()
        size = max(14, round(self.window().height() * 0.026))
        self.setStyleSheet(
            f"AskBar {{ background: {colours.paper}; "
            f" border: {max(2, size // 10)}px solid {colours.warning}; }}"
            f" QLabel {{ color: {colours.ink}; }}"
            f" QPushButton {{ padding: {round(size * 0.3)}px {round(size * 0.7)}px;"
            f" font-weight: bold; border: none;"
            f" background: {colours.ink}; color: {colours.sheet}; }}"
            f" QPushButton:focus {{ border: {max(3, size // 7)}px solid {colours.target}; }}"
            f" QLineEdit, QComboBox, QComboBox QAbstractItemView {{ background: {colours.sheet};"
            f" color: {colours.ink}; border: {max(1, size // 14)}px solid {colours.ink};"
            f" padding: {round(size * 0.2)}px {round(size * 0.4)}px; }}" + bars_style(size, colours)
        )
        self._row.setSpacing(round(size * 0.4))
        self._row.setContentsMargins(size * 2 // 3, size // 5, size * 2 // 3, size // 5)
        self._entry.setMaximumWidth(size * 20)
        self._words.setFont(ink.font(size, bold=True))
        self._entry.setFont(ink.font(size))
        self._choice.setFont(ink.font(size))
        self._words.setText(words)
        for label, do in answers:
            button = QPushButton(label)
            button.setFont(ink.font(size))
            button.setAutoDefault(True)
            button.clicked.connect(lambda _=False, do=do: self._answered(do))
            self._row.addWidget(button)
            self._buttons.append(button)
        self.setVisible(bool(words))

    def _answered(self, do: Callable[[], None] | None) -> None:
        self.clear()
        if do is not None:
            do()


class KeyRow(QWidget):
    """The foot of the window: how the bytes come in, and the keys used most."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._left = ""
        self._keys: tuple[tuple[str, str], ...] = ()
        self._colours = LIGHT
        self._alarm = False

    @property
    def words(self) -> str:
        """What it says of the bytes."""
        return self._left

    def settle(self) -> None:
        """Take the height that goes with the window's size."""
        self.setFixedHeight(max(26, round(self.window().height() * 0.042)))

    def show_words(
        self, left: str, keys: tuple[tuple[str, str], ...], alarm: bool, colours: Palette
    ) -> None:
        """Show how the bytes come in and the keys; repainted only when something changed."""
        state = (left, keys, alarm, colours.theme)
        if state == (self._left, self._keys, self._alarm, self._colours.theme):
            return
        self._left, self._keys, self._alarm, self._colours = left, keys, alarm, colours
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        colours, height = self._colours, float(self.height())
        painter.fillRect(self.rect(), QColor(colours.sheet))
        painter.setPen(QPen(QColor(colours.rule), 1))
        painter.drawLine(0, 0, self.width(), 0)
        type_, strong = ink.font(height * 0.5), ink.font(height * 0.5, bold=True)
        x = float(self.width()) - height * 0.4
        # What is said of the bytes has the room it needs, but never more than the keys leave it.
        right = min(float(self.width()) * 0.42, ink.width_of(self._left, strong) + 2 * height)
        for key, words in reversed(self._keys):
            width = ink.width_of(words, type_) + height * 0.7
            cap = ink.width_of(key, strong) + height * 0.5
            if x - width - cap < right:
                break
            ink.text(painter, QRectF(x - width, 0, width, height), words, type_, colours.ink)
            x -= width + cap
            box = QRectF(x, height * 0.16, cap - height * 0.15, height * 0.68)
            painter.setPen(QPen(QColor(colours.ink), 1.5))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(box, 3, 3)
            ink.text(painter, box, key, strong, colours.ink, ink.CENTRE)
        room = QRectF(height * 0.4, 0, x - height, height)
        ink.text(
            painter,
            room,
            self._left,
            strong if self._alarm else type_,
            colours.warning if self._alarm else colours.ink,
        )
        painter.end()
