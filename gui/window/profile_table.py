"""How is a profile edited on the screen? In groups, in the workshop's words, choices as choices."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QPalette, QResizeEvent
from PySide6.QtWidgets import (
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.setup.draft import Draft, DraftRow
from strokewise.gui.models.setup.profile_words import FORM_GROUPS, key_said
from strokewise.gui.window.controls import Choice

KEY_SHARE = 0.34
"""Width of what the keys are called, of the table's."""
KEY_COLUMN, VALUE_COLUMN, ERROR_COLUMN = range(3)
LABEL_ROLE = Qt.ItemDataRole.UserRole + 1
"""Under which the key is kept as the profile names it."""

DEFAULT_ROLE = Qt.ItemDataRole.UserRole + 2
"""Under which a value keeps what counts while it is empty."""


class ProfileTable(QTableWidget):
    """The keys of a draft: how each is called, what is said, and what is wrong or assumed."""

    written = Signal()
    """A key was written into the draft."""

    def __init__(self, draft: Draft) -> None:
        super().__init__(0, 3)
        self.draft = draft
        self._filling = False
        self._rows: list[DraftRow | None] = []
        self._colours = LIGHT
        self.setAccessibleName("Engine profile")
        self.setHorizontalHeaderLabels(["", "value", "unit"])
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setSectionResizeMode(KEY_COLUMN, QHeaderView.ResizeMode.Fixed)
        header.setSectionResizeMode(VALUE_COLUMN, QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(ERROR_COLUMN, QHeaderView.ResizeMode.Stretch)
        # A name that takes several lines takes others once its column has another width.
        header.geometriesChanged.connect(self.resizeRowsToContents)
        self.setItemDelegateForColumn(VALUE_COLUMN, _ChoiceDelegate(self))
        self.itemChanged.connect(self._changed)
        self.cellClicked.connect(self._clicked)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        self.setColumnWidth(KEY_COLUMN, round(KEY_SHARE * self.viewport().width()))
        self.resizeRowsToContents()

    def row_at(self, number: int) -> DraftRow | None:
        """Return the key in a row; None for the heading of a group."""
        return self._rows[number] if 0 <= number < len(self._rows) else None

    @property
    def faint(self) -> QColor:
        """The colour of what is only assumed."""
        return QColor(self._colours.faint)

    def go_to(self, path: tuple[str | int, ...]) -> None:
        """Put the keyboard into the row of a key."""
        for number, row in enumerate(self._rows):
            if row is not None and row.path == path:
                self.setCurrentCell(number, VALUE_COLUMN)
                return

    def show_current(self) -> None:
        """Bring the row in which the keyboard is into sight."""
        self.scrollTo(self.currentIndex())

    def show_colours(self, colours: Palette) -> None:
        """Take other colours."""
        if colours is not self._colours:
            self._colours = colours
            self.fill()

    def fill(self) -> None:
        """Fill it from the draft."""
        self._filling = True
        rows = self.draft.rows
        self._rows = []
        for group in FORM_GROUPS:
            of_group = [row for row in rows if key_said(row.path).group == group]
            self._rows += [None, *of_group]
        self.clearSpans()
        self.setRowCount(len(self._rows))
        groups = iter(FORM_GROUPS)
        for i, row in enumerate(self._rows):
            if row is None:
                self._put_heading(i, next(groups))
            else:
                self._put_row(i, row)
        self.resizeRowsToContents()
        self._filling = False

    def _put_heading(self, i: int, words: str) -> None:
        self.setSpan(i, KEY_COLUMN, 1, 3)
        item = QTableWidgetItem(words)
        item.setFlags(Qt.ItemFlag.ItemIsEnabled)
        type_ = self.font()
        type_.setBold(True)
        item.setFont(type_)
        self.setItem(i, KEY_COLUMN, item)

    def _put_row(self, i: int, row: DraftRow) -> None:
        said = key_said(row.path)
        label = QTableWidgetItem(said.words)
        label.setFlags(Qt.ItemFlag.ItemIsEnabled)
        label.setData(Qt.ItemDataRole.UserRole, row.path)
        label.setData(LABEL_ROLE, row.label)
        label.setToolTip(f"{row.label}: {said.hint}" if said.hint else row.label)
        hint = said.units if row.text else "assumed" if said.default else said.such_as
        beside = QTableWidgetItem(f"✗ {row.error}" if row.error else hint)
        beside.setFlags(Qt.ItemFlag.ItemIsEnabled)
        beside.setToolTip(row.error or said.hint)
        colour = self._colours.warning if row.error else self._colours.faint
        beside.setForeground(QBrush(QColor(colour)))
        value = QTableWidgetItem(row.text)
        value.setToolTip(said.hint)
        value.setData(DEFAULT_ROLE, said.default)
        self.setItem(i, KEY_COLUMN, label)
        self.setItem(i, VALUE_COLUMN, value)
        self.setItem(i, ERROR_COLUMN, beside)

    def _changed(self, item: QTableWidgetItem) -> None:
        row = self.row_at(item.row())
        if self._filling or item.column() != VALUE_COLUMN or row is None:
            return
        self.draft.write(row.path, item.text())
        at = self.currentRow(), self.currentColumn()
        self.fill()
        self.setCurrentCell(*at)
        self.written.emit()

    def _clicked(self, row: int, column: int) -> None:
        if column == VALUE_COLUMN and self.row_at(row) is not None:
            self.edit(self.model().index(row, column))


class _ChoiceDelegate(QStyledItemDelegate):
    """Offers a list where only a few words may be said."""

    def __init__(self, table: ProfileTable) -> None:
        super().__init__(table)
        self._table = table

    def initStyleOption(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().initStyleOption(option, index)
        default = index.data(DEFAULT_ROLE)
        if default and not index.data():
            option.text = default
            faint = self._table.faint
            for role in (QPalette.ColorRole.Text, QPalette.ColorRole.HighlightedText):
                option.palette.setColor(role, faint)

    def createEditor(
        self,
        parent: QWidget,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> QWidget:
        row = self._table.row_at(index.row())
        if row is None or not row.choices:
            return super().createEditor(parent, option, index)
        choice = Choice(parent)
        choice.setAccessibleName(key_said(row.path).words)
        choice.addItems(["", *row.choices])
        choice.setCurrentText(row.text)
        choice.activated.connect(lambda _: self._taken(choice))
        return choice

    def _taken(self, choice: QWidget) -> None:
        self.commitData.emit(choice)
        self.closeEditor.emit(choice)

    def setModelData(self, editor: QWidget, model, index) -> None:  # type: ignore[no-untyped-def]
        if isinstance(editor, Choice):
            model.setData(index, editor.currentText())
        else:
            super().setModelData(editor, model, index)
