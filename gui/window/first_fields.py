"""What must be known before the first turn? Cylinders, firing order and the sensed cylinder."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from strokewise.analysis.crank.strokes import MOST_CYLINDERS
from strokewise.gui.models.setup.draft import ORDER_PATH, Draft
from strokewise.gui.models.setup.first_profile import usual_order
from strokewise.gui.window.controls import Choice

CYLINDERS_PATH = ("cylinders",)
SENSED_LABELS = ("sensor.cylinder", "sensor 1: cylinder")
"""As a draft names the key, with one sensor and with several."""


class FirstFields(QWidget):
    """The few fields that a first start needs; they write into the draft."""

    written = Signal()

    def __init__(self, draft: Draft) -> None:
        super().__init__()
        self.draft = draft
        self.cylinders, self.order, self.sensed = Choice(), QLineEdit(), Choice()
        self.cylinders.addItems(
            [f"{n} cylinder{'' if n == 1 else 's'}" for n in range(1, MOST_CYLINDERS + 1)]
        )
        self.cylinders.setAccessibleName("Cylinders")
        self.order.setAccessibleName("Firing order")
        self.sensed.setAccessibleName("Cylinder of the sensor")
        self.cylinders.activated.connect(lambda at: self._write(CYLINDERS_PATH, str(at + 1)))
        self.order.editingFinished.connect(lambda: self._write(ORDER_PATH, self.order.text()))
        self.sensed.activated.connect(lambda at: self._write(self._sensed_path(), str(at + 1)))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for field, share in ((self.cylinders, 3), (self.order, 4), (self.sensed, 4)):
            row.addWidget(field, share)

    def fill(self) -> None:
        """Show what the draft says."""
        texts = {row.label: row.text for row in self.draft.rows}
        count = texts.get("cylinders", "")
        cylinders = int(count) if count.isdecimal() else 1
        self.cylinders.setCurrentIndex(min(max(cylinders, 1), MOST_CYLINDERS) - 1)
        such_as = "-".join(str(number) for number in usual_order(cylinders))
        self.order.setPlaceholderText(f"firing order, such as {such_as}")
        self.order.setText(texts.get("firing_order", ""))
        if self.sensed.count() != cylinders:
            self.sensed.clear()
            self.sensed.addItems([f"sensor in {n}" for n in range(1, cylinders + 1)])
        sensed = next((texts[each] for each in SENSED_LABELS if texts.get(each)), "1")
        self.sensed.setCurrentIndex(int(sensed) - 1 if sensed.isdecimal() else 0)

    def _sensed_path(self) -> tuple[str | int, ...]:
        return next(row.path for row in self.draft.rows if row.label in SENSED_LABELS)

    def _write(self, path: tuple[str | int, ...], text: str) -> None:
        before = {row.path: row.text for row in self.draft.rows}
        if before.get(path) != text.strip():
            self.draft.write(path, text)
            self.written.emit()
