"""How do the pages of controls look? Headings, rows of buttons, colours and type."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLayout,
    QPushButton,
    QStyledItemDelegate,
    QTableWidget,
    QWidget,
)

from strokewise.gui.models.palette import Palette
from strokewise.gui.window import ink
from strokewise.gui.window.key_button import TARGET_PX

CONTROL_TYPE_SHARE = 0.022
"""Type of the pages of controls, of the window's height."""
CONTROL_ROW_HEIGHT = 1.8
ARROW_SHARE = 0.42
"""Width of the arrow of a list to choose from, of the height of its type."""


class Choice(QComboBox):
    """A list to choose from, with an arrow that grows with its type and entries to be hit."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setItemDelegate(QStyledItemDelegate(self))  # the platform's own heeds no style

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        super().paintEvent(event)
        size = self.fontMetrics().height() * ARROW_SHARE
        middle = QPointF(self.width() - 1.6 * size, self.height() / 2)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Text), max(1.5, size / 4)))
        painter.drawPolyline(
            [
                middle + QPointF(-size / 2, -size / 4),
                middle + QPointF(0, size / 4),
                middle + QPointF(size / 2, -size / 4),
            ]
        )
        painter.end()


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
        button.setAccessibleName(words.split(" (")[0])
        if key:
            button.setShortcut(key)
        button.clicked.connect(lambda _=False, do=do: do())
        row.addWidget(button)
    row.addStretch(1)
    return row


def bars_style(size: int, colours: Palette) -> str:
    """Return the style of scroll bars and lists to choose from: the platform's own stay as small
    on a screen of many pixels as on any.
    """
    wide, line = round(size * 0.8), max(1, round(size / 16))
    return (
        f" QScrollBar:vertical {{ width: {wide}px; background: {colours.paper}; }}"
        f" QScrollBar:horizontal {{ height: {wide}px; background: {colours.paper}; }}"
        f" QScrollBar::handle {{ background: {colours.faint}; margin: {2 * line}px; }}"
        f" QScrollBar::handle:vertical {{ min-height: {2 * wide}px; }}"
        f" QScrollBar::handle:horizontal {{ min-width: {2 * wide}px; }}"
        f" QScrollBar::add-line, QScrollBar::sub-line {{ width: 0px; height: 0px; }}"
        f" QScrollBar::add-page, QScrollBar::sub-page {{ background: none; }}"
        f" QComboBox::drop-down {{ border: none; width: {round(size * 1.2)}px; }}"
        f" QComboBox::down-arrow {{ image: none; }}"
    )


def dress(page: QWidget, colours: Palette, far_share: float | None = None) -> None:
    """Give a page of controls the colours and type of the window.

    Parameters
    ----------
    far_share : float, optional
        Type of a page that a class reads too, of the window's whole height.
    """
    height = page.window().height()
    near = ink.steady(height) * CONTROL_TYPE_SHARE
    size = max(13, round(near if far_share is None else height * far_share))
    page.setFont(ink.font(size))
    page.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
    selected = QColor(colours.target).name()
    line = max(1, round(size / 16))
    page.setStyleSheet(
        f"* {{ color: {colours.ink}; font-size: {size}px; }}"
        f" QWidget {{ background: {colours.paper}; }}"
        f" QLabel#lead {{ font-size: {round(size * 1.25)}px; }}"
        f" QLabel#heading {{ font-size: {round(size * 1.4)}px; font-weight: bold; }}"
        f" QLineEdit, QListWidget, QTableWidget, QComboBox {{ background: {colours.sheet};"
        f" border: {line}px solid {colours.faint}; selection-background-color: {selected};"
        f" selection-color: {colours.sheet}; gridline-color: {colours.rule}; outline: none; }}"
        f" QLineEdit, QComboBox {{ padding: 0px {round(size * 0.3)}px;"
        f" min-height: {TARGET_PX - 2}px;"
        f" placeholder-text-color: {colours.faint}; }}"
        # To the sides it would cut words off: text is wrapped as if nothing was taken from it.
        f" QComboBox QAbstractItemView::item, QListWidget#targets::item"
        f" {{ min-height: {TARGET_PX}px; }}"
        f" QListWidget {{ padding: 0px {round(size * 0.3)}px; }}"
        f" QListWidget::item {{ padding: {round(size * 0.12)}px 0px; }}"
        f" QHeaderView::section {{ background: {colours.paper}; border: none;"
        f" padding: {round(size * 0.25)}px; }}"
        f" QCheckBox {{ spacing: {round(size * 0.4)}px; min-height: {TARGET_PX}px; }}"
        f" QCheckBox::indicator {{ width: {round(size * 0.8)}px; height: {round(size * 0.8)}px;"
        f" border: {2 * line}px solid {colours.ink}; background: {colours.sheet}; }}"
        f" QCheckBox::indicator:checked {{ background: {colours.ink}; }}"
        f" QPushButton {{ background: {colours.ink}; color: {colours.sheet}; border: none;"
        f" padding: 0px {round(size * 0.6)}px; min-height: {TARGET_PX}px; font-weight: bold; }}"
        f" QPushButton:focus {{ border: {2 * line}px solid {colours.target}; }}"
    )
    page.setStyleSheet(page.styleSheet() + bars_style(size, colours))
    room = round(size * 0.4)
    for layout in page.findChildren(QLayout):
        layout.setSpacing(room)
    if (outer := page.layout()) is not None:
        outer.setContentsMargins(room, room, room, room)
        outer.setSpacing(2 * room)
    for table in page.findChildren(QTableWidget):
        row = max(TARGET_PX, round(size * CONTROL_ROW_HEIGHT))
        table.verticalHeader().setMinimumSectionSize(row)
        table.resizeRowsToContents()
