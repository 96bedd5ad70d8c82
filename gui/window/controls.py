"""How do the pages of controls look? Headings, rows of buttons, colours and type."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLayout, QPushButton, QTableWidget, QWidget

from strokewise.gui.models.palette import Palette
from strokewise.gui.window import ink

TYPE_SHARE = 0.022
"""Type of the pages of controls, of the window's height."""
ROW_HEIGHT = 1.8


def heading(words: str) -> QLabel:
    """Return a heading of a part of a page."""
    label = QLabel(words)
    label.setObjectName("heading")
    return label


def buttons(*wanted: tuple[str, str, Callable[[], object]]) -> QHBoxLayout:
    """Return a row of buttons: words, key, and what each does."""
    row = QHBoxLayout()
    for words, key, do in wanted:
        button = QPushButton(words)
        if key:
            button.setShortcut(key)
        button.clicked.connect(lambda _=False, do=do: do())
        row.addWidget(button)
    row.addStretch(1)
    return row


def dress(page: QWidget, colours: Palette) -> None:
    """Give a page of controls the colours and type of the window."""
    size = max(13, round(page.window().height() * TYPE_SHARE))
    page.setFont(ink.font(size))
    page.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
    selected = QColor(colours.target).name()
    line = max(1, round(size / 16))
    page.setStyleSheet(
        f"* {{ color: {colours.ink}; font-size: {size}px; }}"
        f" QWidget {{ background: {colours.paper}; }}"
        f" QLabel#heading {{ font-size: {round(size * 1.4)}px; font-weight: bold; }}"
        f" QLineEdit, QListWidget, QTableWidget, QComboBox {{ background: {colours.sheet};"
        f" border: {line}px solid {colours.faint}; selection-background-color: {selected};"
        f" selection-color: {colours.sheet}; gridline-color: {colours.rule}; }}"
        f" QLineEdit, QComboBox {{ padding: {round(size * 0.15)}px; }}"
        f" QHeaderView::section {{ background: {colours.paper}; border: none;"
        f" padding: {round(size * 0.25)}px; }}"
        f" QCheckBox::indicator {{ width: {round(size * 0.8)}px; height: {round(size * 0.8)}px;"
        f" border: {2 * line}px solid {colours.ink}; background: {colours.sheet}; }}"
        f" QCheckBox::indicator:checked {{ background: {colours.ink}; }}"
        f" QPushButton {{ background: {colours.ink}; color: {colours.sheet}; border: none;"
        f" padding: {round(size * 0.35)}px {round(size * 0.7)}px; font-weight: bold; }}"
        f" QPushButton:focus {{ border: {2 * line}px solid {colours.target}; }}"
    )
    room = round(size * 0.4)
    for layout in page.findChildren(QLayout):
        layout.setSpacing(room)
    if (outer := page.layout()) is not None:
        outer.setContentsMargins(room, room, room, room)
        outer.setSpacing(2 * room)
    for table in page.findChildren(QTableWidget):
        table.verticalHeader().setMinimumSectionSize(round(size * ROW_HEIGHT))
        table.resizeRowsToContents()
