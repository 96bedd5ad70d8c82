"""How do a step's cautions stay in sight beside its answer? In the largest type that has room."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea

from strokewise.gui.models.palette import Palette
from strokewise.gui.pages.cautions import Caution
from strokewise.gui.window.steps.step_sheet import caution_html

CAUTION_TYPE_SHARE, LEAST_TYPE = 0.024, 16
"""Type of the cautions, of the window's height, and in pixels at the least; then it scrolls."""


class CautionBox(QScrollArea):
    """The cautions of a step."""

    def __init__(self) -> None:
        super().__init__()
        self._text = QLabel()
        self._text.setWordWrap(True)
        self._text.setTextFormat(Qt.TextFormat.RichText)
        self._text.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.setWidget(self._text)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("Cautions of the step")

    @property
    def words(self) -> str:
        """What stands there, as rich text."""
        return self._text.text()

    def show_cautions(self, heading: str, cautions: tuple[Caution, ...], colours: Palette) -> None:
        """Show other cautions."""
        self._text.setText(caution_html(heading, cautions, colours))
        self.fit()

    def fit(self) -> None:
        """Take the largest type in which all of it is seen."""
        room = self.maximumViewportSize()
        largest = max(LEAST_TYPE, round(self.window().height() * CAUTION_TYPE_SHARE))
        for pixels in range(largest, LEAST_TYPE - 1, -1):
            self._text.setStyleSheet(f"font-size: {pixels}px;")
            if self._text.heightForWidth(room.width()) <= room.height():
                return

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        self.fit()
