"""Where does the trainer stand? Scenario, faults, questions and answers, on one page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFont
from PySide6.QtWidgets import (
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from strokewise.analysis.errors import InputError
from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.window.controls import buttons, dress, heading

if TYPE_CHECKING:
    from strokewise.gui.models.classroom.classroom import Classroom

SETTING_COLUMN, SET_TO_COLUMN, SETTING_UNIT_COLUMN = range(3)


class ClassPage(QWidget):
    """The class-room page; what it wants done is said by signals."""

    scenario_wanted = Signal(str)
    question_wanted = Signal(str)
    trace_wanted = Signal()
    worksheet_wanted = Signal()
    empty_wanted = Signal()
    answers_wanted = Signal()
    said = Signal(str)

    def __init__(self, classroom: Classroom) -> None:
        super().__init__()
        self.classroom = classroom
        self._filling = False
        self._dressed: tuple[object, ...] = ()
        self.scenarios = QListWidget()
        self.scenarios.setAccessibleName("Scenarios")
        group = ""
        for scenario in classroom.scenarios:
            if scenario.group != group:
                group = scenario.group
                head = QListWidgetItem(group.upper())
                head.setFlags(Qt.ItemFlag.NoItemFlags)
                bold = QFont()
                bold.setBold(True)
                head.setFont(bold)
                self.scenarios.addItem(head)
            item = QListWidgetItem(f"{scenario.name}: {scenario.about}")
            item.setData(Qt.ItemDataRole.UserRole, scenario.name)
            self.scenarios.addItem(item)
        self.scenarios.itemActivated.connect(self._chosen)
        self.scenarios.setWordWrap(True)
        self.scenarios.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.scenarios.setCurrentRow(1)  # under the first heading: Enter runs it
        self.setFocusProxy(self.scenarios)
        self.faults = QTableWidget(0, 3)
        self.faults.setAccessibleName("Faults")
        self.faults.setHorizontalHeaderLabels(["what can go wrong", "value", "unit"])
        self.faults.verticalHeader().hide()
        header = self.faults.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(SETTING_COLUMN, QHeaderView.ResizeMode.Stretch)
        header.geometriesChanged.connect(self.faults.resizeRowsToContents)
        self.faults.itemChanged.connect(self._changed)
        self.answers = QListWidget()
        self.answers.setAccessibleName("Answers of the class")
        self.worksheet = QLabel("")
        self.worksheet.setWordWrap(True)
        layout = QHBoxLayout(self)
        layout.addLayout(self._left(), 5)
        layout.addLayout(self._right(), 6)
        self.fill()

    def run_chosen(self) -> None:
        """Run the scenario that is marked in the list."""
        item = self.scenarios.currentItem()
        if item is None or not item.data(Qt.ItemDataRole.UserRole):
            self.said.emit("Choose a scenario from the list")
            return
        self._chosen(item)

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Keep to the window's colours."""
        state = (colours.theme, self.window().height())
        if state != self._dressed:
            self._dressed = state
            dress(self, colours)

    def fill(self) -> None:
        """Fill faults and answers from the class-room."""
        self._filling = True
        faults = self.classroom.faults
        self.faults.setRowCount(len(faults))
        for i, fault in enumerate(faults):
            about = QTableWidgetItem(("● " if fault.changed else "") + fault.about)
            about.setFlags(Qt.ItemFlag.ItemIsEnabled)
            about.setData(Qt.ItemDataRole.UserRole, fault.key)
            unit = QTableWidgetItem(fault.unit)
            unit.setFlags(Qt.ItemFlag.ItemIsEnabled)
            self.faults.setItem(i, SETTING_COLUMN, about)
            self.faults.setItem(i, SET_TO_COLUMN, QTableWidgetItem(fault.value))
            self.faults.setItem(i, SETTING_UNIT_COLUMN, unit)
        self.faults.resizeRowsToContents()
        self.answers.clear()
        for given in self.classroom.answers:
            sign = "✓" if given.right else "✗"
            self.answers.addItem(f"{sign} {given.words} {given.answer} ({given.truth})")
        self.worksheet.setText(self._on_worksheet())
        self._filling = False

    def _on_worksheet(self) -> str:
        titles = [f"{i + 1}. {sheet.title}" for i, sheet in enumerate(self.classroom.traces)]
        return "; ".join(titles) or "Empty: printed now, it holds the trace of this moment alone."

    def _left(self) -> QVBoxLayout:
        left = QVBoxLayout()
        left.addWidget(heading("Bench engine: scenarios"))
        left.addWidget(self.scenarios, 1)
        left.addLayout(buttons(("Run as if live (Enter)", "", self.run_chosen)))
        return left

    def _right(self) -> QVBoxLayout:
        right = QVBoxLayout()
        right.addWidget(heading("Faults: change one while it runs"))
        right.addWidget(self.faults, 3)
        right.addWidget(heading("Questions"))
        note = QLabel("The verdict is hidden until the class has answered.")
        right.addWidget(note)
        right.addLayout(
            buttons(
                ("Who fires? (Q)", "", lambda: self.question_wanted.emit("firing")),
                ("What is wrong?", "", lambda: self.question_wanted.emit("fault")),
            )
        )
        right.addWidget(self.answers, 2)
        right.addLayout(buttons(("Keep answers as a table", "", self.answers_wanted.emit)))
        right.addWidget(heading("Worksheet"))
        right.addWidget(self.worksheet)
        right.addLayout(
            buttons(
                ("Add this trace (W)", "", self.trace_wanted.emit),
                ("Save it to print", "", self.worksheet_wanted.emit),
                ("Empty it", "", self.empty_wanted.emit),
            )
        )
        return right

    def _chosen(self, item: QListWidgetItem) -> None:
        name = item.data(Qt.ItemDataRole.UserRole)
        if name:
            self.scenario_wanted.emit(name)

    def _changed(self, item: QTableWidgetItem) -> None:
        if self._filling or item.column() != SET_TO_COLUMN:
            return
        key = self.classroom.faults[item.row()].key
        try:
            self.classroom.change(key, item.text())
        except InputError as error:
            self.said.emit(str(error))
        self.fill()
