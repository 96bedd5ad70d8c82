"""What can be put into a job and taken back? Torques, notes and photos."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QPixmap, QResizeEvent
from PySide6.QtWidgets import QLabel

from strokewise.analysis.errors import InputError
from strokewise.gui.job.photo import read_photo
from strokewise.gui.models.jobs.job_book import JobBook
from strokewise.gui.models.jobs.job_lines import note_entries, torque_entries
from strokewise.gui.window.job.job_part import EntryPart

PREVIEW_PX = 900
PREVIEW_SHARE = 0.4
"""Width of a photo beside the list, of the part's."""


class TorquePart(EntryPart):
    """What was drawn tight."""

    title = "Torques"

    def __init__(self, book: JobBook) -> None:
        super().__init__(
            book,
            "What is right stands in the engine maker’s manual; here stands what was done."
            " A torque, an angle, or one after the other: 40 N m + 90 deg.",
            "What was drawn tight",
        )
        self.what = self.field("such as: head bolts", "What was drawn tight")
        self.value = self.field("such as 90 N m", "How tight, with its unit")
        self.tool = self.field("such as: torque wrench 7", "With which tool")
        self.note = self.field("if there is anything", "Note of the torque")
        self.row("What, how tight", self.what, self.value)
        self.row("Tool, note", self.tool, self.note)
        self.note.returnPressed.connect(self.put_down)
        self.buttons(("Put the torque down", self.put_down), ("Take it back", self.take_back))

    def fill(self) -> None:
        """Show what was drawn tight."""
        self.show_entries(torque_entries(self.book.job))

    @property
    def count_words(self) -> str:
        """How many there are."""
        return str(len(self.book.job.torques) or "none")

    def put_down(self) -> None:
        """Put down what was typed; the tool is mostly the same the next time."""
        said = (self.what.text(), self.value.text(), self.tool.text(), self.note.text())
        if self.do(lambda: self.book.torque(*said)):
            for each in (self.what, self.value, self.note):
                each.clear()


class NotePart(EntryPart):
    """Notes and photos."""

    title = "Notes, photos"

    photo_wanted = Signal(str)

    def __init__(self, book: JobBook) -> None:
        super().__init__(
            book,
            "Anything worth having on the sheet. Of a photo only the picture is kept: not where,"
            " when and with what it was taken.",
            "Notes and photos so far",
        )
        self.preview = QLabel()
        self.preview.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.preview.setAccessibleName("Photo")
        self.beside.addWidget(self.preview)
        self._picture = QPixmap()
        self._shown = ""
        self.text = self.field("such as: No. 2 plug thread repaired", "Note")
        self.row("Note", self.text)
        self.text.returnPressed.connect(self.note)
        self.shows = self.choice("What the photo shows", typed=True)
        if (entry := self.shows.lineEdit()) is not None:
            entry.setPlaceholderText("such as: pulley notch at its pointer")
        self.row("Photo shows", self.shows)
        self.buttons(
            ("Put the note down", self.note),
            ("Photo …", self._want_photo),
            ("Take it back", self.take_back),
        )
        self.lines.currentRowChanged.connect(lambda _: self._show_photo())

    def fill(self) -> None:
        """Show what was noted; a photo can be of any mark of the profile."""
        self.show_entries(note_entries(self.book.job))
        marks = [mark.name for mark in self.book.profile.marks]
        if [self.shows.itemText(i) for i in range(self.shows.count())] != marks:
            with QSignalBlocker(self.shows):
                self.shows.clear()
                self.shows.addItems(marks)
                self.shows.setCurrentIndex(-1)
        self._show_photo()

    @property
    def count_words(self) -> str:
        """How many there are."""
        return str(len(note_entries(self.book.job)) or "none")

    def note(self) -> None:
        """Put down what was typed."""
        if self.do(lambda: self.book.note(self.text.text())):
            self.text.clear()
            self._choose_last()

    def take_photo(self, path: str, shows: str) -> None:
        """Put a photo into the job."""
        if self.do(lambda: self.book.photo(path, shows)):
            self.shows.setEditText("")
            self._choose_last()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        self._fit()

    def _choose_last(self) -> None:
        self.lines.setCurrentRow(self.lines.count() - 1)

    def _want_photo(self) -> None:
        self.photo_wanted.emit(self.shows.currentText().strip())

    def _show_photo(self) -> None:
        name = "" if self.chosen is None else self.chosen.photo
        if name != self._shown:
            self._shown, self._picture = name, QPixmap()
            if name:
                try:
                    clean = read_photo(self.book.job.folder / name, PREVIEW_PX)
                    self._picture.loadFromData(clean.jpeg)
                except InputError as error:
                    self.said.emit(str(error))
        self._fit()

    def _fit(self) -> None:
        self.preview.setVisible(not self._picture.isNull())
        if not self._picture.isNull():
            room = round(self.width() * PREVIEW_SHARE)
            self.preview.setPixmap(
                self._picture.scaled(
                    room,
                    max(1, self.lines.height()),
                    Qt.AspectRatioMode.KeepAspectRatio,
                    Qt.TransformationMode.SmoothTransformation,
                )
            )
