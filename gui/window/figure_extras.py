"""What stands in a figure beside its curves? The shade between two of them, and their names."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pyqtgraph as pg
from pyqtgraph.functions import arrayToQPath
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsPathItem

from strokewise.gui.models.figures.figure import Curve, Figure
from strokewise.gui.models.palette import Palette

SHADE_ALPHA, BEHIND = 0.25, -10
"""How strongly the difference to a healthy trace is shaded, and that all else lies over it."""
LEGEND_PLACE = (10, 10)
"""From the upper left corner of the plot, in pixels."""


class Shade(QGraphicsPathItem):
    """What lies between two curves; without an outline, which would be a third."""

    def __init__(self, plot: pg.PlotItem) -> None:
        super().__init__()
        self.setZValue(BEHIND)
        self.setPen(QPen(Qt.PenStyle.NoPen))
        plot.addItem(self, ignoreBounds=True)

    def show_figure(self, figure: Figure, colours: Palette) -> None:
        """Shade what the figure has shaded, or nothing."""
        path = QPainterPath()
        for outline in figure.shade:
            x, y = (
                np.log10(values) if axis.log else values
                for values, axis in zip(outline, (figure.x_axis, figure.y_axis), strict=True)
            )
            path = path.united(arrayToQPath(x, y))  # where two overlap it is no darker
        colour = QColor(colours.curves[1])
        colour.setAlphaF(SHADE_ALPHA)
        self.setBrush(colour)
        self.setPath(path)


class Legend:
    """The names of traces, each beside a piece of its line."""

    def __init__(self, plot: pg.PlotItem) -> None:
        self._plot = plot
        self._item: pg.LegendItem | None = None

    def show_figure(
        self,
        figure: Figure,
        colours: Palette,
        type_px: int,
        ink: Callable[[pg.PlotDataItem, Curve], None],
    ) -> None:
        """Name what the figure names, in its own type; ``ink`` gives a curve its pen."""
        if self._item is not None:
            self._item.scene().removeItem(self._item)
            self._item = None
        if not figure.legend:
            return
        self._item = pg.LegendItem(
            offset=LEGEND_PLACE, labelTextSize=f"{type_px}px", labelTextColor=colours.ink
        )
        self._item.setParentItem(self._plot.getViewBox())
        for curve in figure.legend:
            sample = pg.PlotDataItem()
            ink(sample, replace(curve, x=np.zeros(2), y=np.zeros(2)))
            self._item.addItem(sample, curve.name)
