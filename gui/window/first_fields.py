"""What must be known before the first turn? Cylinders, firing order and the sensed cylinder."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QWidget

from strokewise.analysis.crank.strokes import MOST_CYLINDERS
from strokewise.gui.models.setup.draft import ORDER_PATH, Draft
from strokewise.gui.models.setup.first_profile import orders_offered, usual_order
from strokewise.gui.window.controls import Choice

CYLINDERS_PATH = ("cylinders",)
SENSED_LABELS = ("sensor.cylinder", "sensor 1: cylinder")
"""As a draft names the key, with one sensor and with several."""


class FirstFields(QWidget):
    """The few fields that a first start needs; they write into the draft.

    Parameters
    ----------
    stated : bool
        Somebody said how many cylinders there are; else they are asked for.
    """

    written = Signal()

    def __init__(self, draft: Draft, *, stated: bool) -> None:
        super().__init__()
        self.draft = draft
        self.stated = stated
        self.cylinders, self.order, self.sensed = Choice(), Choice(), Choice()
        self.cylinders.addItems(
            [f"{n} cylinder{'' if n == 1 else 's'}" for n in range(1, MOST_CYLINDERS + 1)]
        )
        self.cylinders.setPlaceholderText("cylinders?")
        self.order.setEditable(True)
        self.order.setInsertPolicy(Choice.InsertPolicy.NoInsert)
        self.cylinders.setAccessibleName("Cylinders")
        self.order.setAccessibleName("Firing order")
        self.sensed.setAccessibleName("Cylinder of the sensor")
        self.cylinders.activated.connect(lambda at: self._write_cylinders(at + 1))
        self.order.activated.connect(lambda _: self._write(ORDER_PATH, self.order.currentText()))
        typed = self.order.lineEdit()
        assert typed is not None
        typed.setAccessibleName("Firing order")
        typed.editingFinished.connect(lambda: self._write(ORDER_PATH, typed.text()))
        self.sensed.activated.connect(lambda at: self._write(self._sensed_path(), str(at + 1)))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for field, share in ((self.cylinders, 3), (self.order, 4), (self.sensed, 3)):
            field.setSizeAdjustPolicy(Choice.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            row.addWidget(field, share)

    def fill(self) -> None:
        """Show what the draft says."""
        texts = {row.label: row.text for row in self.draft.rows}
        count = texts.get("cylinders", "")
        cylinders = min(max(int(count), 1), MOST_CYLINDERS) if count.isdecimal() else 1
        self.cylinders.setCurrentIndex(cylinders - 1 if self.stated else -1)
        such_as = "-".join(str(number) for number in usual_order(cylinders))
        typed = self.order.lineEdit()
        assert typed is not None
        typed.setPlaceholderText(f"such as {such_as}" if self.stated else "order")
        offered = ["-".join(map(str, order)) for order in orders_offered(cylinders)]
        if [self.order.itemText(i) for i in range(self.order.count())] != offered:
            self.order.clear()
            self.order.addItems(offered)
        self.order.setEditText(texts.get("firing_order", "") if self.stated else "")
        if self.sensed.count() != cylinders:
            self.sensed.clear()
            self.sensed.addItems([f"sensor in {n}" for n in range(1, cylinders + 1)])
        sensed = next((texts[each] for each in SENSED_LABELS if texts.get(each)), "1")
        self.sensed.setCurrentIndex(int(sensed) - 1 if sensed.isdecimal() else 0)

    def _sensed_path(self) -> tuple[str | int, ...]:
        return next(row.path for row in self.draft.rows if row.label in SENSED_LABELS)

    def _write_cylinders(self, count: int) -> None:
        """Write the number; an order that cannot be one of so many is asked for anew."""
        self.stated = True
        self.draft.write(CYLINDERS_PATH, str(count))
        order = next((row.text for row in self.draft.rows if row.path == ORDER_PATH), "")
        if sorted(order.split("-")) != sorted(map(str, range(1, count + 1))):
            self.draft.write(ORDER_PATH, "1" if count == 1 else "")
        self.written.emit()

    def _write(self, path: tuple[str | int, ...], text: str) -> None:
        before = {row.path: row.text for row in self.draft.rows}
        if self.stated and before.get(path) != text.strip():
            self.draft.write(path, text)
            self.written.emit()
