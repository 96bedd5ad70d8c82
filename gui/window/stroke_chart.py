"""The stroke chart as a widget: what stands still is painted once and kept."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPixmap, QResizeEvent
from PySide6.QtWidgets import QWidget

from strokewise.gui.models.chart import Chart
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.snapshot import Snapshot
from strokewise.gui.models.trail import Stretch
from strokewise.gui.models.units import BAR, PressureUnit
from strokewise.gui.window.stroke_painting import paint_moving, paint_still


class StrokeChart(QWidget):
    """The chart as a widget; what stands still is painted once and kept."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._chart: Chart | None = None
        self._stretches: tuple[Stretch, ...] = ()
        self._unit = BAR
        self._colours = LIGHT
        self._still: QPixmap | None = None
        self._still_of: object = None
        self.setMinimumSize(320, 200)
        self.setAccessibleName("Stroke chart")

    @property
    def chart(self) -> Chart | None:
        """What is shown."""
        return self._chart

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Show another moment."""
        chart = snapshot.chart()
        self._chart, self._unit, self._colours = chart, unit, colours
        self._stretches = snapshot.trail.stretches(chart.zero_deg, chart.span_deg)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        self._still = None
        super().resizeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter = QPainter(self)
        if self._chart is None:
            painter.fillRect(self.rect(), QColor(self._colours.paper))
        else:
            painter.drawPixmap(0, 0, self._kept(self._chart))
            box = QRectF(self.rect())
            paint_moving(painter, box, self._chart, self._stretches, self._unit, self._colours)
        painter.end()

    def paint_on(self, painter: QPainter, box: QRectF) -> None:
        """Paint the whole chart on any device, for export."""
        if self._chart is not None:
            paint_still(painter, box, self._chart, self._colours)
            paint_moving(painter, box, self._chart, self._stretches, self._unit, self._colours)

    def _kept(self, chart: Chart) -> QPixmap:
        still_of = (
            tuple(
                (row.cylinder, row.sensed, row.blocks, row.bars, row.flags) for row in chart.rows
            ),
            chart.marks,
            chart.span_deg,
            self._colours.theme,
            self.devicePixelRatioF(),
        )
        if self._still is None or still_of != self._still_of:
            ratio = self.devicePixelRatioF()
            self._still = QPixmap(round(self.width() * ratio), round(self.height() * ratio))
            self._still.setDevicePixelRatio(ratio)
            painter = QPainter(self._still)
            paint_still(painter, QRectF(self.rect()), chart, self._colours)
            painter.end()
            self._still_of = still_of
        return self._still
