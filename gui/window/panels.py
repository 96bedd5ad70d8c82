"""What lies over the window without stopping it? Panels to read, and a bar that asks."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
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
from strokewise.gui.window.key_button import TARGET_PX
from strokewise.gui.window.passing_note import PassingNote

SMALLEST_PANEL_TYPE = 12
SHARE_OF_WINDOW = 0.96
MOST_SHRUNK = 0.75
"""A sheet that needs more than that share of its height has all: else half a verdict looks out."""
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
        self._held = QScrollArea()
        self._held.setWidgetResizable(True)
        self._held.setFrameShape(QFrame.Shape.NoFrame)
        layout = QVBoxLayout(self)
        layout.addWidget(self._scroll, 1)
        layout.addWidget(self._held, 1)
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
        self._let_go()
        self._scroll.show()
        self._dress(colours, button)
        self._body.setText(html)
        self._fit()
        self.show()
        self._shrink(round(self._over.height() * LARGEST_TYPE))
        self.raise_()
        self._close.setFocus()

    def hold(self, inside: QWidget, colours: Palette) -> None:
        """Show buttons or a list instead of text."""
        self._then = None
        self._let_go()
        self._scroll.hide()
        self._dress(colours, "Close (Esc)")
        self._held.setWidget(inside)
        self._held.show()
        self._fit()
        self.show()
        self.raise_()
        self._close.setFocus()

    @property
    def held(self) -> QWidget | None:
        """What it shows instead of text."""
        return None if self.isHidden() else self._held.widget()

    @property
    def room(self) -> int:
        """The width that it has for what it shows."""
        return round(self._over.width() * SHARE_OF_WINDOW) - 60

    def _let_go(self) -> None:
        self._held.hide()
        inside = self._held.takeWidget()
        if inside is not None:
            inside.deleteLater()

    def _dress(self, colours: Palette, button: str) -> None:
        size = max(14, round(self._over.height() * 0.025))
        self.setStyleSheet(
            f"Panel, QScrollArea, QScrollArea > QWidget > QWidget, QLabel"
            f" {{ background: {colours.sheet}; color: {colours.ink}; }}"
            + bars_style(size, colours)
            + f" Panel {{ border: {max(2, size // 7)}px solid {colours.ink};"
            f" padding: {size // 2}px; }}"
            f" QPushButton {{ padding: 4px {size}px; min-height: {TARGET_PX - 8}px;"
            f" font-weight: bold; text-align: center;"
            f" background: {colours.ink}; color: {colours.sheet}; border: none; }}"
            f" QPushButton:focus {{ border: 3px solid {colours.target}; }}"
            f" QPushButton#choice {{ background: {colours.paper}; color: {colours.ink};"
            f" text-align: left; }}"
        )
        self._close.setFont(ink.font(size))
        self._close.setText(button)

    def dismiss(self) -> None:
        """Close it, and go on with what was waiting for it."""
        if self.isHidden():
            return
        self.hide()
        self._over.setFocus()
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

    def _needed(self) -> int:
        """Return the height that what it holds needs, close button, frame and all."""
        inside, layout = self._held.widget(), self.layout()
        assert inside is not None
        assert layout is not None
        margins = layout.contentsMargins()
        frame = self.height() - self.contentsRect().height()
        around = margins.top() + margins.bottom() + 2 * layout.spacing() + frame
        return inside.sizeHint().height() + self._close.sizeHint().height() + around

    def _fit(self) -> None:
        outer = self._over.rect()
        width = round(outer.width() * SHARE_OF_WINDOW)
        height = round(outer.height() * SHARE_OF_WINDOW)
        top = (outer.height() - height) // 2
        if not self._held.isHidden():  # half an empty sheet would only hide the verdict
            lowest, needed = top + height, self._needed()
            height = needed if needed < MOST_SHRUNK * height else height
            top = lowest - height
        self.setGeometry((outer.width() - width) // 2, top, width, height)


class AskBar(QFrame):
    """A bar under the verdict that asks something; nothing waits for it but its answer.

    Parameters
    ----------
    note : PassingNote
        Where something is said in passing.
    far : bool
        Read from the last row of a class: its type grows with the window's height.
    """

    def __init__(self, parent: QWidget, note: PassingNote, *, far: bool = False) -> None:
        super().__init__(parent)
        self._far = far
        self.note = note
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
        self._entry.setAccessibleName("Answer")
        self._choice.setAccessibleName("Answer")
        self.setAccessibleName("Question")
        self.hide()

    @property
    def words(self) -> str:
        """What it asks, or what is said in passing."""
        return self.note.words if self.isHidden() else self._words.text()

    @property
    def asking(self) -> bool:
        """True while it waits for an answer."""
        waits = self._buttons or not self._entry.isHidden() or not self._choice.isHidden()
        return not self.isHidden() and bool(waits)

    def say(self, words: str, colours: Palette, *, stays: bool = False) -> None:
        """Say something in passing; ``stays`` until something else is said."""
        self.note.say(words, colours, stays=stays)

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

    def reword(self, words: str) -> None:
        """Ask the same in other words; answers and keyboard stay."""
        self._words.setText(words)
        self.setAccessibleDescription(words)

    def take_keyboard(self) -> None:
        """Give the keyboard to the first of the answers."""
        for each in (*self._buttons, self._choice, self._entry):
            if not each.isHidden():
                each.setFocus()
                return

    def clear(self) -> None:
        """Take it away, question and all; the keyboard is the window's again."""
        asked = not self.isHidden()
        self.note.clear_words()
        self._set("", LIGHT, ())
        self.hide()
        if asked:
            self.window().setFocus()

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
        height = self.window().height()
        size = max(14, round((height if self._far else ink.steady(height)) * 0.026))
        self.setStyleSheet(
            f"AskBar {{ background: {colours.paper}; "
            f" border: {max(2, size // 10)}px solid {colours.target}; }}"
            f" QLabel {{ color: {colours.ink}; }}"
            f" QPushButton {{ padding: 0px {round(size * 0.7)}px; min-height: {TARGET_PX}px;"
            f" min-width: {TARGET_PX}px; font-weight: bold; border: none;"
            f" background: {colours.ink}; color: {colours.sheet}; }}"
            f" QPushButton:focus {{ border: {max(3, size // 7)}px solid {colours.target}; }}"
            f" QLineEdit, QComboBox, QComboBox QAbstractItemView {{ background: {colours.sheet};"
            f" color: {colours.ink}; border: {max(1, size // 14)}px solid {colours.ink};"
            f" min-height: {TARGET_PX}px; padding: 0px {round(size * 0.4)}px; }}"
            + bars_style(size, colours)
        )
        self._row.setSpacing(round(size * 0.4))
        self._row.setContentsMargins(size * 2 // 3, size // 5, size * 2 // 3, size // 5)
        self._entry.setMaximumWidth(size * 20)
        self._words.setFont(ink.font(size, bold=True))
        self._entry.setFont(ink.font(size))
        self._choice.setFont(ink.font(size))
        self._words.setText(words)
        self.setAccessibleDescription(words)
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
