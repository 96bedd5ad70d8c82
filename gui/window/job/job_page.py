"""Where is the job read and filled? Its parts in a list, one of them open, who does it above."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.jobs.job_book import JobBook
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.window.controls import Choice, dress, heading
from strokewise.gui.window.job.entry_parts import NotePart, TorquePart
from strokewise.gui.window.job.job_part import JobPart
from strokewise.gui.window.job.job_parts import AnswerPart, GapPart, SheetPart, ToDoPart
from strokewise.gui.window.key_button import TARGET_PX

RECENT = "recent jobs"
PART_COLUMN = (24, 76)
"""The list of the parts and the part that is open, of the width."""


class JobPage(QWidget):
    """The job's page."""

    said = Signal(str)
    open_wanted = Signal()
    make_wanted = Signal(str)
    recent_wanted = Signal(str)
    who_changed = Signal(str)

    def __init__(self, book: JobBook) -> None:
        super().__init__()
        self.book = book
        self._dressed: tuple[object, ...] = ()
        self.name = heading("")
        self.name.setWordWrap(True)
        self.place = QLabel()
        self.recent = Choice()
        self.recent.setAccessibleName("Recent jobs")
        self.recent.setPlaceholderText(RECENT)
        self.recent.setSizeAdjustPolicy(
            Choice.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.recent.setMinimumContentsLength(len(RECENT))
        self.recent.activated.connect(lambda at: self.recent_wanted.emit(self.recent.itemData(at)))
        self.recent_list = QListWidget()
        self.recent_list.setObjectName("targets")
        self.recent_list.setAccessibleName("Jobs that were open before")
        self.recent_list.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        for taken in (self.recent_list.itemClicked, self.recent_list.itemActivated):
            taken.connect(lambda item: self.recent_wanted.emit(item.data(Qt.ItemDataRole.UserRole)))
        self.initials, self.day, self.made_for = QLineEdit(), QLineEdit(book.day), QLineEdit()
        self.initials.setAccessibleName("Initials")
        self.initials.setPlaceholderText("AB")
        self.day.setAccessibleName("Day")
        self.made_for.setAccessibleName("Whom a new job is for")
        self.made_for.setPlaceholderText("may be left empty; Enter makes the job")
        self.made_for.returnPressed.connect(self._want_new)
        self.notes, self.answers, self.sheet = NotePart(book), AnswerPart(book), SheetPart(book)
        self.parts: tuple[JobPart, ...] = (
            ToDoPart(book),
            GapPart(book),
            TorquePart(book),
            self.notes,
            self.answers,
            self.sheet,
        )
        self.list, self.stack = QListWidget(), QStackedWidget()
        self.list.setAccessibleName("Parts of the job")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.list.itemClicked.connect(lambda item: self.window().setFocus())
        for part in self.parts:
            self.list.addItem(part.title)
            self.stack.addWidget(part)
            part.said.connect(self.said.emit)
            part.changed.connect(self.fill)
        self.list.setCurrentRow(0)
        self.list.currentRowChanged.connect(self._part_chosen)
        self.initials.textChanged.connect(self._who_typed)
        self.day.textChanged.connect(self._day_typed)
        self._lay_out()
        self.fill()

    def turn(self, by: int) -> None:
        """Open the next part, or the one before."""
        if self.book.is_open:
            self.list.setCurrentRow((self.list.currentRow() + by) % self.list.count())

    def take_keyboard(self) -> None:
        """Give the keyboard to what is typed or chosen first."""
        if not self.book.is_open:
            self.made_for.setFocus()
        elif not self.initials.text().strip():
            self.initials.setFocus()
        else:
            self.parts[self.list.currentRow()].first.setFocus()

    def fill(self) -> None:
        """Show the job as it is now."""
        is_open = self.book.is_open
        self.pages.setCurrentIndex(int(is_open))
        self.name.setText(f"Job: {self.book.job.name}" if is_open else "No job is open")
        self.place.setText("")
        if not is_open:
            return
        job = self.book.job
        made_for = f"for {job.made_for}, " if job.made_for else ""
        self.place.setText(f"{made_for}made {job.made.astimezone():%Y-%m-%d}")
        for label in (self.name, self.place):
            label.setToolTip(str(job.folder.absolute()))
        for row, part in enumerate(self.parts):
            counted = part.count_words
            self.list.item(row).setText(f"{part.title}: {counted}" if counted else part.title)
        self._part_chosen(self.list.currentRow())

    def show_recent(self, jobs: tuple[str, ...]) -> None:
        """Offer the jobs that were open before, by the names of their folders."""
        self.recent.clear()
        self.recent_list.clear()
        for head in jobs:
            folder = head.replace("\\", "/").rpartition("/")[0]
            name = folder.split("/")[-1]
            self.recent.addItem(name, head)
            item = QListWidgetItem(f"{name}   {folder}", self.recent_list)
            item.setData(Qt.ItemDataRole.UserRole, head)
        self.recent_list.setVisible(bool(jobs))
        self.recent.setCurrentIndex(-1)
        self.recent.setEnabled(bool(jobs))

    def show_who(self, initials: str) -> None:
        """Show whose initials are used."""
        self.initials.setText(initials)

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Keep to the window's colours."""
        window = self.window()
        state = (colours.theme, window.width(), window.height())
        if state != self._dressed:
            self._dressed = state
            dress(self, colours)
            self.list.setStyleSheet(
                f"QListWidget::item {{ min-height: {TARGET_PX}px; }}"
                f" QListWidget::item:selected {{ background: {colours.ink};"
                f" color: {colours.sheet}; }}"
            )
            for field in (self.initials, self.day):
                field.setFixedWidth(self.fontMetrics().horizontalAdvance("0000-00-00") * 3 // 2)

    def _part_chosen(self, row: int) -> None:
        self.stack.setCurrentIndex(row)
        if self.book.is_open:
            self.parts[row].fill()

    def _who_typed(self, text: str) -> None:
        self.book.initials = text
        self.who_changed.emit(text)

    def _day_typed(self, text: str) -> None:
        self.book.day = text

    def _want_open(self) -> None:
        self.open_wanted.emit()

    def _want_new(self) -> None:
        self.make_wanted.emit(self.made_for.text())

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.addWidget(self.name, 1)
        top.addWidget(self.recent)
        for words, want in (("Open a job …", self._want_open), ("New job …", self._want_new)):
            button = QPushButton(words)
            button.setAutoDefault(True)
            button.clicked.connect(want)
            top.addWidget(button)
        who = QHBoxLayout()
        for words, field in (("Initials", self.initials), ("Day", self.day)):
            label = QLabel(words)
            label.setBuddy(field)
            who.addWidget(label)
            who.addWidget(field)
        self.place.setWordWrap(True)
        self.place.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        who.addWidget(self.place, 1)
        filled = QWidget()
        columns = QHBoxLayout(filled)
        columns.setContentsMargins(0, 0, 0, 0)
        columns.addWidget(self.list, PART_COLUMN[0])
        right = QVBoxLayout()
        right.addLayout(who)
        right.addWidget(self.stack, 1)
        columns.addLayout(right, PART_COLUMN[1])
        self.pages = QStackedWidget()
        self.pages.addWidget(self._none_open())
        self.pages.addWidget(filled)
        layout = QVBoxLayout(self)
        layout.addLayout(top)
        layout.addWidget(self.pages, 1)

    def _none_open(self) -> QWidget:
        """What stands there while there is no job."""
        made = QWidget()
        layout = QVBoxLayout(made)
        words = QLabel(
            "A job is a folder in which all that belongs to one engine is kept: recordings and"
            " answers, what is still to do, valve gaps, notes, and the sheet that is handed over"
            " at the end.\n\nOpen one by its file job.toml, drop that file on the window, or make"
            " a new one: it is called like its new folder."
        )
        words.setObjectName("lead")
        words.setWordWrap(True)
        layout.addWidget(words)
        row = QHBoxLayout()
        row.addWidget(QLabel("A new job is for"))
        row.addWidget(self.made_for, 1)
        layout.addLayout(row)
        layout.addWidget(self.recent_list, 1)
        layout.addStretch(1)
        return made
