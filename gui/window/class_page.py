"""Where does the trainer stand? Scenario, faults, questions and answers, on one page."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QListWidget,
    QStackedWidget,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from strokewise.analysis.errors import InputError
from strokewise.gui.models.classroom.worksheet import titles
from strokewise.gui.models.figures.units import PressureUnit, counted_words
from strokewise.gui.models.keys import KEYS
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.sayings.saying import capital
from strokewise.gui.window.controls import buttons, dress, heading
from strokewise.gui.window.finding_list import Entry, FindingList

if TYPE_CHECKING:
    from strokewise.gui.models.classroom.classroom import Classroom

SETTING_COLUMN, SET_TO_COLUMN, SETTING_UNIT_COLUMN = range(3)

WORKSHEET_BUTTONS = (
    {"keep_trace": "Add this", "undo_worksheet": "Undo", "empty_worksheet": "Empty"},
    {"toggle_gauge": "Gauge or absolute"},
    {"print_worksheet": "Print", "print_answers": "Answers", "save_worksheet": "PDF"},
)
"""Actions of the worksheet and their words, a row each."""
EMPTY_SHEET = "Empty: printed now, it holds the trace of this moment alone."
FAR_TYPE = 0.032
"""Of the window's height: words that a class reads from its last row."""
COVERED = (
    "A question stands. What runs, and what is wrong with it, is shown here again once the class "
    "has answered.\n\nEsc: back to the question"
)


class ClassPage(QWidget):
    """The class-room page; what it wants done is said by signals."""

    scenario_wanted = Signal(str)
    question_wanted = Signal(str)
    action_wanted = Signal(str)
    answers_wanted = Signal()
    said = Signal(str)

    def __init__(self, classroom: Classroom) -> None:
        super().__init__()
        self.classroom = classroom
        self.gauge = False
        """The worksheet counts pressure from the air outside."""
        self._filling = False
        self._dressed: tuple[object, ...] = ()
        self.finder = FindingList(
            [Entry(each.name, each.about, each.group) for each in classroom.scenarios], "Scenarios"
        )
        self.finder.chosen.connect(self.scenario_wanted.emit)
        self.scenarios = self.finder.list
        self.setFocusProxy(self.finder)
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
        self.answers.setWordWrap(True)
        self.answers.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.worksheet = QLabel("")
        self.worksheet.setWordWrap(True)
        self.cover = QLabel(COVERED)
        self.cover.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.cover.setWordWrap(True)
        open_, self._sides = QHBoxLayout(), QStackedWidget()
        open_.addLayout(self._left(), 6)
        open_.addLayout(self._right(), 5)
        sides = QWidget()
        sides.setLayout(open_)
        self._sides.addWidget(sides)
        self._sides.addWidget(self.cover)
        QVBoxLayout(self).addWidget(self._sides)
        self.fill()

    def run_chosen(self) -> None:
        """Run the scenario that is marked in the list."""
        if not self.finder.current:
            self.said.emit("Choose a scenario from the list")
            return
        self.finder.take()

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Keep to the window's colours, and cover all while a question stands."""
        self._sides.setCurrentIndex(self.classroom.question is not None)
        state = (colours.theme, self.window().height())
        if state != self._dressed:
            self._dressed = state
            dress(self, colours)
            far_px = round(self.window().height() * FAR_TYPE)
            self.cover.setStyleSheet(f"font-size: {far_px}px;")

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
        self.answers.setVisible(bool(self.classroom.answers))  # else the faults have its room
        on_it = titles(self.classroom.traces)
        on_it = f"{on_it}." if on_it else EMPTY_SHEET
        self.worksheet.setText(f"{on_it} {capital(counted_words(gauge=self.gauge))}.")
        self._filling = False

    def _left(self) -> QVBoxLayout:
        left = QVBoxLayout()
        left.addWidget(heading("Bench engine: scenarios"))
        left.addWidget(self.finder, 1)
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
                ("Keep as a table", "", self.answers_wanted.emit),
            )
        )
        right.addWidget(self.answers, 1)
        right.addWidget(heading("Worksheet"))
        right.addWidget(self.worksheet)
        for row in WORKSHEET_BUTTONS:
            right.addLayout(self._of_table(row))
        return right

    def _of_table(self, wanted: dict[str, str]) -> QHBoxLayout:
        """Return buttons of actions of the table of keys, each with its key."""
        keys = {each.action: each for each in KEYS}
        row = buttons(
            *(
                (f"{words} ({keys[action].keys[0]})", "", partial(self.action_wanted.emit, action))
                for action, words in wanted.items()
            )
        )
        for i, action in enumerate(wanted):
            item = row.itemAt(i)
            button = None if item is None else item.widget()
            assert button is not None  # one for each
            button.setObjectName(action)
            button.setAccessibleName(keys[action].name)
        return row

    def _changed(self, item: QTableWidgetItem) -> None:
        if self._filling or item.column() != SET_TO_COLUMN:
            return
        key = self.classroom.faults[item.row()].key
        try:
            self.classroom.change(key, item.text())
        except InputError as error:
            self.said.emit(str(error))
        self.fill()
