"""How is the stroke chart drawn? Each row is the way of its piston, filled with its strokes.

The upper edge of a row follows the piston: its crests are the TDCs, which the eye finds from across
the workshop before it has read a word.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QPainter,
    QPen,
    QPolygonF,
)

from strokewise.gui.models.figures.chart import Chart, Flag, StrokeRow
from strokewise.gui.models.figures.trail import TrailStretch
from strokewise.gui.models.figures.units import PressureUnit
from strokewise.gui.models.palette import Fill, Palette
from strokewise.gui.window import ink
from strokewise.gui.window.chart.mark_painting import paint_marks
from strokewise.gui.window.chart.pressure_painting import ends_of, paint_curves, paint_scale

PRESSURE_SHARE = 0.30
"""Of the height, for the pressure under the rows."""
PRESSURE_SHARE_OF_MANY = 0.2
MANY_ROWS = 8
"""With more rows than this the pressure gives some of its height to them."""
VALLEY = 0.72
"""A row at BDC is this much as high as at TDC: room for the word."""
FLAT_VALLEY = 0.84
FLAT_BELOW = 1.7
"""Rows lower than so many heights of type are drawn flat and without valve bars: else the words
would be too small to read."""
PAINTED_STEP_DEG = 6.0
BAR_SHARE = 0.085
"""Height of a valve's bar, of the row's."""
WORD_PAD = 0.5
"""Room beside a stroke's word, in heights of its type."""
LABEL_SHARE = 0.075
LEGEND_SHARE = 0.84
"""Type of what the signs mean, of the axis' type: as wide as its column lets it be."""
DOING_SHARE = 0.13
DOING_TYPE, DOING_PAD, LONGEST_DOING = 1.1, 1.1, "compression"
"""Type of what each cylinder does and the room beside it, of the axis' type, and its longest word:
the column is as wide, so that no row is squeezed beside one that is not."""
FONT_SHARE = 0.042
"""Type of axis and marks, of the chart's height."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the parts of the chart lie, in pixels."""

    box: QRectF
    rows: QRectF
    axis: QRectF
    pressure: QRectF
    flags: QRectF
    row_height: float
    type_px: float
    span_deg: float

    def x(self, angle_deg: float) -> float:
        """Return the pixel of an angle on the axis."""
        return self.rows.left() + angle_deg / self.span_deg * self.rows.width()

    def row(self, index: int) -> QRectF:
        """Return the box of a row."""
        top = self.rows.top() + index * self.row_height
        gap = self.row_height * 0.10
        return QRectF(self.rows.left(), top + gap / 2, self.rows.width(), self.row_height - gap)


def lay_out(box: QRectF, chart: Chart) -> Layout:
    """Return where everything lies in a box."""
    type_px = max(11.0, min(box.height() * FONT_SHARE, box.width() * 0.026))
    left = max(box.width() * LABEL_SHARE, type_px * 4.0)
    longest = ink.width_of(LONGEST_DOING, ink.font(type_px * DOING_TYPE))
    right = max(box.width() * DOING_SHARE, longest + type_px * DOING_PAD)
    flags = type_px * 1.5
    axis = type_px * 1.5
    many = len(chart.rows) > MANY_ROWS
    pressure = box.height() * (PRESSURE_SHARE_OF_MANY if many else PRESSURE_SHARE)
    rows = QRectF(
        box.left() + left,
        box.top() + flags,
        box.width() - left - right,
        max(20.0, box.height() - flags - axis - pressure - type_px * 0.4),
    )
    return Layout(
        box,
        rows,
        QRectF(rows.left(), rows.bottom(), rows.width(), axis),
        QRectF(rows.left(), rows.bottom() + axis, rows.width(), pressure),
        QRectF(rows.left(), box.top(), rows.width(), flags),
        rows.height() / max(1, len(chart.rows)),
        type_px,
        chart.span_deg,
    )


def paint_still(painter: QPainter, box: QRectF, chart: Chart, colours: Palette) -> None:
    """Paint what moves with the verdict alone: rows, blocks, valve bars, flags, axis."""
    painter.fillRect(box, QColor(colours.paper))
    layout = lay_out(box, chart)
    for index, row in enumerate(chart.rows):
        _paint_row(painter, layout, layout.row(index), row, colours)
    _paint_no_strokes(painter, layout, chart, colours)
    _paint_axis(painter, layout, chart, colours)
    _paint_legend(painter, layout, chart, colours)
    paint_marks(painter, layout, chart, colours)
    for index, row in enumerate(chart.rows):  # last, so that no line runs through a word
        _paint_row_words(painter, layout, layout.row(index), row, colours)


def paint_moving(
    painter: QPainter,
    box: QRectF,
    chart: Chart,
    stretches: tuple[TrailStretch, ...],
    unit: PressureUnit,
    colours: Palette,
    *,
    curves: bool = True,
) -> None:
    """Paint what moves with the crank: doings, pressure (or its scale alone), the now line."""
    layout, ends = lay_out(box, chart), ends_of(stretches, unit)
    for index, row in enumerate(chart.rows):
        _paint_doing(painter, layout, layout.row(index), row, colours)
    if curves:
        paint_curves(painter, layout, stretches, ends, unit, colours)
    paint_scale(painter, layout, ends, unit, colours)
    if chart.now_deg is not None:
        _paint_now(painter, layout, chart.now_deg, chart.ticks, colours)
        for index, row in enumerate(chart.rows):  # the words that the line would run through
            room = layout.row(index)
            _paint_row_words(painter, layout, room, row, colours, only_at=chart.now_deg)


def _paint_no_strokes(painter: QPainter, layout: Layout, chart: Chart, colours: Palette) -> None:
    """Say over the rows why they are empty, where they are: there neither rule nor line is met."""
    if any(row.blocks for row in chart.rows):
        return
    type_ = ink.fitted(chart.bare, layout.type_px * 1.1, layout.flags.width())
    ink.text(painter, layout.flags, chart.bare, type_, colours.faint, ink.LEFT)


def _height(angle_deg: np.ndarray, tdc_deg: float, valley: float) -> np.ndarray:
    """Piston height of a row, 1 at TDC, ``valley`` at BDC: a cosine will do for the eye."""
    return valley + (1 - valley) * 0.5 * (1 + np.cos(np.radians(angle_deg - tdc_deg)))


def _paint_row(
    painter: QPainter, layout: Layout, box: QRectF, row: StrokeRow, colours: Palette
) -> None:
    number = QRectF(
        layout.box.left(), box.top(), layout.rows.left() - layout.box.left(), box.height()
    )
    size = min(box.height() * 0.86, layout.type_px * 2.6)
    room = number.adjusted(layout.type_px * 0.4, 0, -layout.type_px * 0.5, 0)
    ink.text(painter, room, row.label, ink.font(size, bold=True), colours.ink, ink.RIGHT)
    if row.sensed:
        _paint_sensor(
            painter, QPointF(room.left() + size * 0.25, box.center().y()), size * 0.2, colours
        )
    if not row.blocks:
        painter.setPen(QPen(QColor(colours.rule), 1))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        return
    tdc = next((flag.angle_deg for flag in row.flags), 0.0)
    flat = layout.row_height < FLAT_BELOW * layout.type_px
    bars = () if flat else row.bars
    valley = FLAT_VALLEY if flat else VALLEY
    scale = layout.type_px / 22
    for block in row.blocks:
        angles = np.unique(
            np.append(np.arange(block.start_deg, block.end_deg, PAINTED_STEP_DEG), block.end_deg)
        )
        tops = box.bottom() - box.height() * _height(angles, tdc, valley)
        edge = [
            QPointF(layout.x(a), y) for a, y in zip(angles.tolist(), tops.tolist(), strict=True)
        ]
        outline = QPolygonF(
            [*edge, QPointF(edge[-1].x(), box.bottom()), QPointF(edge[0].x(), box.bottom())]
        )
        fill = colours.strokes[block.kind]
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(colours.paper), max(1.0, scale)))
        painter.setBrush(ink.brush(fill, scale))
        painter.drawPolygon(outline)
    for bar in bars:
        _paint_bar(painter, layout, box, bar.start_deg, bar.end_deg, bar.valve, colours)
    for flag in row.flags:
        _paint_flag(painter, layout, box, flag, colours)


def _paint_row_words(
    painter: QPainter,
    layout: Layout,
    box: QRectF,
    row: StrokeRow,
    colours: Palette,
    *,
    only_at: float | None = None,
) -> None:
    flat = layout.row_height < FLAT_BELOW * layout.type_px
    valley, over_bars = FLAT_VALLEY if flat else VALLEY, bool(row.bars) and not flat
    if not row.blocks:
        return
    foot = 2 * box.height() * BAR_SHARE + 2 if over_bars else 0.0
    free = box.height() * valley - foot
    size = min(free * (0.82 if over_bars else 0.78), layout.type_px * 1.25)
    # One type for all: a word squeezed beside one that is not looks like another voice.
    longest = max((b.label for b in row.blocks), key=lambda w: ink.width_of(w, ink.font(size)))
    widest = max(layout.x(b.end_deg) - layout.x(b.start_deg) for b in row.blocks)
    free_wide = widest - size * WORD_PAD
    smaller = ink.unsqueezed(longest, size, free_wide).pixelSize()  # before it is squeezed
    type_ = ink.fitted(longest, max(smaller, ink.SHRINKS_TO * size), free_wide)
    for block in row.blocks:
        if only_at is not None and not block.start_deg <= only_at <= block.end_deg:
            continue
        ends = layout.x(block.start_deg), layout.x(block.end_deg)
        fill = colours.strokes[block.kind]
        level = box.bottom() - foot - free * 0.52
        _paint_word(painter, level, block.label, ends, fill, type_, size)


def _paint_word(
    painter: QPainter,
    level: float,
    word: str,
    ends: tuple[float, float],
    fill: Fill,
    type_: QFont,
    size: float,
) -> None:
    """Set a stroke's word about a level, in its type, narrower only where the stroke is cut off."""
    width = ends[1] - ends[0] - size * WORD_PAD
    if width < size * 1.2:
        return
    if ink.width_of(word, type_) > width:
        type_ = ink.fitted(word, size, width)
    if type_.pixelSize() < 9:
        return
    taken = min(width, ink.width_of(word, type_) + size * WORD_PAD)
    room = QRectF(0, 0, taken, type_.pixelSize() * 1.25)
    room.moveCenter(QPointF(sum(ends) / 2, level))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(fill.colour))  # the word stands on plain colour, not on the hatching
    painter.drawRoundedRect(room, size * 0.2, size * 0.2)
    ink.text(painter, room, word, type_, fill.ink, ink.CENTRE)


def _paint_sensor(painter: QPainter, at: QPointF, radius: float, colours: Palette) -> None:
    """A ring with a dot: the pressure sensor sits in this cylinder."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(colours.ink), max(1.5, radius * 0.3)))
    painter.drawEllipse(at, radius, radius)
    painter.setBrush(QColor(colours.ink))
    painter.drawEllipse(at, radius * 0.3, radius * 0.3)


def _paint_bar(
    painter: QPainter,
    layout: Layout,
    box: QRectF,
    start: float,
    end: float,
    valve: str,
    colours: Palette,
) -> None:
    """A valve-open span along the foot of the row: inlet a full bar, exhaust a hollow one."""
    thick = max(3.0, box.height() * BAR_SHARE)
    level = box.bottom() - thick if valve == "inlet" else box.bottom() - 2 * thick - 1
    room = QRectF(layout.x(start), level, layout.x(end) - layout.x(start), thick)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    ink_colour = QColor("#0B3C5D" if valve == "inlet" else "#3A3222")
    painter.setPen(QPen(ink_colour, 1))
    painter.setBrush(QBrush(ink_colour) if valve == "inlet" else QBrush(QColor("#FFFFFF")))
    painter.drawRect(room)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)


def _paint_flag(
    painter: QPainter, layout: Layout, box: QRectF, flag: Flag, colours: Palette
) -> None:
    """A TDC: a full wedge for firing, a hollow one for overlap, a half one while it is open."""
    size = min(layout.type_px * 0.5, box.height() * 0.24)
    x = layout.x(flag.angle_deg)
    top = box.top()
    wedge = QPolygonF(
        [
            QPointF(x - size * 0.7, top - size * 0.3),
            QPointF(x + size * 0.7, top - size * 0.3),
            QPointF(x, top + size),
        ]
    )
    painter.setPen(QPen(QColor(colours.ink), 1.5))
    full = QColor(colours.ink) if flag.kind == "firing" else QColor(colours.paper)
    painter.setBrush(full)
    painter.drawPolygon(wedge)
    if flag.angle_deg < PAINTED_STEP_DEG:  # a TDC at the axis' start is its end as well
        painter.drawPolygon(wedge.translated(layout.rows.width(), 0))


def _paint_axis(painter: QPainter, layout: Layout, chart: Chart, colours: Palette) -> None:
    type_ = ink.font(layout.type_px)
    for angle, label in chart.ticks:
        x = layout.x(angle)
        painter.setPen(QPen(ink.translucent(colours.rule, 0.9), max(1.0, layout.type_px / 22)))
        painter.drawLine(QPointF(x, layout.axis.top()), QPointF(x, layout.pressure.bottom()))
        words = f"{label}°"
        pad = ink.width_of(words, type_) / 2 + 4
        room = QRectF(x - pad, layout.axis.top() + 1, 2 * pad, layout.axis.height())
        ground = QRectF(x - pad, room.top() + 2, 2 * pad, room.height() - 4)
        painter.fillRect(ground, QColor(colours.paper))
        ink.text(painter, room, words, type_, colours.ink, ink.CENTRE)


def _shows_bars(layout: Layout, chart: Chart) -> bool:
    high = layout.row_height >= FLAT_BELOW * layout.type_px
    return high and any(row.bars for row in chart.rows)


def _paint_legend(painter: QPainter, layout: Layout, chart: Chart, colours: Palette) -> None:
    """Say what the signs mean, beside the pressure, where there is room."""
    size = layout.type_px * LEGEND_SHARE
    left = layout.rows.right() + layout.type_px * 0.5
    right = layout.box.right() - layout.type_px * 0.3
    room = QRectF(left, layout.pressure.top(), right - left, size * 1.45)
    lines: list[str] = []
    kinds = {flag.kind for row in chart.rows for flag in row.flags}
    lines += ["▼ firing TDC"] if "firing" in kinds else []
    lines += ["▽ overlap TDC"] if "overlap" in kinds else []
    lines += ["▽ TDC"] if "tdc" in kinds else []
    lines += ["▬ inlet open", "▭ exhaust open"] if _shows_bars(layout, chart) else []
    lines += ["⊙ sensor"] if any(row.sensed for row in chart.rows) else []
    longest = max(lines, key=lambda line: ink.width_of(line, ink.font(size)), default="")
    type_ = ink.fitted(longest, size, room.width())  # one for all, or each line had its own voice
    for line in lines:
        ink.text(painter, room, line, type_, colours.faint)
        room.translate(0, size * 1.45)


def _paint_doing(
    painter: QPainter, layout: Layout, box: QRectF, row: StrokeRow, colours: Palette
) -> None:
    left = layout.rows.right() + layout.type_px * 0.4
    room = QRectF(left, box.top(), layout.box.right() - left - layout.type_px * 0.3, box.height())
    size = min(layout.type_px * DOING_TYPE, box.height() * 0.8)
    if row.firing_now:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        fill = colours.strokes["power"]
        painter.setPen(QPen(QColor(colours.ink), 2))
        painter.setBrush(QColor(fill.colour))
        painter.drawRoundedRect(room.adjusted(-2, 1, 2, -1), size * 0.25, size * 0.25)
    colour = colours.strokes["power"].ink if row.firing_now else colours.ink
    type_ = ink.fitted(row.doing, size, room.width() - 6, bold=row.firing_now)
    ink.text(painter, room.adjusted(3, 0, -3, 0), row.doing, type_, colour)


def _paint_now(
    painter: QPainter,
    layout: Layout,
    now_deg: float,
    ticks: tuple[tuple[float, str], ...],
    colours: Palette,
) -> None:
    x = layout.x(now_deg)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(colours.paper), max(5.0, layout.type_px * 0.3)))
    ends = QPointF(x, layout.rows.top()), QPointF(x, layout.pressure.bottom())
    painter.drawLine(*ends)
    painter.setPen(QPen(QColor(colours.now), max(3.0, layout.type_px * 0.16)))
    painter.drawLine(*ends)
    type_ = ink.font(layout.type_px, bold=True)
    words = f"{now_deg:.0f}°"
    width = ink.width_of(words, type_) + layout.type_px * 0.6
    room = QRectF(0, layout.axis.top() + 1, width, layout.axis.height() - 2)
    room.moveLeft(min(max(x - width / 2, layout.box.left()), layout.box.right() - width))
    for angle, label in ticks:  # a tick's label half covered could be misread
        half = ink.width_of(f"{label}°", ink.font(layout.type_px)) / 2 + 4
        tick = QRectF(layout.x(angle) - half, room.top(), 2 * half, room.height())
        if tick.intersects(room):
            painter.fillRect(tick, QColor(colours.paper))
    painter.setBrush(QColor(colours.now))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.drawRoundedRect(room, 3, 3)
    ink.text(painter, room, words, type_, colours.paper, ink.CENTRE)
