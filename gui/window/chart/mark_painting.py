"""How are the marks named over the stroke chart? None over another, long ones squeezed and cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from strokewise.gui.models.figures.chart import Chart, Flag
from strokewise.gui.models.palette import Palette
from strokewise.gui.window import ink

if TYPE_CHECKING:
    from strokewise.gui.window.chart.stroke_painting import Layout

MOST_OF_FLAGS = 0.3
"""A mark's name takes no more of the chart's width where others stand near, or it would hide
theirs."""
BESIDE = "◂"
"""Before the name of a mark whose line stands to the left of it."""
MARK_TYPE, LEAST_NAME, NAME_PAD = 0.9, 4.0, 6.0
"""Type of a mark's name and the least room for one, in heights of type; and pixels about it."""
FLAG_LINE_SHARE = 0.09
"""Width of thin lines, of the type: on a screen of many pixels one of them is not seen."""


def paint_marks(painter: QPainter, layout: Layout, chart: Chart, colours: Palette) -> None:
    """Paint each mark's line and name."""
    for flag in chart.marks:
        x = layout.x(flag.angle_deg)
        target = flag.kind == "target"
        style = Qt.PenStyle.SolidLine if target else Qt.PenStyle.DashLine
        line = QColor(colours.target if target else colours.faint)
        painter.setPen(QPen(line, max(2.0, layout.type_px * FLAG_LINE_SHARE), style))
        painter.drawLine(QPointF(x, layout.flags.bottom()), QPointF(x, layout.rows.bottom()))
    for name in mark_names(layout, chart.marks):
        type_ = ink.font(layout.type_px * MARK_TYPE, stretch=name.stretch)
        colour = colours.target if name.target else colours.faint
        ink.text(painter, name.room, name.words, type_, colour, ink.CENTRE)


@dataclass(frozen=True, slots=True)
class Name:
    """A mark's name where it is set; ``x`` is that of its line."""

    words: str
    room: QRectF
    stretch: int
    target: bool
    x: float


def mark_names(layout: Layout, marks: tuple[Flag, ...]) -> tuple[Name, ...]:
    """Return the names over the chart, the target's first.

    A name stands over its line. Where that of the same angle stands there already, it comes beside
    it, unless the same mark is named at its other turn. Two over each other could neither be read.
    """
    flags = layout.flags
    placed: list[Name] = []
    crowded: list[Flag] = []
    named: set[str] = set()
    for flag in sorted(marks, key=lambda flag: flag.kind != "target"):
        target, x = flag.kind == "target", layout.x(flag.angle_deg)
        others = (abs(layout.x(other.angle_deg) - x) for other in marks)
        alone = min((gap for gap in others if gap > layout.type_px), default=flags.width())
        words = f"▼ {flag.label}" if target else flag.label
        width, stretch = _set_name(words, max(flags.width() * MOST_OF_FLAGS, alone), layout)
        left = min(max(x - width / 2, flags.left()), flags.right() - width)
        room = QRectF(left, flags.top(), width, flags.height())
        if any(room.intersects(other.room) for other in placed):
            crowded.append(flag)
        else:
            placed.append(Name(words, room, stretch, target, x))
            named.add(flag.label)
    for flag in crowded:
        name = None if flag.label in named else _beside(layout, flag, placed)
        if name is not None:
            placed.append(name)
            named.add(flag.label)
    return tuple(placed)


def _beside(layout: Layout, flag: Flag, placed: list[Name]) -> Name | None:
    """Return the name of a mark beside what stands over its line, None where there is no room."""
    x, gap = layout.x(flag.angle_deg), layout.type_px * 0.5
    rights = [name.room.right() for name in placed if abs(name.x - x) < layout.type_px]
    if not rights:
        return None
    left = max(rights) + gap
    lefts = (name.room.left() - gap for name in placed if name.room.left() > left - gap)
    free = min(lefts, default=layout.flags.right()) - left
    if free < layout.type_px * LEAST_NAME:
        return None
    words = f"{BESIDE} {flag.label}"
    width, stretch = _set_name(words, free, layout)
    room = QRectF(left, layout.flags.top(), width, layout.flags.height())
    return Name(words, room, stretch, False, x)


def _set_name(words: str, most: float, layout: Layout) -> tuple[float, int]:
    """Return how wide a mark's name is set, and its stretch: squeezed before it is cut."""
    pixels = layout.type_px * MARK_TYPE
    stretch = max(ink.NARROWEST, ink.squeeze(words, pixels, most - NAME_PAD))
    return min(ink.width_of(words, ink.font(pixels, stretch=stretch)) + NAME_PAD, most), stretch
