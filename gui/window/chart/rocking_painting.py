"""How is the rocking guide drawn? How far each swing has gone, the next one, and its cautions."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from strokewise.analysis.tdc.rocking_guide import ROCKED_REACH_DEG, ROCKING_REACH_DEG
from strokewise.gui.models.palette import Palette
from strokewise.gui.models.turn.rocking import Rocking
from strokewise.gui.window import ink

HALF_SPAN_DEG = 120.0
"""How far the picture shows to either side of TDC."""
CAUTION_SHARE = 0.72
"""Type of the cautions against that of the instruction."""
LARGEST_INSTRUCTION, SMALLEST_INSTRUCTION = 1 / 14, 1 / 45
"""Type of the instruction, of the guide's height; between the two it takes what there is."""
GUIDE_LINE = 1.2
ROCK_HATCH_SHARE, ROCK_LINE_SHARE, ROCK_POINTER_SHARE = 0.5, 0.09, 0.75
"""Step of the hatching, width of its lines and size of the pointer, of half the bar's height."""


def paint_rocking(
    painter: QPainter, box: QRectF, rocking: Rocking, angle_deg: float | None, colours: Palette
) -> None:
    """Paint the rocking guide into the turn guide's box."""
    painter.fillRect(box, QColor(colours.sheet))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    pad = box.width() * 0.05
    inner = box.adjusted(pad, pad * 0.6, -pad, -pad * 0.6)
    unit = min(inner.height() / 13, inner.width() / 8)
    head = QRectF(inner.left(), inner.top(), inner.width(), unit)
    words = "Rock it, where its manual allows" if rocking.unstated else "Rock it by hand"
    type_ = ink.fitted(words, unit * 0.75, head.width(), bold=True)
    ink.text(painter, head, words, type_, colours.target)
    picture = QRectF(box.left(), head.bottom() + unit * 0.2, box.width(), unit * 2.3)
    _paint_reach(painter, picture, rocking, angle_deg, colours)
    row = QRectF(inner.left(), picture.bottom() + unit * 0.1, inner.width(), unit * 0.8)
    words = tally(rocking)
    ink.text(painter, row, words, ink.fitted(words, unit * 0.55, row.width()), colours.ink)
    foot = QRectF(inner.left(), row.bottom(), inner.width(), inner.bottom() - row.bottom())
    _paint_words(painter, foot, rocking, box.height(), colours)


def tally(rocking: Rocking) -> str:
    """Return what has been met so far, each way with its speed."""
    said = rocking.guidance
    parts = []
    for way, count, rpm in (
        ("on", said.forward, said.forward_rpm),
        ("back", said.backward, said.backward_rpm),
    ):
        parts.append(f"{way} {count}×" + (f" at {rpm:.0f} rev/min" if count else ""))
    return "turned " + ", ".join(parts)


def _paint_reach(
    painter: QPainter, box: QRectF, rocking: Rocking, angle_deg: float | None, colours: Palette
) -> None:
    """The way about TDC: reached so far, how far to go at the least and at the most, and now."""
    painter.fillRect(box, QColor(colours.paper))
    middle, scale = box.center().x(), box.width() / (2 * HALF_SPAN_DEG)
    line = box.top() + box.height() * 0.49
    thick = box.height() * 0.19
    for side, reached, words in (
        (-1, rocking.guidance.before_deg, "before"),
        (1, rocking.guidance.after_deg, "after"),
    ):
        least, most = (
            middle + side * ROCKING_REACH_DEG * scale,
            middle + side * ROCKED_REACH_DEG * scale,
        )
        goal = QRectF(QPointF(least, line - thick), QPointF(most, line + thick)).normalized()
        step = max(ink.HATCH_STEP, round(thick * ROCK_HATCH_SHARE))
        painter.fillRect(goal, ink.hatching(colours.paper, colours.ink, "rising", step))
        end = middle + side * min(max(reached, 0.0), HALF_SPAN_DEG) * scale
        done = QRectF(QPointF(middle, line - thick / 2), QPointF(end, line + thick / 2))
        painter.fillRect(done.normalized(), QColor(colours.target))
        painter.setPen(QPen(QColor(colours.ink), max(2.0, thick * ROCK_LINE_SHARE)))
        painter.drawLine(QPointF(least, line - thick), QPointF(least, line + thick))
        pad = box.width() * 0.015
        room = QRectF(0, box.bottom() - box.height() * 0.27, 0, box.height() * 0.25)
        room.setWidth(box.width() / 2 - 2 * pad)
        room.moveLeft(box.left() + pad)
        align = ink.LEFT if side < 0 else ink.RIGHT
        said = f"{words} TDC {max(reached, 0.0):.0f}° of {ROCKING_REACH_DEG:.0f}°"
        if side > 0:
            room.moveRight(box.right() - pad)
        type_ = ink.fitted(said, box.height() * 0.2, room.width())
        ink.text(painter, room, said, type_, colours.ink, align)
    painter.setPen(QPen(QColor(colours.ink), max(3.0, thick * 1.5 * ROCK_LINE_SHARE)))
    painter.drawLine(QPointF(middle, line - 1.5 * thick), QPointF(middle, line + thick))
    room = QRectF(middle - box.height(), box.top(), 2 * box.height(), box.height() * 0.22)
    type_ = ink.font(box.height() * 0.18, bold=True)
    ink.text(painter, room, "TDC", type_, colours.ink, ink.CENTRE)
    after = None if angle_deg is None else rocking.after_tdc_deg(angle_deg)
    if after is not None and abs(after) <= HALF_SPAN_DEG:
        # On the bar and not above it, where it would cover the word.
        at = QPointF(middle + after * scale, line - 0.35 * thick)
        _paint_now(painter, at, ROCK_POINTER_SHARE * thick, colours)


def _paint_now(painter: QPainter, at: QPointF, size: float, colours: Palette) -> None:
    """Where the crank stands."""
    painter.setPen(QPen(QColor(colours.paper), 1.5))
    painter.setBrush(QColor(colours.now))
    tip = QPointF(at.x(), at.y() + size * 0.9)
    painter.drawPolygon(
        QPolygonF(
            [QPointF(at.x() - size, at.y() - size), QPointF(at.x() + size, at.y() - size), tip]
        )
    )


def _paint_words(
    painter: QPainter, box: QRectF, rocking: Rocking, height: float, colours: Palette
) -> None:
    size, say, cautions = set_words(
        rocking.instruction, rocking.cautions, box.width(), box.height(), height
    )
    top = box.top()
    for lines, pixels, bold, colour in (
        (say, size, True, colours.ink),
        (cautions, size * CAUTION_SHARE, False, colours.warning),
    ):
        type_ = ink.font(pixels, bold=bold)
        for line in lines:
            room = QRectF(box.left(), top, box.width(), pixels * GUIDE_LINE)
            ink.text(painter, room, line, type_, colour)
            top += pixels * GUIDE_LINE
        top += size * 0.3


@lru_cache(maxsize=64)
def set_words(
    say: str, cautions: tuple[str, ...], width: float, room: float, height: float
) -> tuple[float, tuple[str, ...], list[str]]:
    """Return type and lines of the instruction and its cautions: the largest that all fits in."""
    size = height * LARGEST_INSTRUCTION
    while True:
        small = size * CAUTION_SHARE
        lines = ink.wrapped(say, ink.font(size, bold=True), width, 20)
        below = [
            line
            for text in cautions
            for line in ink.wrapped(f"• {text}.", ink.font(small), width, 20)
        ]
        needed = GUIDE_LINE * (size * len(lines) + small * len(below)) + 0.3 * size
        if needed <= room or size <= height * SMALLEST_INSTRUCTION:
            return size, lines, below
        size *= 0.95
