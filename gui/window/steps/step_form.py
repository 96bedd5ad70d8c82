"""What is said to a step, and where: one field for each option, and the recordings to compare."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from textwrap import wrap

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QFormLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from strokewise.daq.recording.container import RECORDING_SUFFIX
from strokewise.gui.models.steps.step_book import StepBook
from strokewise.gui.models.steps.step_fields import Field
from strokewise.gui.window.choosing import choose_files
from strokewise.gui.window.controls import Choice

NOT_SAID = "not said"
TICK_LETTERS = 20
"""So many letters stand beside a tick at the most: more would push the fields out of sight."""


class StepForm(QWidget):
    """The fields of the open step."""

    changed = Signal()
    said = Signal(str)

    def __init__(self, book: StepBook) -> None:
        super().__init__()
        self.book = book
        self.dialog: QFileDialog | None = None
        self.fields: dict[str, QWidget] = {}
        self._body = QWidget()
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.addWidget(self._body)
        self.fill()

    def fill(self) -> None:
        """Make the fields of the step that is open now."""
        self._layout.removeWidget(self._body)
        self._body.hide()
        self._body.deleteLater()
        self._body, self.fields = QWidget(), {}
        rows = QFormLayout(self._body)
        rows.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        if self.book.chosen == "compare":
            self._add_files(rows)
        for field in self.book.fields:
            self._add(rows, field)
        self._layout.addWidget(self._body)

    def choose_files(self, *, oiled: bool = False) -> None:
        """Ask for recordings; the window and the run go on meanwhile."""
        words = "Recordings again, oiled" if oiled else "A recording for each cylinder"
        self.dialog = choose_files(
            self.window(),
            words,
            [f"Recordings (*{RECORDING_SUFFIX})"],
            lambda names: self.take_files(names, oiled=oiled),
            many=True,
        )

    def take_files(self, names: list[str], *, oiled: bool = False) -> None:
        """Compare these recordings from now on."""
        files = tuple(sorted(Path(name) for name in names))
        self.book.compare(files, oiled=oiled)
        if self.book.chosen == "compare":
            self.fill()
        self.changed.emit()

    def offer(self, offers: Mapping[str, tuple[str, ...]]) -> None:
        """Offer what the answer has to choose from; what was chosen stays while it is offered."""
        for field in self.book.fields:
            choice = self.fields.get(field.name)
            if not field.label.offered or not isinstance(choice, Choice):
                continue
            wanted = [field.label.example, *offers.get(field.name, ())]
            if wanted != [choice.itemText(at) for at in range(choice.count())]:
                choice.blockSignals(True)
                choice.clear()
                choice.addItems(wanted)
                choice.setCurrentText(self.book.said(field.name) or field.label.example)
                choice.blockSignals(False)
            choice.setEnabled(len(wanted) > 1)

    def _add_files(self, rows: QFormLayout) -> None:
        for words, files, oiled in (
            ("Choose recordings …", self.book.files, False),
            ("Choose oiled ones …", self.book.oiled, True),
        ):
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, oiled=oiled: self.choose_files(oiled=oiled))
            rows.addRow(button)
            self.fields["oiled" if oiled else "files"] = button
            if files:
                names = QLabel(", ".join(file.name for file in files))
                names.setWordWrap(True)
                rows.addRow(names)

    def _add(self, rows: QFormLayout, field: Field) -> None:
        given = self.book.said(field.name)
        if field.takes.kind == "tick":
            tick = QCheckBox("\n".join(wrap(field.label.short, TICK_LETTERS)))
            tick.setChecked(bool(given))
            tick.toggled.connect(lambda on: self._say(field, "yes" if on else ""))
            rows.addRow(tick)
            made: QWidget = tick
        elif field.choices or field.label.offered:
            unsaid = field.label.example if field.label.offered else NOT_SAID
            offered = self.book.offers.get(field.name, ()) if field.label.offered else ()
            choice = Choice()
            choice.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
            choice.addItems([unsaid, *field.choices, *offered])
            choice.setCurrentText(given or unsaid)
            choice.currentIndexChanged.connect(
                lambda at: self._say(field, choice.itemText(at) if at else "")
            )
            rows.addRow(field.label.short, choice)
            made = choice
        else:
            entry = QLineEdit(given)
            entry.setPlaceholderText(field.label.example)
            entry.setToolTip(field.label.example)
            entry.editingFinished.connect(lambda: self._say(field, entry.text()))
            label = QLabel(field.label.short)
            label.setWordWrap(True)
            rows.addRow(label)
            rows.addRow(entry)
            made = entry
        made.setAccessibleName(field.label.short)
        self.fields[field.name] = made

    def _say(self, field: Field, text: str) -> None:
        if text == self.book.said(field.name):
            return
        trouble = self.book.say(field.name, text)
        if trouble:
            self.said.emit(trouble)
        else:
            self.changed.emit()
