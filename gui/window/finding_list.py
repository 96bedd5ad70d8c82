"""How is an entry of a long list found? Letters typed anywhere in it narrow it down."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QFont, QKeyEvent
from PySide6.QtWidgets import QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the list: what it is called, what it says, and under which heading it stands."""

    name: str
    words: str
    group: str


class FindingList(QWidget):
    """A filter field over a list in groups; typed letters go to the field, arrows to the list."""

    chosen = Signal(str)
    """The name of the entry that Enter or a double click was for."""

    def __init__(self, entries: Sequence[Entry], name: str) -> None:
        super().__init__()
        self.field, self.list = QLineEdit(), QListWidget()
        self.list.setObjectName("targets")
        self.field.setPlaceholderText("type to find")
        self.field.setAccessibleName(f"Find among {name.lower()}")
        self.field.setClearButtonEnabled(True)
        self.list.setAccessibleName(name)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setWordWrap(True)
        for heading in dict.fromkeys(entry.group for entry in entries):
            head = QListWidgetItem(heading.upper())
            head.setFlags(Qt.ItemFlag.NoItemFlags)
            bold = QFont()
            bold.setBold(True)
            head.setFont(bold)
            self.list.addItem(head)
            for entry in entries:
                if entry.group == heading:
                    item = QListWidgetItem(entry.words)
                    item.setData(Qt.ItemDataRole.UserRole, entry.name)
                    item.setToolTip(entry.name)
                    self.list.addItem(item)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.field)
        layout.addWidget(self.list, 1)
        self.setFocusProxy(self.list)
        self.list.setCurrentRow(1)  # under the first heading: Enter takes it
        self.field.textChanged.connect(self.narrow)
        self.field.returnPressed.connect(self.take)
        self.list.itemActivated.connect(self._taken)
        self.field.installEventFilter(self)
        self.list.installEventFilter(self)

    @property
    def current(self) -> str:
        """The name of the entry that is marked; empty where none is."""
        item = self.list.currentItem()
        return "" if item is None or item.isHidden() else item.data(Qt.ItemDataRole.UserRole) or ""

    def mark(self, name: str) -> None:
        """Mark an entry by its name."""
        for i in range(self.list.count()):
            if self.list.item(i).data(Qt.ItemDataRole.UserRole) == name:
                self.list.setCurrentRow(i)

    def narrow(self, text: str) -> None:
        """Show the entries that hold every word, in their name or what they say, and mark one.

        One whose own words begin so comes before one that has the letters somewhere within.
        """
        wanted = text.lower().split()
        heading: QListWidgetItem | None = None
        shown: list[QListWidgetItem] = []
        begun: list[QListWidgetItem] = []
        for i in range(self.list.count()):
            item = self.list.item(i)
            name = item.data(Qt.ItemDataRole.UserRole)
            if not name:
                heading = item
                item.setHidden(True)
                continue
            held = f"{name} {item.text()}".lower()
            item.setHidden(not all(word in held for word in wanted))
            if not item.isHidden():
                shown.append(item)
                parts = re.split(r"[^a-z0-9]+", held)
                if all(any(part.startswith(word) for part in parts) for word in wanted):
                    begun.append(item)
                if heading is not None:
                    heading.setHidden(False)
        if shown and self.list.currentItem() not in (begun or shown):
            self.list.setCurrentItem((begun or shown)[0])

    def take(self) -> None:
        """Take the entry that is marked."""
        if self.current:
            self.chosen.emit(self.current)

    def _taken(self, item: QListWidgetItem) -> None:
        if name := item.data(Qt.ItemDataRole.UserRole):
            self.chosen.emit(name)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: D102
        if event.type() != QEvent.Type.KeyPress:
            return super().eventFilter(watched, event)
        assert isinstance(event, QKeyEvent)
        to_list = event.key() in (
            Qt.Key.Key_Up,
            Qt.Key.Key_Down,
            Qt.Key.Key_PageUp,
            Qt.Key.Key_PageDown,
        )
        if watched is self.field and to_list:
            self.list.keyPressEvent(event)
            return True
        typed = event.text().strip() != "" and event.text().isprintable()
        typed |= event.key() == Qt.Key.Key_Backspace
        plain = event.modifiers() in (
            Qt.KeyboardModifier.NoModifier,
            Qt.KeyboardModifier.ShiftModifier,
        )
        if watched is self.list and typed and plain:
            self.field.setFocus()
            self.field.end(False)
            self.field.keyPressEvent(event)
            return True
        return super().eventFilter(watched, event)
