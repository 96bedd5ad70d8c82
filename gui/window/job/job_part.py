"""What is a part of the job's page? A list of what is there, and fields for what is to come."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from strokewise.analysis.errors import InputError, StrokewiseError
from strokewise.gui.models.jobs.job_book import JobBook
from strokewise.gui.models.jobs.job_lines import JobEntry
from strokewise.gui.sayings.saying import capital
from strokewise.gui.window.controls import Choice

Wanted = tuple[str, Callable[[], object]]


def tried(what: Callable[[], str]) -> tuple[bool, str]:
    """Do something to the job; return whether it was done, and what there is to say."""
    try:
        return True, what()
    except (StrokewiseError, OSError) as error:
        return False, capital(str(error))


class JobPart(QWidget):
    """One part; what is typed goes into the job by its buttons.

    Parameters
    ----------
    about : str
        What it is for, a line or two.
    """

    said = Signal(str)
    changed = Signal()

    title = ""
    lines_first = False
    """A line is chosen before anything else is done."""

    def __init__(self, book: JobBook, about: str, named: str) -> None:
        super().__init__()
        self.book = book
        self.about = QLabel(about)
        self.about.setWordWrap(True)
        self._first: QWidget | None = None
        self.lines = QListWidget()
        self.lines.setAccessibleName(named)
        self.lines.setWordWrap(True)
        self.lines.setSelectionMode(QListWidget.SelectionMode.NoSelection)
        self.lines.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.beside = QHBoxLayout()
        self.beside.addWidget(self.lines, 1)
        self.form = QGridLayout()
        self.form.setColumnStretch(1, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.about)
        layout.addLayout(self.beside, 1)
        layout.addLayout(self.form)

    def fill(self) -> None:
        """Show what the job holds now."""
        raise NotImplementedError

    @property
    def first(self) -> QWidget:
        """What has the keyboard when the part is opened by key."""
        return self._first or self.lines

    @property
    def count_words(self) -> str:
        """What stands beside its title in the list of the parts."""
        return ""

    def show_lines(self, lines: Sequence[str], none: str) -> None:
        """List lines, or say that there are none; the chosen one stays chosen."""
        at = self.lines.currentRow()
        self.lines.clear()
        self.lines.addItems(list(lines) or [none])
        self.lines.setCurrentRow(min(max(at, 0), len(lines) - 1))

    def let_choose(self) -> None:
        """Let a line be chosen: each is as high as a finger needs."""
        self.lines.setSelectionMode(QListWidget.SelectionMode.SingleSelection)
        self.lines.setObjectName("targets")

    def field(self, example: str, named: str) -> QLineEdit:
        """Return a field to type in."""
        entry = QLineEdit()
        entry.setPlaceholderText(example)
        entry.setToolTip(example)
        entry.setAccessibleName(named)
        return entry

    def choice(self, label: str, *, typed: bool = False) -> Choice:
        """Return a list to choose from; ``typed`` takes other words, too."""
        made = Choice()
        made.setEditable(typed)
        made.setAccessibleName(label)
        if (entry := made.lineEdit()) is not None:
            entry.setAccessibleName(label)
        made.setInsertPolicy(Choice.InsertPolicy.NoInsert)
        made.setSizeAdjustPolicy(Choice.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        return made

    def row(self, label: str, *fields: QWidget) -> None:
        """Add fields side by side; the first of all has the keyboard first, unless a line has."""
        if self._first is None and not self.lines_first:
            self._first = fields[0]
        line = QHBoxLayout()
        for each in fields:
            line.addWidget(each, 1)
        at = self.form.rowCount()
        self.form.addWidget(QLabel(label), at, 0)
        self.form.addLayout(line, at, 1)

    def buttons(self, *wanted: Wanted) -> None:
        """Add buttons side by side."""
        line = QHBoxLayout()
        made = []
        for words, do in wanted:
            button = QPushButton(words)
            button.setAutoDefault(True)  # Enter presses the one that has the keyboard
            button.clicked.connect(lambda _=False, do=do: do())
            line.addWidget(button)
            made.append(button)
        if self._first is None and not self.lines_first:
            self._first = made[0]
        line.addStretch(1)
        self.form.addLayout(line, self.form.rowCount(), 1)

    def do(self, what: Callable[[], str]) -> bool:
        """Do something to the job and say what came of it; tells whether it was done."""
        done, words = tried(what)
        if done:
            self.changed.emit()
        self.said.emit(words)
        return done


class EntryPart(JobPart):
    """A part whose entries can be chosen and taken back."""

    def __init__(self, book: JobBook, about: str, named: str) -> None:
        super().__init__(book, about, named)
        self.entries: tuple[JobEntry, ...] = ()
        self.let_choose()

    def show_entries(self, entries: Sequence[JobEntry], none: str = "None yet") -> None:
        """List entries, or say that there are none."""
        self.entries = tuple(entries)
        self.show_lines([each.words for each in entries], none)

    @property
    def chosen(self) -> JobEntry | None:
        """The entry that is chosen."""
        row = self.lines.currentRow()
        return self.entries[row] if 0 <= row < len(self.entries) else None

    def take_back(self) -> None:
        """Take back the chosen entry."""
        self.do(self._take_back)

    def _take_back(self) -> str:
        chosen = self.chosen
        if chosen is None:
            raise InputError("Choose in the list what is to be taken back")
        if chosen.number is None:
            raise InputError(f"This stays in the job: {chosen.words}")
        return self.book.undo(chosen.number)
