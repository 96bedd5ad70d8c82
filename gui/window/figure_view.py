"""How is a figure drawn? Any figure of the models, with zoom, cursor and export."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from strokewise.gui.models.figures.figure import Curve, Figure
from strokewise.gui.models.figures.piston import Piston
from strokewise.gui.models.palette import LIGHT, Palette, faded
from strokewise.gui.window import ink
from strokewise.gui.window.figure_axes import (
    few_ticks,
    label_type,
    labelled_lines,
    log_ticks,
    new_axes,
)
from strokewise.gui.window.figure_extras import Legend, Shade
from strokewise.gui.window.piston_view import PistonView

PEN_STYLES = {
    "line": Qt.PenStyle.SolidLine,
    "dashes": Qt.PenStyle.DashLine,
    "dots": Qt.PenStyle.DotLine,
    "points": Qt.PenStyle.NoPen,
}
UNSEEN = QPen(QColor(0, 0, 0, 0), 0)
"""Of no width, else its width would count in the figure's own units."""
FIGURE_TYPE_SHARE = 0.026
"""Type of the axes, of the window's height."""
FACTS_SHARE, LEAST_FACTS_EMS, FACTS_EMS = 0.25, 12, 17
"""Width of the column of figures beside the curves: of the view's, and in heights of its type at
the least, so that its words are not squeezed, and at the most: a larger window's is the curves'."""
SMALLEST_TYPE = 12
EMPTY_TYPE = 2.0
"""Type of why there is no figure, against that of the axes: it is all there is to read."""
BELOW_SHARE = 0.4
"""Of both plots' height, what is left over of a fit has: its axis and title, and as much again."""
HEADROOM = 0.16
"""Room above the curves for the labels of lines, of the curves' height."""
PYQTGRAPH_TYPE = 14
"""Type in pixels that pyqtgraph spaces its ticks for."""


class FigureView(QWidget):
    """Draws figures; zoom by wheel, drag and keys."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._figure: Figure | None = None
        self._colours, self._far = LIGHT, False
        self._items: dict[str, pg.PlotDataItem] = {}
        self._lines: list[pg.InfiniteLine] = []
        self._graphics = pg.GraphicsLayoutWidget(self)
        self._plot = self._graphics.addPlot(row=0, col=0, axisItems=new_axes())
        self._below = self._graphics.addPlot(row=1, col=0, axisItems=new_axes())
        self._below.setXLink(self._plot)
        self._graphics.ci.layout.setRowStretchFactor(0, 1)  # all that the lower one does not need
        self._headroom = self._plot.plot([], [], pen=UNSEEN)
        self._shade, self._legend = Shade(self._plot), Legend(self._plot)
        self._title = QLabel(self)
        self._reading = QLabel(self)
        self._facts, self._empty = QLabel(self), QLabel(self)
        for label in (self._facts, self._empty, self._reading):
            label.setWordWrap(True)
        for label in (self._title, self._reading, self._facts, self._empty):
            label.setTextFormat(Qt.TextFormat.PlainText)
        self._facts.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._empty.setSizePolicy(GROWS, GROWS)
        self._beside = beside = QHBoxLayout()
        beside.addWidget(self._empty, 1)
        beside.addWidget(self._graphics, 1)
        self._piston, column = PistonView(self), QVBoxLayout()
        column.addWidget(self._facts, 1)
        column.addWidget(self._piston, 0, Qt.AlignmentFlag.AlignBottom)
        beside.addLayout(column)
        layout = QVBoxLayout(self)
        layout.setSpacing(2)
        layout.addWidget(self._title)
        layout.addLayout(beside, 1)
        layout.addWidget(self._reading)
        self._cursor = pg.InfiniteLine(angle=90, movable=False)
        self._plot.addItem(self._cursor, ignoreBounds=True)
        self._cursor.hide()
        self._point, self._now = pg.ScatterPlotItem(), pg.ScatterPlotItem()
        for spot in (self._point, self._now):
            self._plot.addItem(spot, ignoreBounds=True)
        self._at_deg = 0.0
        self._graphics.scene().sigMouseMoved.connect(self._mouse_moved)
        self.setAccessibleName("Figure")

    @property
    def figure(self) -> Figure | None:
        """What is drawn."""
        return self._figure

    @property
    def reading(self) -> str:
        """What the cursor says."""
        return self._reading.text()

    def show_figure(self, figure: Figure, colours: Palette, *, far: bool = False) -> None:
        """Draw another figure, ``far`` for a class's last row; one of a kind keeps the zoom."""
        before = self._figure
        fresh = before is None or figure.title != before.title
        # The same figure counts from TDC once that is found, or in another unit.
        other_axes = before is None or _axes_of(figure) != _axes_of(before)
        self._figure = figure
        if fresh or other_axes or (colours, far) != (self._colours, self._far):
            self._colours, self._far = colours, far
            self._dress(figure)
        self._title.setText(figure.title)
        self._facts.setText("\n\n".join(figure.facts))
        self._empty.setText(figure.empty)
        # Axes without a curve would show figures that nobody measured.
        self._empty.setVisible(bool(figure.empty))
        self._graphics.setVisible(not figure.empty)
        self._facts.setVisible(bool(figure.facts))
        self._draw(self._plot, figure, "")
        if figure.below is not None:
            self._draw(self._below, figure.below, "below ")
            self._below.getAxis("left").setTicks(few_ticks(figure.below))
        self._draw_lines(figure)
        self._shade.show_figure(figure, colours)
        self._legend.show_figure(figure, colours, self._type_px, self._ink)
        if fresh:
            self.show_all()
            self._cursor.hide()
            self._point.setData([], [])
        if figure.empty or other_axes or self._reading.text() in ("", HINT) or fresh:
            self._reading.setText("" if figure.empty else HINT)

    def show_all(self) -> None:
        """Zoom so that every curve is seen."""
        self._plot.enableAutoRange()
        self._below.enableAutoRange()
        self._plot.getViewBox().updateAutoRange()  # else it is done when next painted

    def zoom(self, factor: float) -> None:
        """Zoom in about the middle, or out below 1."""
        self._plot.getViewBox().scaleBy((1 / factor, 1 / factor))

    def show_piston(self, piston: Piston | None) -> None:
        """Show the piston below the facts, where they leave it room."""
        self._piston.show_below(self._facts, piston, self._colours, self._type_px)

    def show_now(self, place: tuple[float, float] | None) -> None:
        """Show where the engine stands now, or nothing."""
        spots = [] if place is None else [self._on_plot(*place)]
        self._now.setData(
            pos=spots,
            size=5 * self._wide,
            brush=QColor(self._colours.curves[1]),
            pen=self._thin(self._colours.sheet),
        )

    def _on_plot(self, x: float, y: float) -> tuple[float, float]:
        """Return a place as the plot counts it: in decades where an axis has them."""
        figure = self._figure
        if figure is None:
            return x, y
        return (
            float(np.log10(x)) if figure.x_axis.log and x > 0 else x,
            float(np.log10(y)) if figure.y_axis.log and y > 0 else y,
        )

    def put_by_crank(self, at_deg: float) -> None:
        """Put the cursor on the newest curve where the crank stood at an angle after TDC."""
        led = None if self._figure is None else self._figure.led
        nearest = None if led is None else led.nearest(at_deg)
        if self._figure is None or led is None or nearest is None or led.at_deg is None:
            return
        self._at_deg = float(led.at_deg[nearest])
        place = self._on_plot(float(led.x[nearest]), float(led.y[nearest]))
        self._point.setData(
            pos=[place],
            size=6 * self._wide,
            brush=QColor(0, 0, 0, 0),
            pen=pg.mkPen(self._colours.ink, width=self._wide),
        )
        self._reading.setText(self._figure.reading_by(at_deg))

    def put_cursor(self, x: float) -> None:
        """Put the cursor at a place on the x axis."""
        if self._figure is None:
            return
        self._cursor.setPos(np.log10(x) if self._figure.x_axis.log and x > 0 else x)
        self._cursor.show()
        self._reading.setText(self._figure.reading_at(x))

    def move_cursor(self, steps: int) -> None:
        """Move the cursor by hundredths of what is seen, or by degrees of the crank."""
        if self._figure is None or self._figure.empty:
            return
        if self._figure.led is not None:
            self.put_by_crank(self._at_deg + steps)
            return
        low, high = self._plot.viewRange()[0]
        at = self._cursor.value() if self._cursor.isVisible() else (low + high) / 2
        at = min(max(at + steps * (high - low) / 100, low), high)
        self.put_cursor(float(10**at if self._figure.x_axis.log else at))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: D102
        super().resizeEvent(event)
        if self._figure is not None:
            self._dress(self._figure)

    def paint_on(self, painter: QPainter, box: QRectF) -> None:
        """Paint title, plot and facts on any device."""
        colours, size = self._colours, max(14.0, box.height() * 0.035)
        painter.fillRect(box, QColor(colours.paper))
        head = QRectF(box.left() + size, box.top(), box.width() - 2 * size, size * 1.6)
        title = self._figure.title if self._figure else ""
        ink.text(painter, head, title, ink.font(size, bold=True), colours.ink)
        facts = [line for line in self._facts.text().splitlines() if line]
        if self._figure is not None and self._figure.empty:
            facts = [self._figure.empty]
        foot = size * 1.3 * len(facts) + size * 0.4
        plot = QRectF(box.left(), head.bottom(), box.width(), box.height() - head.height() - foot)
        if self._figure is None or not self._figure.empty:
            self._graphics.render(
                painter, plot, self._graphics.rect(), Qt.AspectRatioMode.KeepAspectRatio
            )
        for i, fact in enumerate(facts):
            room = QRectF(head.left(), plot.bottom() + i * size * 1.3, head.width(), size * 1.3)
            ink.text(painter, room, fact, ink.font(size * 0.9), colours.ink)

    def csv(self) -> str:
        """Return the numbers of the figure."""
        return "" if self._figure is None else self._figure.csv()

    @property
    def _type_px(self) -> int:
        height = self.window().height() if self._far else ink.steady(self.window().height())
        return max(SMALLEST_TYPE, round(height * FIGURE_TYPE_SHARE))

    @property
    def _wide(self) -> int:
        """Width of the newest curve: two pixels, more on a screen that has more."""
        return max(2, round(self.window().height() / 400))

    @property
    def _narrow(self) -> int:
        """Width of all finer lines: a single pixel is not seen on a screen that has many."""
        return max(1, self._wide // 2)

    def _thin(self, colour: str, style: Qt.PenStyle = Qt.PenStyle.SolidLine) -> QPen:
        pen = QPen(QColor(colour), self._narrow, style)
        pen.setCosmetic(True)  # else its width would count in the figure's own units
        return pen

    def _dress(self, figure: Figure) -> None:
        """Set colours, type and axes."""
        shown = self._below in self._graphics.ci.items
        if figure.below is None and shown:
            self._graphics.removeItem(self._below)
        elif figure.below is not None and not shown:
            self._graphics.addItem(self._below, row=1, col=0)
        colours, size = self._colours, self._type_px
        wide = max(round(self.width() * FACTS_SHARE), LEAST_FACTS_EMS * size)
        self._facts.setFixedWidth(min(wide, FACTS_EMS * size))
        self._beside.setSpacing(size)
        layout = self.layout()
        assert layout is not None
        layout.setContentsMargins(size // 2, size // 4, size // 2, size // 4)
        self.setStyleSheet(
            f"FigureView, QLabel {{ background: {colours.paper}; color: {colours.ink}; }}"
        )
        self.setAutoFillBackground(True)
        self._title.setFont(ink.font(size * 1.5, bold=True))
        self._reading.setFont(ink.font(size * 1.15))
        self._facts.setFont(ink.font(size * 1.15))
        self._empty.setFont(ink.font(size * EMPTY_TYPE, bold=True))
        self._graphics.setBackground(colours.sheet)
        self._cursor.setPen(self._thin(colours.now))
        for plot, part in ((self._plot, figure), (self._below, figure.below or figure)):
            plot.showGrid(x=True, y=True, alpha=0.18)
            plot.setLogMode(x=part.x_axis.log, y=part.y_axis.log)
            plot.setMenuEnabled(False)
            plot.hideButtons()
            for side, axis in (("bottom", part.x_axis), ("left", part.y_axis)):
                item = plot.getAxis(side)
                item.setPen(pg.mkPen(colours.faint, width=self._narrow))
                item.setTextPen(colours.ink)
                item.setStyle(tickFont=ink.font(size))
                item.setTickDensity(PYQTGRAPH_TYPE / size)
                over = plot is self._plot and figure.below is not None  # shares the axis below it
                if side == "bottom":
                    item.setHeight(round(size * (0.6 if over else 3.0)))
                    item.setStyle(showValues=not over)
                else:
                    item.setWidth(round(size * 4.6))
                words = axis.unit if plot is self._below and side == "left" else axis.title
                high = self._graphics.height() * (1 - (BELOW_SHARE if figure.below else 0.0))
                fits = label_type(words, side, size, high)
                style = {"color": colours.ink, "font-size": f"{fits}px"}
                # Only both together never scale the ticks: switched off, the last scale would stay.
                item.setSIPrefixEnableRanges(())
                item.enableAutoSIPrefix(False)
                item.setTicks(log_ticks(part, side) if axis.log else None)
                item.setLabel(
                    "" if over and side == "bottom" else words, siPrefixEnableRanges=(), **style
                )
        self._below.setTitle(None)
        self._below.setFixedHeight(round(self._graphics.height() * BELOW_SHARE))

    def _draw(self, plot: pg.PlotItem, figure: Figure, prefix: str) -> None:
        wanted = {f"{prefix}{i}" for i in range(len(figure.curves))}
        for key in [key for key in self._items if self._belongs(key, prefix) and key not in wanted]:
            plot.removeItem(self._items.pop(key))
        for i, curve in enumerate(figure.curves):
            key = f"{prefix}{i}"
            if key not in self._items:
                self._items[key] = plot.plot()
            self._ink(self._items[key], curve)
        title = prefix and figure.title
        plot.setTitle(title or None, color=self._colours.ink, size=f"{self._type_px}px")

    @staticmethod
    def _belongs(key: str, prefix: str) -> bool:
        return key.startswith("below ") == bool(prefix)

    def _ink(self, item: pg.PlotDataItem, curve: Curve) -> None:
        full = self._colours.curves[curve.colour % len(self._colours.curves)]
        colour = QColor(faded(full, self._colours.sheet, curve.weight))
        points = curve.dash == "points"
        # A wide line with antialiasing costs a hundred times as much as either alone.
        width = self._wide if curve.weight >= 1.0 else self._narrow
        pen = None if points else QPen(colour, width, PEN_STYLES[curve.dash])
        if pen is not None:
            pen.setCosmetic(True)
        item.setData(
            curve.x,
            curve.y,
            pen=pen,
            symbol="o" if points else None,
            symbolSize=self._wide + 2,
            symbolPen=None,
            symbolBrush=colour if points else None,
            antialias=width == 1,
            connect="finite",
        )

    def _draw_lines(self, figure: Figure) -> None:
        for line in self._lines:
            self._plot.removeItem(line)
        self._make_headroom(figure)
        pen = self._thin(self._colours.target, Qt.PenStyle.DashLine)
        self._lines = labelled_lines(figure, pen, self._colours.ink, self._type_px)
        for line in self._lines:
            self._plot.addItem(line, ignoreBounds=True)

    def _make_headroom(self, figure: Figure) -> None:
        """Leave room above the curves for the labels of the lines, which else lie over them."""
        ends = [(np.nanmin(c.y), np.nanmax(c.y), c.x[0]) for c in figure.curves if len(c.y)]
        if not figure.lines or not ends:
            self._headroom.setData([], [])
            return
        low, high = min(end[0] for end in ends), max(end[1] for end in ends)
        self._headroom.setData([ends[0][2]], [high + HEADROOM * (high - low)])

    def _mouse_moved(self, at: QPointF) -> None:
        if self._figure is None or not self._plot.sceneBoundingRect().contains(at):
            return
        box = self._plot.getViewBox()
        led = self._figure.led
        if led is not None:
            self._lead_to(led, at)
            return
        x = box.mapSceneToView(at).x()
        self.put_cursor(float(10**x) if self._figure.x_axis.log else float(x))

    def _lead_to(self, led: Curve, at: QPointF) -> None:
        """Put the cursor on the point of the newest curve that is nearest to the mouse."""
        figure, box = self._figure, self._plot.getViewBox()
        if figure is None or led.at_deg is None:
            return
        here, (wide, high) = box.mapSceneToView(at), box.viewPixelSize()
        with np.errstate(divide="ignore", invalid="ignore"):
            x = np.log10(led.x) if figure.x_axis.log else led.x
            y = np.log10(led.y) if figure.y_axis.log else led.y
        away = np.hypot((x - here.x()) / wide, (y - here.y()) / high)
        if np.isfinite(away).any():
            self.put_by_crank(float(led.at_deg[np.nanargmin(away)]))


def _axes_of(figure: Figure) -> tuple[object, ...]:
    below = () if figure.below is None else (figure.below.x_axis, figure.below.y_axis)
    return (figure.x_axis, figure.y_axis, *below)


GROWS = QSizePolicy.Policy.Expanding
HINT = "Wheel, drag or Ctrl +/- to zoom, Ctrl 0 for all. Mouse or arrow keys read values."
