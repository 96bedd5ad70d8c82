"""The picture that the mechanic works by: stroke chart and turn guide side by side."""

from __future__ import annotations

import csv
import io

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QHBoxLayout, QWidget

from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.window.chart.stroke_chart import StrokeChart
from strokewise.gui.window.chart.turn_rule import TurnRule

GUIDE_SHARE = 0.30


class ChartPage(QWidget):
    """Chart and guide."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.chart, self.guide = StrokeChart(), TurnRule()
        beside = QHBoxLayout(self)
        beside.setContentsMargins(0, 0, 0, 0)
        beside.setSpacing(0)
        beside.addWidget(self.chart, 1)
        beside.addWidget(self.guide)

    def settle(self, window_width: int) -> None:
        """Take the widths that go with the window's."""
        self.guide.setFixedWidth(round(window_width * GUIDE_SHARE))

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Show a moment."""
        self.chart.show_snapshot(snapshot, unit, colours)
        self.guide.show_snapshot(snapshot, colours)

    def paint_on(self, painter: QPainter, box: QRectF) -> None:
        """Paint both on any device."""
        side = box.width() * GUIDE_SHARE
        self.chart.paint_on(painter, box.adjusted(0, 0, -side, 0))
        self.guide.paint_on(painter, box.adjusted(box.width() - side, 0, 0, 0))

    def csv(self) -> str:
        """Return the chart as a table: each cylinder's strokes in degrees after firing TDC of 1."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        chart = self.chart.chart
        writer.writerow(["cylinder", "stroke", "from (°)", "to (°)", "axis"])
        if chart is None:
            return out.getvalue()
        for row in chart.rows:
            writer.writerows(
                [
                    row.cylinder,
                    block.label,
                    f"{block.start_deg:g}",
                    f"{block.end_deg:g}",
                    chart.note,
                ]
                for block in row.blocks
            )
        return out.getvalue()
