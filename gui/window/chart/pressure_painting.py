"""How is the pressure under the strokes drawn? The last passes over each other, fading with age."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF
from shiboken6 import VoidPtr

from strokewise.gui.models.figures.trail import FloatArray, TrailStretch
from strokewise.gui.models.figures.units import PressureUnit, round_end
from strokewise.gui.models.palette import Palette, faded
from strokewise.gui.sayings.saying import signed
from strokewise.gui.window import ink

if TYPE_CHECKING:
    from strokewise.gui.window.chart.stroke_painting import Layout

SMALLEST_BAR = 5.0
"""The pressure axis is never drawn finer than this: noise would look like compression."""


class Ends(NamedTuple):
    """Both ends of the pressure axis, in the unit that is shown."""

    low: float
    top: float


def ends_of(stretches: tuple[TrailStretch, ...], unit: PressureUnit) -> Ends:
    """Return the ends of the axis that holds the curves."""
    highest = max([SMALLEST_BAR, *(float(s.pressure_bar.max()) for s in stretches)])
    lowest = min([0.0, *(float(s.pressure_bar.min()) for s in stretches)])
    return Ends(-round_end(-lowest * unit.per_bar), round_end(highest * unit.per_bar))


def paint_curves(
    painter: QPainter,
    layout: Layout,
    stretches: tuple[TrailStretch, ...],
    ends: Ends,
    unit: PressureUnit,
    colours: Palette,
) -> None:
    """Paint the pressure of the last passes, fading with age."""
    box, height = layout.pressure, _height(layout)
    top_bar, low_bar = ends.top / unit.per_bar, ends.low / unit.per_bar
    thin = max(1, round(layout.type_px / 22))
    for stretch in stretches:
        x = box.left() + stretch.x_deg / layout.span_deg * box.width()
        y = box.bottom() - (stretch.pressure_bar - low_bar) / (top_bar - low_bar) * height
        # A wide line with antialiasing costs a hundred times as much as either alone.
        newest = stretch.weight >= 1.0
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, not newest and thin == 1)
        colour = QColor(faded(colours.curves[0], colours.paper, stretch.weight))
        painter.setPen(QPen(colour, max(2.0, layout.type_px / 9) if newest else thin))
        painter.drawPolyline(_line(x, y))


def _height(layout: Layout) -> float:
    return layout.pressure.height() - layout.type_px * 0.3


def paint_scale(
    painter: QPainter, layout: Layout, ends: Ends, unit: PressureUnit, colours: Palette
) -> None:
    """Paint the axis and its figures, over curves and whatever of them ran out at its side."""
    box, height = layout.pressure, _height(layout)
    painter.setPen(QPen(QColor(colours.rule), 1))
    painter.drawLine(box.bottomLeft(), box.bottomRight())
    type_ = ink.font(layout.type_px * 0.9)
    left = QRectF(
        layout.box.left() + 2, 0, box.left() - layout.box.left() - 8, layout.type_px * 1.2
    )
    painter.fillRect(
        QRectF(layout.box.left(), box.top(), box.left() - layout.box.left() - 1, box.height()),
        QColor(colours.paper),
    )
    figures = ((1.0, f"{ends.top:g}"), (0.0, signed(f"{ends.low + 0.0:g}")))
    named = f"{unit.name} abs." if unit.calibrated else unit.name
    # One type for the figures; the unit's name is longer, and takes none of their height away.
    type_of_figures = min(
        (ink.unsqueezed(words, layout.type_px, left.width()) for _, words in figures),
        key=lambda each: each.pixelSize(),
    )
    type_of_name = ink.unsqueezed(named, layout.type_px, left.width())
    for share, words in (*figures, (0.5, named)):
        left.moveTop(box.bottom() - share * height - layout.type_px * (0.3 + 0.6 * (1 - share)))
        type_ = type_of_name if words is named else type_of_figures
        ink.text(painter, left, words, type_, colours.ink, ink.RIGHT)
    if not unit.calibrated:
        words = f"{unit.quantity} sensor: no pressure is stated"
        room = QRectF(box.left() + 4, box.top(), box.width() - 8, layout.type_px * 1.2)
        ink.text(painter, room, words, type_, colours.warning, ink.CENTRE)


def _line(x: FloatArray, y: FloatArray) -> QPolygonF:
    """Return points as Qt's: written into its memory, a hundred times as quick as one by one."""
    made = QPolygonF()
    made.resize(len(x))
    memory: Any = VoidPtr(made.data(), 16 * len(x), True)  # type: ignore[call-arg, arg-type]
    points = np.frombuffer(memory, np.float64).reshape(-1, 2)
    points[:, 0], points[:, 1] = x, y
    return made
