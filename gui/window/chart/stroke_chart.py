"""The stroke chart as a widget: what stands still is painted once and kept."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QWidget

from strokewise.gui.models.figures.chart import Chart
from strokewise.gui.models.figures.trail import Trail
from strokewise.gui.models.figures.units import BAR, PressureUnit
from strokewise.gui.models.palette import LIGHT, Palette
from strokewise.gui.models.run.snapshot import Snapshot
from strokewise.gui.window.chart.kept_curves import KeptCurves, Stretches
from strokewise.gui.window.chart.pressure_painting import ends_of, paint_curves
from strokewise.gui.window.chart.stroke_painting import lay_out, paint_moving, paint_still
from strokewise.gui.window.kept import KeptPicture

VEIL = 0.72
"""How dense the grey is over a picture that is out of date: its strokes are still made out."""


@dataclass(frozen=True, slots=True)
class _ChartShown:
    """All that is seen."""

    chart: Chart
    trail: Trail
    unit: PressureUnit = BAR
    greyed: bool = False
    colours: Palette = LIGHT

    def stretches(self) -> Stretches:
        return self.trail.stretches(self.chart.zero_deg, self.chart.span_deg)


class StrokeChart(QWidget):
    """The chart as a widget; what stands still is painted once and kept."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: _ChartShown | None = None
        self._still = KeptPicture(self)
        self._curves = KeptCurves()
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(320, 200)
        self.setAccessibleName("Stroke chart")

    @property
    def chart(self) -> Chart | None:
        """What is shown."""
        return None if self._shown is None else self._shown.chart

    def show_snapshot(self, snapshot: Snapshot, unit: PressureUnit, colours: Palette) -> None:
        """Show another moment; nothing is painted where nothing has changed."""
        shown = _ChartShown(
            snapshot.chart(), snapshot.trail, unit, snapshot.away is not None, colours
        )
        if shown != self._shown:
            self._shown = shown
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: D102
        painter, box, shown = QPainter(self), QRectF(self.rect()), self._shown
        if shown is None:
            painter.fillRect(box, QColor(LIGHT.paper))
        else:
            stretches = shown.stretches()
            painter.drawPixmap(0, 0, self._curved(shown, box, stretches))
            self._paint_over(painter, box, shown, stretches, curves=False)
        painter.end()

    def paint_on(self, painter: QPainter, box: QRectF) -> None:
        """Paint the whole chart on any device, for export."""
        shown = self._shown
        if shown is not None:
            paint_still(painter, box, shown.chart, shown.colours)
            self._paint_over(painter, box, shown, shown.stretches(), curves=True)

    @staticmethod
    def _paint_over(
        painter: QPainter, box: QRectF, shown: _ChartShown, stretches: Stretches, *, curves: bool
    ) -> None:
        """Paint what moves; and grey it all where none of it is known to be true of now."""
        unit, colours = shown.unit, shown.colours
        paint_moving(painter, box, shown.chart, stretches, unit, colours, curves=curves)
        if shown.greyed:
            veil = QColor(shown.colours.paper)
            veil.setAlphaF(VEIL)
            painter.fillRect(box, veil)

    def _curved(self, shown: _ChartShown, box: QRectF, stretches: Stretches) -> QPixmap:
        """Return what stands still, with the pressure curves as far as they have come."""
        unit, colours, ends = shown.unit, shown.colours, ends_of(stretches, shown.unit)

        def paint(painter: QPainter, new: Stretches) -> None:
            paint_curves(painter, lay_out(box, shown.chart), new, ends, unit, colours)

        of = ends, unit, len(shown.chart.rows)
        return self._curves.picture(self._kept(shown, box), stretches, of, paint)

    def _kept(self, shown: _ChartShown, box: QRectF) -> QPixmap:
        chart, colours = shown.chart, shown.colours
        rows = tuple((r.cylinder, r.sensed, r.blocks, r.bars, r.flags) for r in chart.rows)
        of = (rows, chart.marks, chart.span_deg, colours)
        return self._still.picture(of, lambda painter: paint_still(painter, box, chart, colours))
